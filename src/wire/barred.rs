//! Why somebody gets nothing but the stop: its sentence, and its counter.

use std::fmt;
use std::net::IpAddr;

/// What stands in somebody's way. Nothing of it stands before a stop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Barred {
    /// Not from a trusted machine, and no token came along.
    NoToken,
    /// The token is none of those that are let in, or no token at all.
    WrongToken,
    /// OSC from an address that nothing lets in.
    UnknownSender { address: IpAddr },
    /// More requests than one client may make, on average a second.
    TooFast { limit: u32 },
    /// No room for one more connection, of all or of one address.
    Crowded { limit: usize, of_address: bool },
}

impl Barred {
    /// The counter in the status that it adds to.
    pub fn counter(&self) -> &'static str {
        match self {
            Barred::NoToken => "no token",
            Barred::WrongToken => "wrong token",
            Barred::UnknownSender { .. } => "unknown sender",
            Barred::TooFast { .. } => "too fast",
            Barred::Crowded { .. } => "too many connections",
        }
    }
}

impl fmt::Display for Barred {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Barred::NoToken => f.write_str(
                "nobody is let in here without a token, other than to stop: make one with `bellwire access SHOW add \
                 NAME --role ROLE`, and give it to the panel, to the command line with --token, or in the header \
                 `Authorization: Bearer TOKEN`",
            ),
            Barred::WrongToken => f.write_str(
                "this token lets nobody in, other than to stop: it was mistyped, or removed from access.toml; make \
                 another with `bellwire access SHOW add NAME --role ROLE`",
            ),
            Barred::UnknownSender { address } => write!(
                f,
                "{address} is not let in, other than to stop: `bellwire access SHOW allow {address} --role caller \
                 --name NAME` lets it in"
            ),
            Barred::TooFast { limit } => {
                write!(f, "more than {limit} requests a second: ask less often (the stop is taken always)")
            }
            Barred::Crowded { limit, of_address } => {
                let whose = if *of_address { " from this address" } else { "" };
                write!(f, "{limit} connections{whose} are open already: close one (the stop is taken all the same)")
            }
        }
    }
}

impl std::error::Error for Barred {}
