//! Threads, sockets, timers, signals: the only place with a clock.
//!
//! | thread | what it does | what it waits for |
//! | --- | --- | --- |
//! | tick | turns the engine and its drivers, see `tick_loop` | the clock alone |
//! | watch | presses the stop if the tick thread makes no progress, see `watch` | the clock alone |
//! | stop port | hears `/bellwire/stop` over UDP, see `stop_port` | its socket alone |
//! | scribe, sync | write the journal, see `journal` | the tick thread, the disk |
//! | recorder | writes the take that is recorded, see `recording` | the disk |
//! | post | carries answers and events from the tick thread to clients, see `post` | the tick thread |
//! | two workers of the runtime | HTTP, WebSocket, OSC, signals | sockets |
//! | service | tells the service manager how it goes, see `service`; only under one | whoever reads it |
//! | log | writes lines to standard error, see `log` | whoever reads them |
//!
//! The stop travels by `stop_road` from every listener to the tick thread, requests by `hub`.

mod age;
mod assets;
mod bind;
mod board;
mod book;
mod clock;
mod counters;
mod crowd;
mod doors;
mod enter;
mod events;
mod gate;
mod house;
mod http;
mod hub;
mod journal;
mod lateness;
mod limiter;
mod log;
mod metrics;
mod osc;
mod pace;
mod playback;
mod post;
mod present;
mod pulse;
mod recording;
mod reload;
mod rpc;
mod serve;
mod service;
mod signals;
mod start;
mod status_copy;
mod sticks;
mod stop_port;
mod stop_road;
mod survey;
mod takes;
mod tally;
mod tick_loop;
mod watch;
pub mod whole_file;

pub use bind::{Addresses, BindError, Sockets};
pub use hub::Asked;
pub use journal::{Folder, Journal, Keeping, Page, Pages, Pen, folder as journals_in, pen};
pub use log::{Log, LogFormat, LogLevel};
pub use start::{Bound, Daemon, Ending};
pub use tick_loop::{Shell, Turn};
