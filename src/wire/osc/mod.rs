//! OSC in and out, as [`OSC 1.0`](https://opensoundcontrol.stanford.edu/spec-1_0.html) with the types of 1.1.
//!
//! A packet is one datagram, or one SLIP frame of a stream. It passes three rooms:
//!
//! 1. [`is_stop`], in which a stop is found whatever surrounds it;
//! 2. `guard`, which walks the bundles without recursion, limits depth, count and size, and hands on single
//!    messages;
//! 3. `message`, where the decoder of the `rosc` crate sees one message at a time, never a bundle, and the verbs,
//!    where it becomes an [`Ask`].

mod encode;
mod guard;
mod message;
mod stop;
#[cfg(test)]
mod stop_tests;
#[cfg(test)]
mod tests;
mod verbs;

pub use encode::Out;
pub use guard::{DEPTH_MAX, MESSAGES_MAX, PACKET_MAX};
pub use stop::is_stop;

use super::ask::Ask;
use super::misheard::{Misheard, quoted};
use super::names::Names;
use guard::Timing;

/// What one message of a packet came to.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// To be carried out or refused, and answered to the sender either way ([`Out::Answer`]) with this verb and
    /// cue (the first, if it names several; empty, if none).
    Ask { verb: &'static str, cue: String, ask: Ask },
    /// Meant for us and not understood: answered with the reason, and counted.
    Refused { verb: String, cue: String, why: Misheard },
    /// Counted and not answered: illegible, for someone else, or our own message come back. An answer would only
    /// feed a loop or a flood.
    Dropped(Misheard),
}

/// What a packet asks, in its order; a stop, wherever it stands, once and first.
///
/// A bundle that is wrong in any part does nothing, since OSC takes a bundle as one; except for a stop in it.
pub fn decode(bytes: &[u8], names: &Names) -> Vec<Heard> {
    let mut heard = Vec::new();
    if is_stop(bytes) {
        heard.push(Heard::Ask { verb: "stop", cue: String::new(), ask: Ask::Stop });
    }
    match guard::scan(bytes) {
        Ok(leaves) => {
            heard.extend(leaves.iter().filter(|leaf| !is_stop(leaf.bytes)).map(|leaf| hear(leaf, names)));
        }
        Err(why) => heard.push(Heard::Dropped(why)),
    }
    heard
}

fn hear(leaf: &guard::Leaf<'_>, names: &Names) -> Heard {
    let (address, rest) = match guard::address(leaf.bytes) {
        Ok(parts) => parts,
        Err(why) => return Heard::Dropped(why),
    };
    if address.contains(['?', '*', '[', ']', '{', '}']) || address.contains("//") {
        let address = quoted(address);
        return Heard::Refused { verb: address.clone(), cue: String::new(), why: Misheard::Pattern { address } };
    }
    let Some(asked) = address.strip_prefix("/bellwire/") else {
        return Heard::Dropped(Misheard::NotOurs { address: quoted(address) });
    };
    if encode::VERBS_OUT.contains(&asked) {
        return Heard::Dropped(Misheard::Echo { address: quoted(address) });
    }
    let arguments = message::arguments(leaf.bytes, rest);
    // The cue goes back with a refusal too, so that the sender knows which of its requests it was.
    let cue = arguments.as_ref().map_or(String::new(), |arguments| verbs::cue(asked, arguments));
    let ask = arguments.and_then(|arguments| match &leaf.timing {
        Timing::Now => verbs::ask(asked, &arguments, names),
        Timing::Other(why) => Err(why.clone()),
    });
    match ask {
        Ok(ask) => Heard::Ask { verb: ask.word(), cue, ask },
        Err(why) => Heard::Refused { verb: quoted(asked), cue, why },
    }
}
