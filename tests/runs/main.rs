//! All that runs in the virtual hall, and on shows that are read and proved: one program, so that it is linked once.
//! `cargo test --test runs stop::` runs one file.

#![allow(clippy::result_large_err, reason = "a refusal is of fixed size, since the engine does not allocate")]

#[path = "../hall/mod.rs"]
mod hall;
#[path = "../spoilt/mod.rs"]
mod spoilt;

mod brakes;
mod by_hand;
mod chains;
mod company;
mod conditions;
mod cue_book;
mod cue_pages;
mod cueing;
mod edits;
mod elsewhere;
mod fault_table;
mod fences;
mod focus_in_hand;
mod groups;
mod hand_pages;
mod hands;
mod hours_in_hand;
mod in_hand;
mod interlocked;
mod journal;
mod live_faults;
mod near_ends;
mod ownership;
mod part_simulated;
mod playback;
mod presets;
mod proved_presets;
mod rates;
mod rehearsal;
mod rehearsed;
mod repeats;
mod rig_faults;
mod salt_lantern;
mod sharing;
mod show_files;
mod simulation;
mod slips;
mod stalls;
mod stop;
mod survey;
mod told;
