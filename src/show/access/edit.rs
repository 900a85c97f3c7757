//! Changing access.toml as a careful hand would: comments, order and blanks stay as they are.

use std::fmt;

use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, value};

use super::{Network, Role, TokenHash};

/// Why the file was not changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum EditError {
    /// Not TOML, or a list that is written otherwise than as `[[token]]`; what the parser says.
    Form(String),
    NameTaken {
        name: String,
    },
    /// With the names that there are.
    NoSuchName {
        name: String,
        known: Vec<String>,
    },
}

/// The words over a new file.
const HEAD: &str = "\
# Who is let in, beside this machine, and what they may do. The stop is taken from anyone.
# `bellwire access SHOW add NAME --role ROLE` writes here; remove an entry to shut its holder out.
";

const LISTS: [&str; 2] = ["token", "sender"];

/// Adds a token's entry.
///
/// # Errors
/// A name that is taken, or a file that does not read.
pub fn add_token(text: &str, name: &str, role: Role, hash: &TokenHash) -> Result<String, EditError> {
    let mut entry = Table::new();
    entry["name"] = value(name);
    entry["role"] = value(role.word());
    entry["hash"] = value(hash.to_string());
    add(text, "token", name, entry)
}

/// Adds the entry of a sender of OSC.
///
/// # Errors
/// As [`add_token`].
pub fn add_sender(text: &str, name: &str, role: Role, network: &Network) -> Result<String, EditError> {
    let mut entry = Table::new();
    entry["name"] = value(name);
    entry["address"] = value(network.to_string());
    entry["role"] = value(role.word());
    add(text, "sender", name, entry)
}

/// Removes the entry of this name.
///
/// # Errors
/// No such name, or a file that does not read.
pub fn remove(text: &str, name: &str) -> Result<String, EditError> {
    let mut file = parse(text)?;
    let known = names(&file);
    for list in LISTS {
        let Some(entries) = file.get_mut(list).and_then(Item::as_array_of_tables_mut) else { continue };
        let before = entries.len();
        entries.retain(|entry| entry.get("name").and_then(Item::as_str) != Some(name));
        if entries.len() < before {
            return Ok(file.to_string());
        }
    }
    Err(EditError::NoSuchName { name: name.to_owned(), known })
}

fn add(text: &str, list: &str, name: &str, mut entry: Table) -> Result<String, EditError> {
    let mut file = parse(if text.trim().is_empty() { HEAD } else { text })?;
    let mut before = "\n".to_owned();
    if file.is_empty() {
        // Comments alone count as what follows the last entry, and would come after the first.
        before.insert_str(0, file.trailing().as_str().unwrap_or_default());
        file.set_trailing("");
    }
    if names(&file).iter().any(|known| known == name) {
        return Err(EditError::NameTaken { name: name.to_owned() });
    }
    entry.decor_mut().set_prefix(before);
    let entries = file.entry(list).or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
    let Some(entries) = entries.as_array_of_tables_mut() else {
        return Err(EditError::Form(format!("`{list}` is written as one list: write each entry as [[{list}]]")));
    };
    entries.push(entry);
    Ok(file.to_string())
}

fn parse(text: &str) -> Result<DocumentMut, EditError> {
    text.parse().map_err(|error: toml_edit::TomlError| EditError::Form(error.to_string()))
}

fn names(file: &DocumentMut) -> Vec<String> {
    let entries = LISTS.into_iter().filter_map(|list| file.get(list).and_then(Item::as_array_of_tables)).flatten();
    entries.filter_map(|entry| entry.get("name").and_then(Item::as_str)).map(str::to_owned).collect()
}

impl fmt::Display for EditError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EditError::Form(what) => f.write_str(what.trim_end()),
            EditError::NameTaken { name } => {
                write!(f, "there is an entry named '{name}' already: remove it first, or choose another name")
            }
            EditError::NoSuchName { name, known } if known.is_empty() => {
                write!(f, "there is no entry named '{name}', nor any other")
            }
            EditError::NoSuchName { name, known } => {
                write!(f, "there is no entry named '{name}'; there are: {}", known.join(", "))
            }
        }
    }
}

impl std::error::Error for EditError {}
