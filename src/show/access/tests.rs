//! access.toml read, judged and edited.

use std::net::IpAddr;

use super::*;
use crate::show::Code;

const HASH: &str = "sha256:66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925";

fn access(text: &str) -> Access {
    let reading = read_text(text.into());
    reading.access.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.findings))
}

/// Code, line and column of each finding.
fn findings(text: &str) -> Vec<(Code, u32, u32)> {
    let reading = read_text(text.into());
    let place = |finding: &crate::show::Finding| reading.sources.line_column(finding.place.expect("a place"));
    reading.findings.iter().map(|finding| (finding.code, place(finding).0, place(finding).1)).collect()
}

fn address(text: &str) -> IpAddr {
    text.parse().expect("an address")
}

fn secret(seed: u8) -> Secret {
    Secret::new([seed; 32])
}

#[test]
fn a_whole_file_is_read() {
    let text = format!(
        "trust_loopback = false\nhosts = [\"Bellwire.local:80\", \"[fd00::1]\"]\n\
         [[token]]\nname = \"tablet\"\nrole = \"operator\"\nhash = \"{HASH}\"\n\
         [[sender]]\nname = \"desk\"\naddress = \"10.0.0.7\"\nrole = \"caller\"\n\
         [limits]\nclients = 12\nconnections = 3\nrequests = 20\n"
    );
    let access = access(&text);
    assert!(access.written && !access.trust_loopback);
    assert_eq!(access.hosts, ["bellwire.local:80", "[fd00::1]"]);
    assert_eq!(access.limits, Limits { clients: 12, connections: 3, requests: 20 });
    assert_eq!(
        access.token(&secret(0)).map(|token| (token.name.as_str(), token.role)),
        Some(("tablet", Role::Operator))
    );
    assert_eq!(access.token(&secret(1)), None);
    assert_eq!(access.sender(address("10.0.0.7")).map(|sender| sender.role), Some(Role::Caller));
}

#[test]
fn an_empty_file_lets_in_this_machine_alone() {
    let access = access("");
    assert_eq!(access, Access { written: true, ..Access::default() });
    assert!(access.trusts(address("127.0.0.1")) && access.trusts(address("::1")));
    assert!(access.trusts(address("::ffff:127.0.0.2")), "IPv4 through an IPv6 socket");
    assert!(!access.trusts(address("10.0.0.7")) && !access.lets_somebody_in());
}

#[test]
fn loopback_is_trusted_only_where_the_file_lets_it() {
    assert!(!access("trust_loopback = false").trusts(address("127.0.0.1")));
}

#[test]
fn the_narrowest_network_says_who_a_sender_is() {
    let sender = |name, address, role| {
        format!("[[sender]]\nname = \"{name}\"\naddress = \"{address}\"\nrole = \"{role}\"\n")
    };
    let text = sender("all", "10.0.0.0/8", "observer") + &sender("desk", "10.0.0.7", "caller");
    let access = access(&(text + &sender("booth", "10.0.0.0/24", "observer")));
    let name = |from: &str| access.sender(address(from)).map(|sender| sender.name.as_str());
    assert_eq!(name("10.0.0.7"), Some("desk"));
    assert_eq!(name("10.0.0.8"), Some("booth"));
    assert_eq!(name("10.1.0.7"), Some("all"));
    assert_eq!(name("11.0.0.7"), None);
}

#[test]
fn every_mistake_is_found_where_it_stands() {
    let cases = [
        ("rolle = 1\n", Code::UnknownKey, 1, 1),
        ("[[token]]\nname = \"a\"\nrole = \"chief\"\nhash = \"HASH\"\n", Code::BadValue, 3, 8),
        ("[[token]]\nname = \"a\"\nrole = \"caller\"\nhash = \"sha256:12\"\n", Code::BadValue, 4, 8),
        ("[[sender]]\nname = \"a\"\naddress = \"desk\"\nrole = \"caller\"\n", Code::BadValue, 3, 11),
        ("[[sender]]\nname = \"a\"\naddress = \"10.0.0.7/24\"\nrole = \"caller\"\n", Code::BadValue, 3, 11),
        ("[[sender]]\nname = \"a\"\naddress = \"10.0.0.7\"\nrole = \"operator\"\n", Code::BadValue, 4, 8),
        ("hosts = [\"ok.local\", \"http://no\"]\n", Code::BadValue, 1, 22),
        ("[limits]\nclients = 0\n", Code::BadValue, 2, 11),
        ("[limits]\nclients = 12 13\n", Code::Syntax, 2, 11),
        ("trust_loopback = \"no\"\n", Code::BadValue, 1, 18),
    ];
    for (text, code, line, column) in cases {
        assert_eq!(findings(&text.replace("HASH", HASH)), [(code, line, column)], "{text}");
    }
}

#[test]
fn a_name_stands_for_one_entry() {
    let text = format!(
        "[[token]]\nname = \"desk\"\nrole = \"caller\"\nhash = \"{HASH}\"\n\
         [[sender]]\nname = \"desk\"\naddress = \"10.0.0.7\"\nrole = \"caller\"\n"
    );
    assert_eq!(findings(&text), [(Code::DuplicateName, 6, 8)]);
}

#[test]
fn a_token_in_place_of_its_hash_is_neither_taken_nor_told() {
    let text = format!("[[token]]\nname = \"a\"\nrole = \"caller\"\nhash = \"{}\"\n", secret(0xab).text());
    let reading = read_text(text);
    let [finding] = &reading.findings[..] else { panic!("{:#?}", reading.findings) };
    let said = format!("{} {}", finding.message, finding.fix.as_deref().unwrap_or_default());
    assert!(said.contains("no secret any more") && !said.contains("abab"), "{said}");
}

#[test]
fn adding_and_removing_keeps_what_people_wrote() {
    let written = "# ours\n[limits]\nrequests = 50 # enough\n\n[[token]] # the old tablet\nname = \"old\"\nrole = \"observer\"\n";
    let written = format!("{written}hash = \"{HASH}\"\n");
    let added = add_token(&written, "prompt tablet", Role::Operator, &secret(3).hash()).expect("added");
    assert!(added.starts_with(&written), "{added}");
    let added =
        add_sender(&added, "desk", Role::Caller, &"10.0.0.0/24".parse().expect("a network")).expect("added");
    let both = access(&added);
    assert_eq!(both.token(&secret(3)).map(|token| token.role), Some(Role::Operator));
    assert_eq!(both.sender(address("10.0.0.9")).map(|sender| sender.name.as_str()), Some("desk"));
    let back = remove(&remove(&added, "desk").expect("removed"), "prompt tablet").expect("removed");
    assert_eq!(back, written);
}

#[test]
fn a_new_file_says_what_it_is_for() {
    let text = add_token("", "tablet", Role::Caller, &secret(4).hash()).expect("added");
    assert!(text.starts_with("# Who is let in"), "{text}");
    assert_eq!(access(&text).tokens.len(), 1);
}

#[test]
fn a_name_is_neither_given_twice_nor_removed_in_vain() {
    let text = add_token("", "tablet", Role::Caller, &secret(4).hash()).expect("added");
    let again = add_sender(&text, "tablet", Role::Caller, &"10.0.0.7".parse().expect("a network"));
    assert_eq!(again, Err(EditError::NameTaken { name: "tablet".into() }));
    let missing = remove(&text, "tabled").expect_err("no such name").to_string();
    assert!(missing.contains("'tabled'") && missing.contains("there are: tablet"), "{missing}");
    assert!(matches!(remove("a = ", "x"), Err(EditError::Form(_))));
}
