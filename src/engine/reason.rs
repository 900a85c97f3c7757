//! Why something was not done: typed, of fixed size, expected beside found. The text is made at the edge.

use serde::{Deserialize, Serialize};

use super::fault::Cause;
use super::request::ClientId;
use crate::proof::{Approach, Bar, Near, Party};
use crate::show::{AtomId, AxisId, CueId, CueState, InterlockId, Nanos, RigId, Role, Truth};

/// Who may move an axis now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Owner {
    Nobody,
    Cue(CueId),
    Client(ClientId),
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reason {
    NotArmed,
    /// The stop is latched; reset comes first.
    Stopped,
    /// The GO named another cue than the standby.
    NotOnStandby {
        asked: CueId,
        standby: Option<CueId>,
    },
    NothingOnStandby,
    /// `named_go`: a GO from outside must name its cue.
    NameTheCue {
        standby: CueId,
    },
    /// A second GO within the guard time.
    Bounce {
        since: Nanos,
        guard: Nanos,
    },
    TooOld {
        age: Nanos,
        limit: Nanos,
    },
    /// Its `sent` lies further ahead than clocks may differ.
    FromTheFuture {
        ahead: Nanos,
        limit: Nanos,
    },
    Role {
        needs: Role,
        has: Role,
    },
    CueRunning {
        cue: CueId,
        state: CueState,
    },
    /// The cue waits for its own follow.
    CueWaiting {
        cue: CueId,
    },
    /// An axis of the cue stands elsewhere than its path begins.
    StartPose {
        axis: AxisId,
        expected: f64,
        measured: f64,
        tolerance: f64,
    },
    /// An axis that the cue does not move stands elsewhere than the list leaves it.
    OtherPose {
        axis: AxisId,
        expected: f64,
        measured: f64,
        tolerance: f64,
    },
    /// A rig that the cue does not move stands elsewhere than the list leaves it, and there the cue comes too near.
    NearElsewhere {
        axis: AxisId,
        expected: f64,
        measured: f64,
        approach: Approach,
    },
    /// A stopped or held cue whose axis has left its path.
    OffPath {
        axis: AxisId,
        expected: f64,
        measured: f64,
        tolerance: f64,
    },
    /// An axis stands beside its path, within tolerance, where it would leave its travel on its way onto it, since the path
    /// comes near an end.
    LeavesTravel {
        axis: AxisId,
        /// Where the path is.
        expected: f64,
        stands: f64,
        /// Of the travel.
        end: f64,
    },
    /// No fresh measured position.
    PoseUnknown {
        axis: AxisId,
    },
    AxisOwned {
        axis: AxisId,
        owner: Owner,
    },
    /// Another running cue moves joints of this rig, or of what it rides on.
    RigShared {
        rig: RigId,
        cue: CueId,
    },
    Needs {
        cue: CueId,
        atom: AtomId,
        truth: Truth,
    },
    Interlock {
        interlock: InterlockId,
        atom: AtomId,
        truth: Truth,
    },
    /// True now, but not at some time along the path.
    InterlockAlong {
        interlock: InterlockId,
        atom: AtomId,
        truth: Truth,
        time: f64,
    },
    /// Cues from `first` on would be passed over.
    Skips {
        first: CueId,
        count: u32,
    },
    /// A cause that stands now.
    Cause(Cause),
    /// Someone else holds and has not released.
    HeldBy {
        client: ClientId,
    },
    /// Everything that runs is held; resume comes first.
    Held,
    /// A cue is held or goes back whose rate this one would share.
    HeldBeside {
        cue: CueId,
    },
    NothingRunning,
    /// It neither runs nor waits.
    NotRunning {
        cue: CueId,
    },
    NotHolding,
    /// The cue is not at rest on its path.
    NotAtRest {
        cue: CueId,
    },
    NotStandingStill {
        axis: AxisId,
    },
    /// The stop has not been followed by a measured standstill yet.
    StandstillPending,
    /// Measured outside its surveyed travel, by more than the tolerance.
    OutsideTravel {
        axis: AxisId,
        measured: f64,
        low: f64,
        high: f64,
    },
    /// The client that fired the cue keeps a lease, and its link was lost.
    LinkLost {
        client: ClientId,
    },
    /// The tick loop came late by so much.
    Late {
        late: Nanos,
    },
    /// Outside 0 to 1, or not a number.
    MasterRange,
    AlreadyArmed,
    /// A journal is to be kept, and is not: [`super::TickInput::unrecorded`].
    Unrecorded,
    /// More than the engine holds at once.
    TooMany {
        limit: u32,
    },
    /// A preset of real rigs runs only while an operator keeps asking.
    HoldToRun {
        rig: RigId,
    },
    /// The way of the preset to where the cue starts is being worked out.
    WayInWork {
        cue: CueId,
    },
    /// What forbids a rig to go, on every way to where the cue starts that was tried.
    NoWay {
        cue: CueId,
        bar: Bar,
    },
    /// There were more orders of the rigs than could be tried.
    NoWayFound {
        cue: CueId,
    },
    /// No take was laid ready to be played back.
    NoTake,
    /// Every rig stands where the cue starts.
    AlreadyThere {
        cue: CueId,
    },
    /// The show was replaced after the sender had read it.
    ShowReplaced,
    /// An edit of the machines themselves, which only a new start takes in.
    OtherMachines,
    /// A condition that guards or moves `real` rests on the pose of a rig that is simulated.
    Simulated {
        rig: RigId,
        real: RigId,
    },
    /// What later versions bring.
    NotSupported,
    /// Started now, the cue comes too near to one that runs, at `time` s of its own time; or, going back, to one that has
    /// ended since.
    InTheWay {
        cue: CueId,
        time: f64,
        /// Of the cue that was asked for, of the other.
        bodies: [Party; 2],
        /// m
        distance: f64,
        margin: f64,
        /// s, the other's own time from which on it is clear; `None` if that is not before its end.
        clears: Option<f64>,
    },
    /// The list keeps the two apart, so that nothing is proved of them together.
    NotProvedTogether {
        cue: CueId,
    },
    /// What is real is never made to fail.
    RealRig {
        rig: RigId,
    },
    /// A button that is held was refused, or what it drove was held or stopped: it has to be let go of.
    LetGo,
    /// A simulated rig, which is not said to be absent: where its machine stands, or what rides on it, nobody knows, and the
    /// cue moves bodies of `real`.
    Unplaced {
        rig: RigId,
        real: RigId,
    },
    /// Another client has the rig in hand.
    RigInHand {
        rig: RigId,
        client: ClientId,
    },
    /// Whoever asks does not have the rig in hand.
    NotInHand {
        rig: RigId,
    },
    /// The rig is not offered to whoever accepts it.
    NotOffered {
        rig: RigId,
    },
    /// A rig in hand moves, and it is not proved that the cue is clear of it.
    HandMoves {
        rig: RigId,
        client: ClientId,
    },
    /// The cue comes too near to where a rig in hand may come to rest.
    NearHand {
        client: ClientId,
        /// Of the rig in hand, of the cue.
        near: Near,
    },
    /// A dead-band that is not from 0 to below 1, or a taper that is not from 0 to 1.
    StickShape,
    /// An axis whose travel is provisional: nothing moves it but a slow jog by hand.
    Unsurveyed {
        axis: AxisId,
    },
    /// The rig is not in hand for a survey.
    NotSurveyed {
        rig: RigId,
    },
    /// The place is nearer to an end than an approach is long.
    NoRunUp {
        axis: AxisId,
        at: f64,
        needs: f64,
    },
    /// The rig is in hand for a survey, in which nothing but sticks and trials moves it.
    InSurvey {
        rig: RigId,
    },
    /// The rig's file has no table of focus for its lens.
    NoFocus {
        rig: RigId,
    },
    /// What a focus is to follow goes where its own lens goes.
    FocusOnItself {
        rig: RigId,
        other: RigId,
    },
}

impl Reason {
    /// The interlock that does not permit now, or not on any way of a preset.
    pub fn interlock(&self) -> Option<InterlockId> {
        if let Reason::Interlock { interlock, .. } = self {
            return Some(*interlock);
        }
        if let Reason::NoWay { bar, .. } = self { bar.by.interlock() } else { None }
    }

    /// Whether a preset could mend it.
    pub fn offers_preset(&self) -> bool {
        matches!(
            self,
            Reason::StartPose { .. }
                | Reason::OtherPose { .. }
                | Reason::NearElsewhere { .. }
                | Reason::OffPath { .. }
                | Reason::LeavesTravel { .. }
        )
    }

    /// Whether no preset is to be had, or not yet.
    pub fn withholds_preset(&self) -> bool {
        matches!(self, Reason::WayInWork { .. } | Reason::NoWay { .. } | Reason::NoWayFound { .. })
    }

    /// Whether it takes a cue off standby that was ready: a pose that drifted, a condition or interlock that changed.
    pub fn drops_standby(&self) -> bool {
        match self {
            Reason::StartPose { .. }
            | Reason::OtherPose { .. }
            | Reason::NearElsewhere { .. }
            | Reason::OffPath { .. }
            | Reason::LeavesTravel { .. }
            | Reason::PoseUnknown { .. }
            | Reason::Needs { .. }
            | Reason::Interlock { .. }
            | Reason::InterlockAlong { .. }
            | Reason::Simulated { .. }
            | Reason::Unplaced { .. } => true,
            Reason::NotArmed
            | Reason::Stopped
            | Reason::NotOnStandby { .. }
            | Reason::NothingOnStandby
            | Reason::NameTheCue { .. }
            | Reason::Bounce { .. }
            | Reason::TooOld { .. }
            | Reason::FromTheFuture { .. }
            | Reason::Role { .. }
            | Reason::CueRunning { .. }
            | Reason::CueWaiting { .. }
            | Reason::AxisOwned { .. }
            | Reason::RigShared { .. }
            | Reason::InTheWay { .. }
            | Reason::NotProvedTogether { .. }
            | Reason::Skips { .. }
            | Reason::Cause(_)
            | Reason::HeldBy { .. }
            | Reason::Held
            | Reason::HeldBeside { .. }
            | Reason::NothingRunning
            | Reason::NotRunning { .. }
            | Reason::NotHolding
            | Reason::NotAtRest { .. }
            | Reason::NotStandingStill { .. }
            | Reason::StandstillPending
            | Reason::OutsideTravel { .. }
            | Reason::LinkLost { .. }
            | Reason::Late { .. }
            | Reason::MasterRange
            | Reason::AlreadyArmed
            | Reason::Unrecorded
            | Reason::TooMany { .. }
            | Reason::HoldToRun { .. }
            | Reason::WayInWork { .. }
            | Reason::NoWay { .. }
            | Reason::NoWayFound { .. }
            | Reason::NoTake
            | Reason::AlreadyThere { .. }
            | Reason::ShowReplaced
            | Reason::OtherMachines
            | Reason::RealRig { .. }
            | Reason::LetGo
            | Reason::RigInHand { .. }
            | Reason::NotInHand { .. }
            | Reason::NotOffered { .. }
            | Reason::HandMoves { .. }
            | Reason::NearHand { .. }
            | Reason::StickShape
            | Reason::Unsurveyed { .. }
            | Reason::NotSurveyed { .. }
            | Reason::NoRunUp { .. }
            | Reason::InSurvey { .. }
            | Reason::NoFocus { .. }
            | Reason::FocusOnItself { .. }
            | Reason::NotSupported => false,
        }
    }
}
