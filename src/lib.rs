//! bellwire fires the moves of many motorised rigs in a live show on cue.
//!
//! The rooms of the house, each importing only from the rooms above it:
//!
//! | room | what lives there |
//! | --- | --- |
//! | [`show`] | the show as written: files to typed values, findings, the JSON Schema |
//! | [`motion`] | axes over time: limits, profiles, the rate of a running cue |
//! | [`stage`] | where bodies are |
//! | [`proof`] | the cue list proved before the doors open |
//! | [`engine`] | the running show, a pure function of its inputs |
//! | [`rig`] | drivers; simulated rigs |
//! | [`wire`] | the protocols: bytes to requests, status to bytes |
//! | [`journal`] | the inputs of a run, recorded and replayed |
//! | [`rehearsal`] | the cue list run on simulated rigs, as fast as it goes |
//! | [`report`] | what people look at |
//! | [`daemon`] | threads, sockets, signals: the only place with a clock |
//! | [`cli`] | one file a command |

/// Of the program, with the commit that it was built from if that is known: `0.1.0 (0123456789ab)`.
pub const VERSION: &str = env!("BELLWIRE_VERSION");

pub mod show;

pub mod motion;

pub mod stage;

pub mod proof;

pub mod engine;

pub mod rig;

pub mod wire;

pub mod journal;

pub mod rehearsal;

pub mod report;

pub mod daemon;

pub mod cli;
