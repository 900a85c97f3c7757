//! The cue list: what each cue does, what starts it, and what it can be doing.

use std::sync::Arc;

use glam::DVec3;
use serde::{Deserialize, Serialize};

use super::id::{AxisId, CueId, RigId};
use super::model::Condition;
use super::number::CueNumber;
use super::source::Place;
use super::takes::Take;

/// ```text
/// idle ─ standby ─ running ─ done
///   └── waiting ──┘  │  ↑
///                 holding ── returning ─ idle
///          (any of the three) ── stop ── stopped
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CueState {
    Idle,
    Standby,
    Waiting,
    Running,
    Holding,
    Returning,
    Done,
    Stopped,
}

impl CueState {
    pub const ALL: [CueState; 8] = [
        CueState::Idle,
        CueState::Standby,
        CueState::Waiting,
        CueState::Running,
        CueState::Holding,
        CueState::Returning,
        CueState::Done,
        CueState::Stopped,
    ];

    pub fn word(self) -> &'static str {
        match self {
            CueState::Idle => "idle",
            CueState::Standby => "standby",
            CueState::Waiting => "waiting",
            CueState::Running => "running",
            CueState::Holding => "holding",
            CueState::Returning => "returning",
            CueState::Done => "done",
            CueState::Stopped => "stopped",
        }
    }
}

#[derive(Clone, Debug)]
pub struct Cue {
    pub number: CueNumber,
    pub name: String,
    pub page: Option<String>,
    pub call: Option<String>,
    pub watch: Option<String>,
    pub notes: Option<String>,
    /// s, planned from the call before.
    pub gap: Option<f64>,
    pub after: Option<After>,
    pub needs: Option<Condition>,
    pub on_link_loss: OnLinkLoss,
    pub moves: Vec<Move>,
    pub place: Place,
}

/// What starts a follow.
#[derive(Clone, Debug, PartialEq)]
pub enum After {
    /// `wait` s of the leading cue's own time from its start.
    Start {
        cue: CueId,
        wait: f64,
    },
    /// `wait` s of the show's clock from its end.
    End {
        cue: CueId,
        wait: f64,
    },
    When(Condition),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OnLinkLoss {
    Hold,
    Finish,
}

#[derive(Clone, Debug)]
pub struct Move {
    pub rig: RigId,
    /// Axes and targets, or with `by` their changes; a mark is already spelt out. Of a take, its last sample.
    pub to: Vec<(AxisId, f64)>,
    /// The mark it was written as.
    pub mark: Option<String>,
    pub by: bool,
    /// Axes whose target is met modulo a whole turn, and the way round that is taken to it.
    pub round: Vec<(AxisId, Round)>,
    /// From 0, time-optimal, to 1, as soft as the least jerk over its time.
    pub softness: f64,
    /// Marks that are passed without stopping, in order.
    pub via: Vec<Via>,
    /// s; else as fast as the limits allow.
    pub time: Option<f64>,
    pub time_place: Option<Place>,
    /// s, 0 if not written.
    pub delay: f64,
    /// The recorded performance that it plays, instead of going somewhere.
    pub playing: Option<Playing>,
    /// What its lens is kept on, by axes that `to` leaves out.
    pub aim: Option<Aim>,
    pub place: Place,
}

impl Move {
    /// Every axis that it owns.
    pub fn axes(&self) -> impl Iterator<Item = AxisId> + '_ {
        let aimed = self.aim.iter().flat_map(Aim::moved);
        self.to.iter().map(|&(axis, _)| axis).chain(aimed)
    }
}

/// What the lens of a rig is kept on while the rig moves.
#[derive(Clone, Debug, PartialEq)]
pub struct Aim {
    pub at: AimedAt,
    /// The two that aim, the one nearer the base first: pan and tilt, whatever they are called.
    pub axes: [AxisId; 2],
    /// Where the focus is kept too.
    pub focus: Option<AxisId>,
    /// s, in which it comes to be on the point, where written.
    pub ease: Option<f64>,
    pub place: Place,
}

impl Aim {
    /// The rig that it is kept on, if it is one.
    pub fn rig(&self) -> Option<RigId> {
        match self.at {
            AimedAt::Point(_) => None,
            AimedAt::Body { rig, .. } => Some(rig),
        }
    }

    /// The axes that it moves.
    pub fn moved(&self) -> impl Iterator<Item = AxisId> + use<> {
        self.axes.into_iter().chain(self.focus)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum AimedAt {
    /// m, in stage axes.
    Point(DVec3),
    /// m, in the frame of another rig's axis, or of its base.
    Body { rig: RigId, axis: Option<AxisId>, point: DVec3 },
}

/// A take, as a move plays it.
#[derive(Clone, Debug)]
pub struct Playing {
    pub take: Arc<Take>,
    /// The rig's axes, each with its column of the take.
    pub columns: Vec<(AxisId, usize)>,
    /// s of the take, from its first sample, at which it is entered.
    pub enter: f64,
    /// Factor on its time.
    pub stretch: f64,
    /// Of the written stretch, else of the take's name.
    pub place: Place,
}

/// A mark that a move passes.
#[derive(Clone, Debug, PartialEq)]
pub struct Via {
    pub mark: String,
    /// Axes of the move and where they are as it passes.
    pub pose: Vec<(AxisId, f64)>,
}

/// Which way round an axis turns to a target that is met once a turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Round {
    /// Whichever is less.
    Shortest,
    /// In the axis's positive direction.
    Up,
    /// In its negative direction.
    Down,
}

impl Round {
    pub fn word(self) -> &'static str {
        match self {
            Round::Shortest => "shortest",
            Round::Up => "up",
            Round::Down => "down",
        }
    }
}
