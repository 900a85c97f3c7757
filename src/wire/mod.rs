//! The protocols: bytes to requests, status to bytes. Pure.
//!
//! Every road ends in the same words: what a client wants is an [`Ask`], with all names resolved by [`Names`];
//! what could not be understood is a [`Misheard`], which knows its sentence for people and its counter for the
//! status. The other way, [`words::Words`] makes every reason, fault and event a sentence, and [`status_json`] and
//! its neighbours make the objects of the contract.
//!
//! | road | in | out |
//! | --- | --- | --- |
//! | OSC over UDP, or over TCP in frames of [`slip`] | [`osc::decode`] | [`osc::Out`] |
//! | the stop port, and a first look on every OSC road | [`osc::is_stop`] | |
//! | JSON-RPC over WebSocket | [`rpc::decode`] | [`rpc::Reply`], [`rpc::notification`] |
//! | HTTP | | [`status_json`], [`show_json`], [`cue_json`] |

mod ask;
mod barred;
mod json;
mod misheard;
mod names;
#[cfg(test)]
mod sample;

pub mod osc;
pub mod rpc;
pub mod slip;
pub mod words;

pub use ask::{Ask, HZ_MAX, HandAsk, PlayAsk, Point, Subscribe, SurveyAsk, TakeAsk, WATCH_LEASE_MAX, WATCH_MAX};
pub use barred::Barred;
pub use json::{cue_json, event_json, show_json, status_json};
pub use misheard::Misheard;
pub use names::{Names, believes};
