//! Cues as people call them, several at once.

use super::id::CueId;
use super::list::{Aim, AimedAt};
use super::model::Show;

impl Show {
    /// "aimed at skiff"; "aimed at [0.5, 1, 2]".
    pub fn aimed(&self, aim: &Aim) -> String {
        let focus = if aim.focus.is_some() { " and focused on it" } else { "" };
        match aim.at {
            AimedAt::Point(point) => format!("aimed at [{}, {}, {}]{focus}", point.x, point.y, point.z),
            AimedAt::Body { rig, .. } => format!("aimed at {}{focus}", self.rig(rig).name),
        }
    }

    /// "cue 12", or "cues 1 to 5, 7 and 12.5": neighbours of the list in one.
    pub fn called(&self, cues: &[CueId]) -> String {
        let mut runs: Vec<[CueId; 2]> = Vec::new();
        for &cue in cues {
            match runs.last_mut() {
                Some([_, last]) if last.index() + 1 == cue.index() => *last = cue,
                Some(_) | None => runs.push([cue, cue]),
            }
        }
        let mut told: Vec<String> = Vec::new();
        for [first, last] in runs {
            match last.index() - first.index() {
                0 => told.push(self.number_of(first)),
                1 => told.extend([first, last].map(|cue| self.number_of(cue))),
                _ => told.push(format!("{} to {}", self.number_of(first), self.number_of(last))),
            }
        }
        let word = if cues.len() == 1 { "cue" } else { "cues" };
        match told.split_last() {
            Some((last, [_, ..])) => format!("{word} {} and {last}", told[..told.len() - 1].join(", ")),
            Some((only, [])) => format!("{word} {only}"),
            None => "no cue".into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::read;

    #[test]
    fn neighbours_are_called_in_one() {
        let demo = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-show");
        let show = read(&demo).show.expect("the demo show reads well");
        let called = |cues: &[usize]| show.called(&cues.iter().map(|&cue| CueId::new(cue)).collect::<Vec<_>>());
        assert_eq!(called(&[]), "no cue");
        assert_eq!(called(&[2]), "cue 3");
        assert_eq!(called(&[0, 1]), "cues 1 and 2");
        assert_eq!(called(&[0, 1, 2, 4, 6]), "cues 1 to 3, 5 and 7");
        assert_eq!(called(&[0, 1, 2]), "cues 1 to 3");
    }
}
