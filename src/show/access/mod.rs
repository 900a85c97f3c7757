//! access.toml: who is let in, what they may do, and how much of it at a time.
//!
//! It lies in the show folder and is no part of the show: another tablet does not change what was proved, so the
//! show's hash leaves it out. Whether a token fits is decided here, without clock, file or socket; the daemon asks.
//!
//! ```text
//!   a WebSocket or HTTP client ── token that fits ──> its role
//!                              └─ none, on loopback ──> operator, where loopback is trusted
//!   an OSC sender ── narrowest network that holds its address ──> its role
//!                 └─ none, on loopback ──> caller, where loopback is trusted
//!   anyone else: the stop, and nothing but the stop
//! ```

mod edit;
mod network;
mod read;
mod role;
mod secret;
#[cfg(test)]
mod tests;
mod written;

use std::net::IpAddr;

pub use edit::{EditError, add_sender, add_token, remove};
pub use network::{Network, NetworkError};
pub use read::{AccessReading, read_access, read_text};
pub use role::Role;
pub use secret::{Secret, SecretError, TokenHash};
pub use written::AccessFile;

/// The file's name, in the show folder.
pub const ACCESS_FILE: &str = "access.toml";

/// Who is let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Access {
    /// Whether there is an access.toml. Without one nobody but this machine is let in.
    pub written: bool,
    /// Clients on this machine need no token.
    pub trust_loopback: bool,
    /// Names of this machine beside the addresses that it listens on, in small letters, with a port or without.
    pub hosts: Vec<String>,
    pub tokens: Vec<Token>,
    pub senders: Vec<Sender>,
    pub limits: Limits,
}

/// A client over HTTP or WebSocket. The token itself is kept nowhere.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token {
    pub name: String,
    pub role: Role,
    pub hash: TokenHash,
}

/// A sender of OSC, or a network of them; at most a caller.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sender {
    pub name: String,
    pub role: Role,
    pub network: Network,
}

/// How much at once. The stop is exempt from all of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// WebSockets.
    pub clients: u32,
    /// Connections of one address, over HTTP and over OSC each. Loopback has no such limit: all of this machine, and
    /// perhaps a proxy on it, shares that address.
    pub connections: u32,
    /// Requests a second of one client, on average; twice as many in a burst.
    pub requests: u32,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits { clients: 128, connections: 16, requests: 500 }
    }
}

impl Default for Access {
    /// As without an access.toml.
    fn default() -> Access {
        Access {
            written: false,
            trust_loopback: true,
            hosts: Vec::new(),
            tokens: Vec::new(),
            senders: Vec::new(),
            limits: Limits::default(),
        }
    }
}

impl Access {
    /// The token that a secret is of, if it is of one.
    ///
    /// Every token is compared, each in constant time, so that how long it takes tells nothing of how near a guess came.
    pub fn token(&self, secret: &Secret) -> Option<&Token> {
        let hash = secret.hash();
        self.tokens.iter().fold(None, |found, token| if token.hash.fits(&hash) { Some(token) } else { found })
    }

    /// What the sender of a packet is written as: the narrowest network that holds its address.
    pub fn sender(&self, address: IpAddr) -> Option<&Sender> {
        let holds = self.senders.iter().filter(|sender| sender.network.holds(address));
        holds.max_by_key(|sender| sender.network.prefix())
    }

    /// Whether an address is trusted without more.
    pub fn trusts(&self, address: IpAddr) -> bool {
        self.trust_loopback && address.to_canonical().is_loopback()
    }

    /// Whether anyone at all is written down.
    pub fn lets_somebody_in(&self) -> bool {
        !self.tokens.is_empty() || !self.senders.is_empty()
    }
}
