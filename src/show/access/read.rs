//! From access.toml to who is let in.

use std::collections::BTreeMap;
use std::path::Path;

use super::{
    ACCESS_FILE, Access, AccessFile, Limits, Network, NetworkError, Role, Sender, Token, TokenHash, written,
};
use crate::show::decode::{At, Found, Text, Title};
use crate::show::finding::{Code, Finding, Severity};
use crate::show::source::{Place, Source, Sources};
use crate::show::{folder, read};

/// What reading access.toml gave: all findings of one run, and whom it lets in if none of them is an error.
#[derive(Clone, Debug)]
pub struct AccessReading {
    pub access: Option<Access>,
    pub findings: Vec<Finding>,
    pub sources: Sources,
}

impl AccessReading {
    /// The file as it stands; empty if there is none.
    pub fn text(&self) -> &str {
        self.sources.files.first().map_or("", |source| source.text.as_str())
    }
}

/// Reads the access.toml of a show folder, strictly. None at all is no mistake: then only this machine is let in.
pub fn read_access(show: &Path) -> AccessReading {
    match folder::load_beside(show, ACCESS_FILE) {
        Ok(None) => {
            AccessReading { access: Some(Access::default()), findings: Vec::new(), sources: Sources::default() }
        }
        Ok(Some(text)) => read_text(text),
        Err(why) => {
            let sources = Sources { files: vec![Source { path: ACCESS_FILE.into(), text: String::new() }] };
            let message = format!("{ACCESS_FILE} cannot be read: {why}");
            let fix =
                "it says who is let in, so nothing is guessed: make it a text file that may be read, or remove it";
            let finding = Finding::new(Code::Syntax, message).at(Place::default()).fix(fix);
            AccessReading { access: None, findings: vec![finding], sources }
        }
    }
}

/// Reads the text of an access.toml.
pub fn read_text(text: String) -> AccessReading {
    let mut found = Found::default();
    let (file, _) = read::parse::<AccessFile>(&text, Place::default(), false, &mut found);
    let access = resolve(&file, &mut found);
    let sources = Sources { files: vec![Source { path: ACCESS_FILE.into(), text }] };
    let findings = read::drop_echoes(found.finish(), &sources);
    let sound = findings.iter().all(|finding| finding.severity != Severity::Error);
    AccessReading { access: sound.then_some(access), findings, sources }
}

fn resolve(file: &AccessFile, found: &mut Found) -> Access {
    let tokens: Vec<&At<written::Token>> = file.tokens.iter().flatten().collect();
    let senders: Vec<&At<written::Sender>> = file.senders.iter().flatten().collect();
    let of_tokens = tokens.iter().map(|token| &token.value.name);
    once(of_tokens.chain(senders.iter().map(|sender| &sender.value.name)), found);
    let defaults = Limits::default();
    let limits = file.limits.as_ref();
    // The ranges are those of the written numbers, so none of these cuts anything but decimals.
    let limit = |written: Option<f64>, default: u32| written.map_or(default, |value| value as u32);
    Access {
        written: true,
        trust_loopback: file.trust_loopback.unwrap_or(true),
        hosts: file.hosts.iter().flatten().filter_map(|host| host_name(host, found)).collect(),
        tokens: tokens.iter().filter_map(|token| token_of(&token.value, found)).collect(),
        senders: senders.iter().filter_map(|sender| sender_of(&sender.value, found)).collect(),
        limits: Limits {
            clients: limit(limits.and_then(|l| l.clients).map(|n| n.0), defaults.clients),
            connections: limit(limits.and_then(|l| l.connections).map(|n| n.0), defaults.connections),
            requests: limit(limits.and_then(|l| l.requests).map(|n| n.0), defaults.requests),
        },
    }
}

/// A name is removed by its name, so it has to be the only one.
fn once<'a>(names: impl Iterator<Item = &'a At<Title>>, found: &mut Found) {
    let mut seen: BTreeMap<&str, Place> = BTreeMap::new();
    for name in names.filter(|name| !name.value.0.is_empty()) {
        match seen.get(name.value.0.as_str()) {
            Some(first) => found.duplicate("entries named", &name.value.0, name.place, *first),
            None => {
                seen.insert(&name.value.0, name.place);
            }
        }
    }
}

fn token_of(token: &written::Token, found: &mut Found) -> Option<Token> {
    let text = &token.hash.value.0;
    let Some(hash) = TokenHash::parse(text) else {
        // A value that could not be read, or is not there, has been reported already.
        if !found.spoilt(token.hash.place) {
            let message = format!("`hash`: expected \"sha256:\" and 64 hexadecimal digits, found {}", shape(text));
            let fix = match super::Secret::parse(text) {
                Ok(_) => {
                    "if that is the token itself it is no secret any more: remove the entry and make another with \
                          `bellwire access SHOW add NAME --role ROLE`"
                }
                Err(_) => "make one with `bellwire access SHOW add NAME --role ROLE`, which writes it here",
            };
            found.push(Finding::new(Code::BadValue, message).at(token.hash.place).fix(fix));
        }
        return None;
    };
    Some(Token { name: token.name.value.0.clone(), role: token.role, hash })
}

/// Never the value: it may be a token.
fn shape(text: &str) -> String {
    match text.strip_prefix("sha256:") {
        Some(rest) => format!("\"sha256:\" and {} other characters", rest.chars().count()),
        None => format!("a text of {} characters without \"sha256:\"", text.chars().count()),
    }
}

fn sender_of(sender: &written::Sender, found: &mut Found) -> Option<Sender> {
    let At { value: role, place } = sender.role;
    if role == Role::Operator {
        let message = "`role`: expected \"observer\" or \"caller\" for a sender of OSC, found \"operator\"";
        let fix = "write \"caller\": arm, disarm, reset, master and reload are never taken over OSC; a panel or the \
                   command line with an operator's token takes them";
        found.push(Finding::new(Code::BadValue, message).at(place).fix(fix));
    }
    let address = &sender.address;
    let network: Result<Network, NetworkError> = address.value.0.parse();
    match network {
        Ok(network) => Some(Sender { name: sender.name.value.0.clone(), role, network }),
        Err(why) => {
            report(
                address,
                &format!("{why}; found `{}`", address.value.0),
                "write it without a port or a name",
                found,
            );
            None
        }
    }
}

/// A name as a Host header gives it.
fn host_name(host: &At<Text>, found: &mut Found) -> Option<String> {
    let text = host.value.0.to_ascii_lowercase();
    let (name, port) = match text.rsplit_once(':') {
        Some((name, port)) if !name.contains(':') || name.ends_with(']') => (name, Some(port)),
        Some(_) | None => (text.as_str(), None),
    };
    let bare = name.strip_prefix('[').and_then(|name| name.strip_suffix(']')).unwrap_or(name);
    let plain =
        |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_alphanumeric() || b"-.:".contains(&b));
    if plain(bare) && port.is_none_or(|port| port.parse::<u16>().is_ok()) {
        return Some(text);
    }
    let message =
        format!("expected a name such as \"bellwire.local\", with or without a port, found `{}`", host.value.0);
    report(host, &message, "write what stands between http:// and the next / in the browser's address line", found);
    None
}

fn report(at: &At<Text>, message: &str, fix: &str, found: &mut Found) {
    if !found.spoilt(at.place) {
        found.push(Finding::new(Code::BadValue, message).at(at.place).fix(fix));
    }
}
