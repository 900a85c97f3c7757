//! The table from fault to reaction, for people and for scripts.

use serde_json::{Value, json};

use super::lines::wrapped;
use crate::engine::{FaultKind, Reaction, Rule};

/// Every fault under what is done about it, the mildest first.
pub fn fault_table() -> String {
    let mut text = String::new();
    let mut above: Option<Reaction> = None;
    for kind in FaultKind::ALL {
        let Rule { reaction, clears } = kind.rule();
        if above.replace(reaction) != Some(reaction) {
            let gap = if text.is_empty() { "" } else { "\n" };
            text += &format!("{gap}{}", wrapped(&format!("{}: ", reaction.word().to_uppercase()), reaction.done()));
        }
        text += &wrapped(&format!("  {:<16}", kind.word()), kind.seen());
        text += &wrapped(&format!("  {:<16}", ""), &format!("-> {}", clears.how()));
    }
    text += "\n";
    let last = "Of several faults at once the worst reaction wins. Nothing goes on by itself after any of them, and a \
                rig that was without power takes hold where it is measured.";
    text += &wrapped("", last);
    text
}

/// `[{ "fault", "seen", "reaction", "done", "clears" }]`, in the same order.
pub fn fault_json() -> Value {
    let row = |kind: FaultKind| {
        let Rule { reaction, clears } = kind.rule();
        json!({
            "fault": kind.word(),
            "seen": kind.seen(),
            "reaction": reaction.word(),
            "done": reaction.done(),
            "clears": clears.how(),
        })
    };
    FaultKind::ALL.map(row).into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::lines::COLUMNS;

    #[test]
    fn it_fits_the_screen_and_leaves_none_out() {
        let text = fault_table();
        assert!(text.lines().all(|line| line.chars().count() <= COLUMNS), "{text}");
        for kind in FaultKind::ALL {
            assert!(text.lines().any(|line| line.starts_with(&format!("  {} ", kind.word()))), "{kind:?}\n{text}");
        }
    }
}
