//! OSC over UDP and over TCP, and those who watch over either.

mod take;
mod tcp;
mod udp;
mod watcher;

pub use tcp::run as run_tcp;
pub use udp::run as run_udp;
