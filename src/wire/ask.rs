//! What a client asks, whatever the road it came on.

use crate::engine::{ClientId, StickKind, StickShape, Verb};
use crate::show::{AxisId, Nanos, RigId};

/// Status notifications a second at most; a client that asks for more gets this.
pub const HZ_MAX: f64 = 30.0;
/// Changes a second that an OSC watcher gets at most.
pub const WATCH_MAX: u32 = 100;
/// The longest lease of an OSC watcher, s; one that asks for more gets this, and renews.
pub const WATCH_LEASE_MAX: u32 = 3600;

/// One request, understood: well formed, every name known. Whether it may be done is for others to say.
#[derive(Clone, Debug, PartialEq)]
pub enum Ask {
    /// For the engine's queue of requests.
    Verb(Verb),
    /// For the stop's own road, never for a queue.
    Stop,
    Status,
    /// Reads the files of the show again; with `accept`, the hash that was offered, it comes into force.
    Reload {
        accept: Option<String>,
    },
    Subscribe(Subscribe),
    /// Records a take, or ends that.
    Take(TakeAsk),
    /// Plays a take back at once: puts it on standby, planned from where the rigs stand.
    Play(PlayAsk),
    /// OSC: changes to the sender, at most `changes` (1 to [`WATCH_MAX`]) a second, for `lease` seconds
    /// (1 to [`WATCH_LEASE_MAX`]).
    Watch {
        changes: u32,
        lease: u32,
    },
    Unwatch,
    Hand(HandAsk),
    /// Writes a survey into the files of the show, or gets ready to.
    Survey(SurveyAsk),
    /// For the lane of sticks, never for a queue: only the newest counts.
    Stick {
        axis: AxisId,
        kind: StickKind,
        value: f64,
    },
}

/// What is asked of a rig in hand and names a client, as the status does; who that is, the daemon knows.
#[derive(Clone, Debug, PartialEq)]
pub enum HandAsk {
    Take { rig: RigId, sticks: Option<String>, shape: StickShape },
    Survey { rig: RigId, sticks: Option<String>, shape: StickShape },
    Accept { rig: RigId, sticks: Option<String>, shape: StickShape },
    HandOver { rig: RigId, to: Option<String> },
}

impl HandAsk {
    /// The verb, once the client that it names is known by its number.
    ///
    /// # Errors
    /// Those of `find`.
    pub fn verb<Error>(&self, find: impl Fn(&str) -> Result<ClientId, Error>) -> Result<Verb, Error> {
        let find = |name: &Option<String>| name.as_deref().map(&find).transpose();
        Ok(match *self {
            HandAsk::Take { rig, ref sticks, shape } => Verb::Hand { rig, sticks: find(sticks)?, shape },
            HandAsk::Survey { rig, ref sticks, shape } => Verb::Survey { rig, sticks: find(sticks)?, shape },
            HandAsk::Accept { rig, ref sticks, shape } => Verb::Accept { rig, sticks: find(sticks)?, shape },
            HandAsk::HandOver { rig, ref to } => Verb::HandOver { rig, to: find(to)? },
        })
    }
}

/// What a WebSocket client wants to be told, and how its silence is to be taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Subscribe {
    /// Status notifications a second, 0 to [`HZ_MAX`]; 0 ends them.
    pub hz: f64,
    /// The client's link counts as lost when nothing arrived from it for so long.
    pub lease: Option<Nanos>,
    /// Adds the rigs' bodies in world coordinates to each status.
    pub stage: bool,
}

/// What of an axis is known from where it stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Point {
    Low,
    High,
    Home,
}

/// What is asked of the survey of a rig; of an axis, or of all of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SurveyAsk {
    /// Where the axis is measured now is this point of it.
    Teach { axis: AxisId, point: Point },
    /// What was taught and not written is forgotten.
    Forget { rig: RigId, axis: Option<AxisId> },
    /// What was taught is written into the rig's file; without `write`, only told.
    Write { rig: RigId, write: bool },
    /// Its survey no longer counts; perhaps with a provisional travel.
    Clear { rig: RigId, axis: Option<AxisId>, travel: Option<[f64; 2]> },
}

impl SurveyAsk {
    pub fn word(&self) -> &'static str {
        match self {
            SurveyAsk::Teach { .. } => "teach",
            SurveyAsk::Forget { .. } => "forget",
            SurveyAsk::Write { write: true, .. } => "write_survey",
            SurveyAsk::Write { write: false, .. } => "propose",
            SurveyAsk::Clear { .. } => "clear_survey",
        }
    }
}

/// What is asked of a take that is recorded.
#[derive(Clone, Debug, PartialEq)]
pub enum TakeAsk {
    /// Makes ready to record these rigs, by their names; it begins with the first motion.
    Prime {
        rigs: Vec<String>,
        name: Option<String>,
    },
    /// Begins at once, or ends.
    Record {
        on: bool,
    },
    /// Puts what was recorded among the takes of the show; under the name that it was primed with, if it is given none.
    Keep {
        name: Option<String>,
    },
    Discard,
    /// Writes what lies between two times of a take, s from its first sample, as another.
    Trim {
        take: String,
        ends: [f64; 2],
        name: String,
    },
}

/// A take that is played back by no cue.
#[derive(Clone, Debug, PartialEq)]
pub struct PlayAsk {
    pub take: String,
    /// Factor on its time; 1 unless given.
    pub stretch: Option<f64>,
    /// Which plays the columns that name none.
    pub rig: Option<String>,
}

impl TakeAsk {
    pub fn word(&self) -> &'static str {
        match self {
            TakeAsk::Prime { .. } => "prime",
            TakeAsk::Record { .. } => "record",
            TakeAsk::Keep { .. } => "keep",
            TakeAsk::Discard => "discard",
            TakeAsk::Trim { .. } => "trim",
        }
    }
}

impl Ask {
    /// The request's name on the wire.
    pub fn word(&self) -> &'static str {
        match self {
            Ask::Verb(verb) => verb.word(),
            Ask::Stop => "stop",
            Ask::Status => "status",
            Ask::Reload { .. } => "reload",
            Ask::Subscribe(_) => "subscribe",
            Ask::Take(take) => take.word(),
            Ask::Play(_) => "play",
            Ask::Watch { .. } => "watch",
            Ask::Unwatch => "unwatch",
            Ask::Hand(HandAsk::Take { .. }) => "hand",
            Ask::Hand(HandAsk::Survey { .. }) => "survey",
            Ask::Hand(HandAsk::Accept { .. }) => "accept",
            Ask::Hand(HandAsk::HandOver { .. }) => "hand_over",
            Ask::Survey(survey) => survey.word(),
            Ask::Stick { kind, .. } => kind.word(),
        }
    }
}
