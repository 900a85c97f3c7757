//! What the contract names and this version answers, but does not carry out yet.

use super::exit::Exit;
use super::output;

/// Says that something of the contract is not supported yet, and what to do instead.
pub fn not_supported(what: &str, instead: &str) -> Exit {
    output::message(&format!("error: {what} is not supported yet\n  = help: {instead}\n"));
    Exit::Refused
}
