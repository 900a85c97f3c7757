//! access.toml as it is written: every key once, with its meaning, its range and its default.

use super::role::Role;
use crate::show::decode::{At, Text, Title, numbers, record};

numbers! {
    /// WebSockets at once.
    Clients = 1.0 to 192.0, "WebSockets at once";
    /// Connections of one address.
    Connections = 1.0 to 192.0, "connections at once";
    /// Requests of one client.
    Requests = 10.0 to 10000.0, "requests a second";
}

record! {
    /// access.toml: who is let in, what they may do, and how much of it at a time. The stop is taken from anyone.
    AccessFile, "access.toml" {
        /// Whether clients on this machine need no token, and OSC from it no entry here. Default true. Behind a proxy on
        /// this machine write false, since all its visitors come from this machine.
        trust_loopback: Option<bool>,
        /// Names of this machine beside the addresses that it listens on, with a port or without: "bellwire.local". A
        /// browser is served under these alone.
        hosts: Option<Vec<At<Text>>>,
        /// Clients over HTTP and WebSocket, each let in by its token.
        tokens as "token": Option<Vec<At<Token>>>,
        /// Senders of OSC, each let in by its address.
        senders as "sender": Option<Vec<At<Sender>>>,
        /// How much at once.
        limits: Option<Limits>,
    }
}

record! {
    /// A client over HTTP and WebSocket. `bellwire access SHOW add NAME --role ROLE` makes one.
    Token, "a token" {
        /// Whose it is, for the log and the panel.
        name: At<Title>,
        /// What it may do.
        role: Role,
        /// `sha256:` and the SHA-256 of the token in 64 hexadecimal digits. The token itself is written nowhere.
        hash: At<Text>,
    }
}

record! {
    /// A sender of OSC, or a network of them.
    Sender, "a sender" {
        /// Whose it is, for the log and the panel.
        name: At<Title>,
        /// Its IP address, or a network such as "10.0.0.0/24". The narrowest that holds an address counts.
        address: At<Text>,
        /// What it may do: "observer" or "caller". Arm, reset, master and reload are never taken over OSC.
        role: At<Role>,
    }
}

record! {
    /// How much at once. The stop is exempt from all of it.
    Limits, "[limits]" {
        /// WebSockets. Default 128.
        clients: Option<Clients>,
        /// Connections of one address, over HTTP and over OSC each; loopback has no such limit. Default 16.
        connections: Option<Connections>,
        /// Requests a second of one client, on average; twice as many in a burst. Default 500.
        requests: Option<Requests>,
    }
}
