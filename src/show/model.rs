//! The show as the rest of the house sees it: every name resolved, every value in range.

use std::ops::Range;

use glam::DVec3;
use serde::{Deserialize, Serialize};

use super::id::{AtomId, AxisId, CueId, InputId, InterlockId, RigId};
use super::lens::Lens;
use super::list::{Cue, CueState, Move};
use super::number::CueNumber;
use super::source::Place;
use super::units::{Nanos, Unit};

#[derive(Clone, Debug)]
pub struct Show {
    pub name: String,
    /// SHA-256 over the files of the folder, names and contents, in hexadecimal.
    pub hash: String,
    pub settings: Settings,
    pub rigs: Vec<Rig>,
    pub axes: Vec<Axis>,
    pub zones: Vec<Zone>,
    pub pairs: Vec<Pair>,
    pub inputs: Vec<Input>,
    pub interlocks: Vec<Interlock>,
    /// The leaves of all conditions, so that a refusal can point at the one that failed.
    pub atoms: Vec<Atom>,
    /// In the order of their numbers.
    pub cues: Vec<Cue>,
}

impl Show {
    pub fn rig(&self, id: RigId) -> &Rig {
        &self.rigs[id.index()]
    }

    pub fn axis(&self, id: AxisId) -> &Axis {
        &self.axes[id.index()]
    }

    pub fn cue(&self, id: CueId) -> &Cue {
        &self.cues[id.index()]
    }

    /// A cue of the list; `None` for the preset and for a take that is played back, which are in no list.
    pub fn listed(&self, id: CueId) -> Option<&Cue> {
        self.cues.get(id.index())
    }

    /// Under which a preset runs: one past the cues of the list.
    pub fn preset_id(&self) -> CueId {
        CueId::new(self.cues.len())
    }

    /// Under which a take is played back: after the preset.
    pub fn take_id(&self) -> CueId {
        CueId::new(self.cues.len() + 1)
    }

    /// As it is called: "12.5", "preset", or "take".
    pub fn number_of(&self, id: CueId) -> String {
        match self.listed(id) {
            Some(cue) => cue.number.to_string(),
            None if id == self.take_id() => "take".into(),
            None => "preset".into(),
        }
    }

    pub fn axis_ids(&self) -> impl Iterator<Item = AxisId> + use<> {
        (0..self.axes.len()).map(AxisId::new)
    }

    pub fn rig_ids(&self) -> impl Iterator<Item = RigId> + use<> {
        (0..self.rigs.len()).map(RigId::new)
    }

    pub fn cue_ids(&self) -> impl Iterator<Item = CueId> + use<> {
        (0..self.cues.len()).map(CueId::new)
    }

    /// `rig.axis`, as people write it.
    pub fn axis_name(&self, id: AxisId) -> String {
        let axis = self.axis(id);
        format!("{}.{}", self.rig(axis.rig).name, axis.name)
    }

    pub fn find_cue(&self, number: &CueNumber) -> Option<CueId> {
        self.cues.binary_search_by(|cue| cue.number.cmp(number)).ok().map(CueId::new)
    }

    /// The cues that play a take, and on which rig.
    pub fn playing<'a>(&'a self, take: &'a str) -> impl Iterator<Item = (CueId, RigId)> + 'a {
        self.cue_ids().flat_map(move |id| {
            let plays = move |step: &&Move| step.playing.as_ref().is_some_and(|playing| playing.take.name == take);
            self.cue(id).moves.iter().filter(plays).map(move |step| (id, step.rig))
        })
    }

    /// True if either rig rides on the other or both are the same: one rig for clearance.
    pub fn same_carriage(&self, a: RigId, b: RigId) -> bool {
        self.carriers(a).any(|carrier| carrier == b) || self.carriers(b).any(|carrier| carrier == a)
    }

    /// The rig itself, then what it rides on, and so on down to the deck.
    pub fn carriers(&self, rig: RigId) -> impl Iterator<Item = RigId> + '_ {
        std::iter::successors(Some(rig), |&rig| self.rig(rig).mount.map(|axis| self.axis(axis).rig))
    }
}

/// `[show]` of show.toml.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    pub tick: Nanos,
    /// m, clearance that must remain.
    pub margin: f64,
    pub react: Nanos,
    pub guard: Nanos,
    pub trigger_age: Nanos,
    pub return_rate: f64,
    /// On the glide of every axis in hand.
    pub glide: f64,
    pub named_go: bool,
}

/// A rig (machine).
#[derive(Clone, Debug)]
pub struct Rig {
    pub name: String,
    pub kind: String,
    /// m, in the world or in the frame of `mount`.
    pub at: DVec3,
    /// Degrees about z.
    pub facing: f64,
    /// The axis on whose frame the whole rig rides.
    pub mount: Option<AxisId>,
    pub driver: Driver,
    /// While it is simulated, its machine is not in the room.
    pub absent: bool,
    /// On the base.
    pub bodies: Vec<Shape>,
    /// A range of indices into `Show::axes`, base to tip.
    pub axes: Range<u16>,
    pub marks: Vec<Mark>,
    /// Where its file tells what it looks with.
    pub lens: Option<Lens>,
    pub stop_category: StopCategory,
    pub link_timeout: Nanos,
    pub place: Place,
}

impl Rig {
    pub fn axis_ids(&self) -> impl Iterator<Item = AxisId> + use<> {
        self.axes.clone().map(AxisId)
    }

    pub fn mark(&self, name: &str) -> Option<&Mark> {
        self.marks.iter().find(|mark| mark.name == name)
    }
}

#[derive(Clone, Debug, PartialEq)]
pub enum Driver {
    Sim(SimSettings),
}

/// How far from ideal a simulated rig is. Axis units.
#[derive(Clone, Debug, PartialEq)]
pub struct SimSettings {
    /// Time constant of the following, s.
    pub lag: f64,
    /// Standard deviation of the measured position.
    pub noise: f64,
    /// Full width of the dead zone between drive and axis.
    pub backlash: f64,
}

/// IEC 60204-1 stop categories that a controlled stop can have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StopCategory {
    /// Controlled stop, then power removed.
    One,
    /// Controlled stop, power kept, standstill monitored.
    Two,
}

#[derive(Clone, Debug)]
pub struct Mark {
    pub name: String,
    /// One position for each axis named; a mark may leave axes out.
    pub pose: Vec<(AxisId, f64)>,
    pub place: Place,
}

#[derive(Clone, Debug)]
pub struct Axis {
    pub name: String,
    pub rig: RigId,
    pub unit: Unit,
    /// Surveyed soft limits, low then high.
    pub travel: [f64; 2],
    /// Unless it was, the travel is provisional: nothing moves the axis but a slow jog by hand.
    pub surveyed: bool,
    /// How far the cables that it winds up let it turn, low then high, in its own unit.
    pub winding: Option<[f64; 2]>,
    pub start: f64,
    /// Running limits; the share is already in the speed.
    pub run: Limits,
    /// Limits while stopping: the same speed, at least the same acceleration and jerk.
    pub stop: Limits,
    /// Speed as rated, before the share.
    pub rated_speed: f64,
    pub share: f64,
    /// The least time of a change from rest to full speed by hand, s, before the show's factor.
    pub glide: f64,
    /// Of a start pose.
    pub tolerance: f64,
    /// Following error that is a fault.
    pub lag_limit: f64,
    pub gravity: bool,
    pub joint: Option<Joint>,
    pub bodies: Vec<Shape>,
    pub place: Place,
}

impl Axis {
    /// Where it may stand: its travel, as far as its cables allow.
    pub fn reach(&self) -> [f64; 2] {
        let [low, high] = self.travel;
        self.winding.map_or(self.travel, |[least, most]| [low.max(least), high.min(most)])
    }
}

/// Of one axis, per s, s² and s³ in its own unit; all above zero and finite.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    pub speed: f64,
    pub acceleration: f64,
    pub jerk: f64,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    pub kind: JointKind,
    /// Unit vector in the frame of the joint before it.
    pub direction: DVec3,
    pub at: DVec3,
    /// The axes after this one keep the orientation from before it.
    pub level: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JointKind {
    Turn,
    Slide,
}

/// A body, in the frame it hangs on, in metres.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Shape {
    Capsule { from: DVec3, to: DVec3, radius: f64 },
    Sphere { at: DVec3, radius: f64 },
    Box { min: DVec3, max: DVec3 },
}

/// The middle of the block that bodies fill; the origin of their frame where there are none.
pub fn middle_of(bodies: &[Shape]) -> DVec3 {
    let ends = |shape: &Shape| match *shape {
        Shape::Capsule { from, to, radius } => [from.min(to) - radius, from.max(to) + radius],
        Shape::Sphere { at, radius } => [at - radius, at + radius],
        Shape::Box { min, max } => [min, max],
    };
    let blocks = bodies.iter().map(ends);
    let block = blocks.reduce(|[low, high], [least, most]| [low.min(least), high.max(most)]);
    block.map_or(DVec3::ZERO, |[low, high]| (low + high) / 2.0)
}

#[derive(Clone, Debug)]
pub struct Zone {
    pub name: String,
    pub keep: Keep,
    pub min: DVec3,
    pub max: DVec3,
    pub rigs: Vec<RigId>,
    pub margin: f64,
    pub place: Place,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    Out,
    In,
}

#[derive(Clone, Debug)]
pub struct Pair {
    pub rigs: [RigId; 2],
    pub margin: f64,
    pub because: Option<String>,
    pub place: Place,
}

#[derive(Clone, Debug)]
pub struct Input {
    pub name: String,
    pub max_age: Nanos,
    /// Once false, false until reset.
    pub trips: bool,
    /// Address of the only sender that may set it.
    pub source: Option<String>,
    pub place: Place,
}

#[derive(Clone, Debug)]
pub struct Interlock {
    pub name: String,
    pub guards: Vec<Guard>,
    pub needs: Condition,
    pub otherwise: Otherwise,
    pub place: Place,
}

/// One axis that an interlock guards.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Guard {
    pub axis: AxisId,
    /// `None`: both ways.
    pub direction: Option<Direction>,
}

impl Guard {
    /// Whether its axis, at that speed, moves as it is guarded.
    pub fn minds(self, speed: f64) -> bool {
        match self.direction {
            None => speed != 0.0,
            Some(Direction::Up) => speed > 0.0,
            Some(Direction::Down) => speed < 0.0,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    Up,
    Down,
}

/// What an interlock does when its condition is not true.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// Only at the start of a cue.
    Refuse,
    Hold,
    Stop,
}

/// A condition is true, false or unknown; only true permits.
#[derive(Clone, Debug, PartialEq)]
pub enum Condition {
    Atom(AtomId),
    All(Vec<Condition>),
    Any(Vec<Condition>),
    Not(Box<Condition>),
}

/// A leaf of a condition. Poses are the measured ones.
#[derive(Clone, Debug, PartialEq)]
pub enum Atom {
    Above {
        axis: AxisId,
        limit: f64,
    },
    Below {
        axis: AxisId,
        limit: f64,
    },
    Within {
        axis: AxisId,
        from: f64,
        to: f64,
        modulo: Option<f64>,
    },
    /// Every axis of the mark within its tolerance.
    At {
        rig: RigId,
        mark: String,
        pose: Vec<(AxisId, f64)>,
    },
    Input(InputId),
    CueState {
        cue: CueId,
        state: CueState,
    },
    /// The cue's own time has passed this, or it is done.
    CuePast {
        cue: CueId,
        time: f64,
    },
}

/// The interlocks that guard an axis, for those who look from the axis.
pub fn interlocks_guarding(show: &Show, axis: AxisId) -> impl Iterator<Item = (InterlockId, Guard)> + '_ {
    show.interlocks.iter().enumerate().flat_map(move |(index, interlock)| {
        let of_axis = interlock.guards.iter().filter(move |guard| guard.axis == axis);
        of_axis.map(move |&guard| (InterlockId::new(index), guard))
    })
}
