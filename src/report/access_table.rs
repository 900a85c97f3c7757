//! Who is let in, for people.

use comfy_table::{Table, presets};

use crate::show::access::Access;

/// One line an entry, then what holds without any.
pub fn access_table(access: &Access) -> String {
    let mut text = String::new();
    if access.lets_somebody_in() {
        let mut table = Table::new();
        table.load_style(presets::NOTHING);
        table.set_header(["name", "role", "by"]);
        for token in &access.tokens {
            table.add_row([token.name.as_str(), token.role.word(), "token"]);
        }
        for sender in &access.senders {
            table.add_row([sender.name.as_str(), sender.role.word(), &format!("OSC from {}", sender.network)]);
        }
        text = format!("{}\n\n", table.trim_fmt());
    }
    let local = if access.trust_loopback {
        "this machine is let in without a token: operator, and caller over OSC\n"
    } else {
        "this machine is let in by token and entry like any other (trust_loopback = false)\n"
    };
    text + local + "the stop is taken from anyone\n"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::access::{Role, Secret, add_sender, add_token, read_text};

    #[test]
    fn it_says_who_is_let_in_and_that_the_stop_is_free() {
        let text = add_sender("", "desk", Role::Caller, &"10.0.0.0/24".parse().expect("a network")).expect("added");
        let text = add_token(&text, "tablet", Role::Operator, &Secret::new([1; 32]).hash()).expect("added");
        let listed = access_table(&read_text(text).access.expect("read"));
        assert!(listed.contains("OSC from 10.0.0.0/24") && listed.contains("operator"), "{listed}");
        assert!(listed.contains("the stop is taken from anyone") && !listed.contains("sha256"), "{listed}");
    }
}
