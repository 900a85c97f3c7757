//! What a client may do.

use serde::{Deserialize, Serialize};

use crate::show::decode::words;

/// Each may do what those before it may. The stop needs none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Watches.
    Observer,
    /// Standby, GO, hold, resume, return, inputs.
    Caller,
    /// Arm, disarm, reset, master, reload as well.
    Operator,
}

impl Role {
    pub fn word(self) -> &'static str {
        match self {
            Role::Observer => "observer",
            Role::Caller => "caller",
            Role::Operator => "operator",
        }
    }
}

words! {
    Role { "observer" = Role::Observer, "caller" = Role::Caller, "operator" = Role::Operator }
}
