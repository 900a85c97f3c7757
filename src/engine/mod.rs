//! The running show: a pure function of its inputs.
//!
//! No clock, no socket, no thread, no file, and after start-up no allocation. Each tick it is given the requests
//! that arrived and the rigs' reports ([`TickInput`]) and gives back setpoints, answers, events and status
//! ([`TickOutput`]).

#![expect(clippy::result_large_err, reason = "a refusal is of fixed size, since the engine does not allocate")]

mod brakes;
mod clock;
mod clocks;
mod company;
mod detect;
mod elsewhere;
mod event;
mod fault;
mod fault_table;
mod fire;
mod grouping;
mod groups;
mod hand;
mod hold;
mod holding;
mod in_hand;
mod invariants;
mod io;
mod lookahead;
mod outbox;
mod picture;
mod playback;
mod preset;
mod pretence;
mod react;
mod readiness;
mod reason;
mod refusal;
mod repeats;
mod request;
mod requests;
mod setpoints;
mod sim_fault;
mod status;
mod steering;
mod stop;
mod succession;
mod supervise;
mod tick;
mod ways;
mod world;

pub use crate::show::{Role, Truth};
pub use company::{ClearSpan, SPANS_MAX};
pub use elsewhere::Aside;
pub use event::{Event, EventKind};
pub use fault::{Cause, Fault, StopLane};
pub use fault_table::{Clears, FaultKind, Reaction, Rule};
pub use in_hand::{
    FocusOn, FocusState, FocusStatus, Found, HandEvent, NoStick, STICKS_MAX, Sign, StickKind, StickSample,
    StickShape, Trial, TrialStatus,
};
pub use invariants::Breach;
pub use io::{AxisReport, RigCommand, RigReport, Setpoint, TickInput, TickOutput};
pub use outbox::REQUESTS_MAX;
pub use reason::{Owner, Reason};
pub use refusal::{REASONS_MAX, Refusal};
pub use request::{Accepted, Answer, ClientId, HELD_LEASE, Key, Request, RequestId, STANDBY_MAX, Verb};
pub use sim_fault::{NoSuchFault, SimFault, SimFaultKind, Size};
pub use status::{
    AxisState, AxisStatus, CAUSES_MAX, HandStatus, InputStatus, LEGS_MAX, Leg, RUNNING_MAX, RigStatus, Running,
    Standby, Status, Stopped, WAITING_MAX, WAYS_OUT_MAX, Waiting, Way, WayOut,
};
pub use stop::StopCalls;
pub use tick::Engine;
