//! Focus that follows distance: while a rig is in hand, its focus is kept where the lens's table has the distance from the lens to
//! a point of the stage, or of a body of another rig, however either moves.
//!
//! The focus axis goes there as it goes to where a dial wants it, within its own limits: where the distance changes faster than
//! they allow, it lags and says so. Its dial is an offset now: what it has been turned by since it was first heard is added, in its
//! own unit. A pushed stick goes before, and what it leaves is the offset.
//!
//! Nothing resumes by itself: whatever else has the axis come to rest (a stop, a fault that holds, an interlock, a pose that is not
//! known any more), it waits until it is asked to follow again.

use glam::DVec3;
use serde::{Deserialize, Serialize};

use super::{HandEvent, InHand};
use crate::engine::event::EventKind;
use crate::engine::reason::Reason;
use crate::engine::refusal::Refusal;
use crate::engine::request::{Accepted, Request};
use crate::engine::tick::Engine;
use crate::motion::Range;
use crate::show::{AimedAt, AxisId, RigId, Show, middle_of};
use crate::stage::{Frame, Stage};

/// What a focus is asked to follow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FocusOn {
    /// m, in stage axes.
    Point(DVec3),
    /// A body of another rig: by default on the last axis of it that carries bodies, and the middle of those; m, in the frame of
    /// that axis.
    Rig { rig: RigId, axis: Option<AxisId>, point: Option<DVec3> },
}

/// Of a focus that follows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FocusStatus {
    pub on: AimedAt,
    /// m, from the lens to the point.
    pub distance: f64,
    /// What dial or stick add, in the axis's own unit.
    pub offset: f64,
    /// How far the axis is off where it should be, in its own unit.
    pub off: f64,
    pub state: FocusState,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FocusState {
    Follows,
    /// The distance changes faster than the limits of the axis allow.
    Lags,
    /// It is asked to where the table of the lens, or the travel of the axis, does not go: it stands at the end of that.
    Beyond,
    /// Something else has brought it to rest: it follows when it is asked to again.
    Waits,
    /// The same, since where the lens or the point is was not known any more.
    Lost,
}

impl FocusState {
    pub fn word(self) -> &'static str {
        match self {
            FocusState::Follows => "follows",
            FocusState::Lags => "lags",
            FocusState::Beyond => "beyond",
            FocusState::Waits => "waits",
            FocusState::Lost => "lost",
        }
    }
}

#[derive(Clone, Copy, Debug)]
pub struct Following {
    pub on: AimedAt,
    distance: f64,
    offset: f64,
    /// Where its dial was heard first, and the offset then.
    dial: Option<(f64, f64)>,
    off: f64,
    state: FocusState,
}

impl Following {
    fn new(on: AimedAt) -> Following {
        Following { on, distance: 0.0, offset: 0.0, dial: None, off: 0.0, state: FocusState::Follows }
    }

    fn is_paused(&self) -> bool {
        match self.state {
            FocusState::Waits | FocusState::Lost => true,
            FocusState::Follows | FocusState::Lags | FocusState::Beyond => false,
        }
    }

    /// Its dial is here, 0 to 1 of the travel: the first word of it changes nothing.
    fn turn(&mut self, value: f64, travel: Range) {
        let (from, offset) = *self.dial.get_or_insert((value, self.offset));
        self.offset = offset + (value - from) * (travel.high - travel.low);
    }
}

/// The lenses that follow. Takes memory only when it is made.
#[derive(Clone, Debug)]
pub struct Focuses {
    /// By `RigId`.
    of: Vec<Option<Following>>,
    stage: Stage,
    /// By `RigId`: the rig, after what it rides on.
    chains: Vec<Vec<RigId>>,
    pose: Vec<f64>,
    frames: Vec<Frame>,
}

impl Focuses {
    pub fn new(show: &Show) -> Focuses {
        let chain = |rig: RigId| {
            let mut chain: Vec<RigId> = show.carriers(rig).collect();
            chain.reverse();
            chain
        };
        Focuses {
            of: vec![None; show.rigs.len()],
            stage: Stage::new(show),
            chains: show.rig_ids().map(chain).collect(),
            pose: show.axes.iter().map(|axis| axis.start).collect(),
            frames: vec![Frame::WORLD; show.axes.len()],
        }
    }

    pub fn forget(&mut self, rig: RigId) {
        self.of[rig.index()] = None;
    }

    /// Every rig of which a pose decides how far the point is from the lens.
    fn bearing(&self, rig: RigId, on: AimedAt) -> impl Iterator<Item = RigId> + '_ {
        let other = match on {
            AimedAt::Point(_) => None,
            AimedAt::Body { rig, .. } => Some(rig),
        };
        let others = other.into_iter().flat_map(|other| self.chains[other.index()].iter());
        self.chains[rig.index()].iter().chain(others).copied()
    }

    /// m, as the pose has it.
    fn distance(&mut self, show: &Show, rig: RigId, on: AimedAt) -> Option<f64> {
        let Focuses { stage, chains, pose, frames, .. } = self;
        stage.frames_of(&chains[rig.index()], pose, frames);
        let last = show.rig(rig).axis_ids().last()?;
        let lens = frames[last.index()].carry(show.rig(rig).lens.as_ref()?.at);
        let point = match on {
            AimedAt::Point(point) => point,
            AimedAt::Body { rig, axis, point } => {
                stage.frames_of(&chains[rig.index()], pose, frames);
                axis.map_or_else(|| stage.base(rig, frames), |axis| frames[axis.index()]).carry(point)
            }
        };
        Some(lens.distance(point)).filter(|distance| distance.is_finite())
    }
}

impl Engine {
    /// Has the focus of a rig in hand follow a point, or nothing any more.
    pub(in crate::engine) fn follow_focus(
        &mut self,
        request: &Request,
        rig: RigId,
        on: Option<FocusOn>,
    ) -> Result<Accepted, Refusal> {
        let survey = self.driven_grip(request.client, rig)?.survey;
        let on = on.map(|on| self.aimed_at(on));
        if on.is_some() {
            let axis = self.focus_axis(rig).ok_or(Refusal::one(Reason::NoFocus { rig }))?;
            if survey {
                return Err(Refusal::one(Reason::InSurvey { rig }));
            }
            if !self.show.axis(axis).surveyed {
                return Err(Refusal::one(Reason::Unsurveyed { axis }));
            }
        }
        if let Some(AimedAt::Body { rig: other, .. }) = on
            && self.show.carriers(other).any(|carrier| carrier == rig)
        {
            return Err(Refusal::one(Reason::FocusOnItself { rig, other }));
        }
        let focus = &mut self.in_hand.focuses.of[rig.index()];
        let told = focus.map(|focus| focus.on) != on;
        *focus = on.map(Following::new);
        if told {
            self.outbox.event(EventKind::Hand(HandEvent::Focus { rig, on }));
        }
        Ok(Accepted::Done)
    }

    fn aimed_at(&self, on: FocusOn) -> AimedAt {
        match on {
            FocusOn::Point(point) => AimedAt::Point(point),
            FocusOn::Rig { rig, axis, point } => {
                let carries = |axis: &AxisId| !self.show.axis(*axis).bodies.is_empty();
                let axis = axis.or_else(|| self.show.rig(rig).axis_ids().filter(carries).last());
                let bodies = axis.map_or(&self.show.rig(rig).bodies, |axis| &self.show.axis(axis).bodies);
                AimedAt::Body { rig, axis, point: point.unwrap_or_else(|| middle_of(bodies)) }
            }
        }
    }

    /// The axis that the table of a rig's lens is of.
    fn focus_axis(&self, rig: RigId) -> Option<AxisId> {
        self.show.rig(rig).lens.as_ref()?.focus.as_ref().map(|ring| ring.axis)
    }

    /// What the dial of an axis says, if its focus follows: then it is an offset.
    pub(super) fn offsets_focus(&mut self, axis: AxisId, value: f64, travel: Range) -> bool {
        let rig = self.show.axis(axis).rig;
        let of_focus = self.focus_axis(rig) == Some(axis);
        let following = self.in_hand.focuses.of[rig.index()].as_mut().filter(|_| of_focus);
        following.map(|following| following.turn(value, travel)).is_some()
    }

    /// Something else than its own doing has a rig's focus come to rest.
    pub(super) fn pause_focus(&mut self, rig: RigId) {
        if let Some(following) = &mut self.in_hand.focuses.of[rig.index()]
            && !following.is_paused()
        {
            following.state = FocusState::Waits;
        }
    }

    pub(super) fn pause_all_focuses(&mut self) {
        self.show.rig_ids().for_each(|rig| self.pause_focus(rig));
    }

    /// Finds where the focus of a rig in hand has to be now, for its lever.
    pub(super) fn keep_focus(&mut self, rig: RigId) {
        let Some(axis) = self.focus_axis(rig) else { return };
        let found = self.followed(rig, axis);
        self.in_hand.levers[axis.index()].followed = found;
    }

    fn followed(&mut self, rig: RigId, axis: AxisId) -> Option<f64> {
        let on = self.in_hand.focuses.of[rig.index()].filter(|following| !following.is_paused())?.on;
        let known = self.take_in_poses(rig, on);
        let show = self.show.clone();
        let ring = show.rig(rig).lens.as_ref()?.focus.as_ref()?;
        let (position, travel) = (self.setpoints[axis.index()].position, self.travel(axis));
        let (pushed, tolerance) = (self.in_hand.levers[axis.index()].is_pushed(), self.show.axis(axis).tolerance);
        let InHand { focuses, .. } = &mut self.in_hand;
        let distance = if known { focuses.distance(&show, rig, on) } else { None };
        let following = focuses.of[rig.index()].as_mut()?;
        let Some(distance) = distance else {
            following.state = FocusState::Lost;
            self.outbox.event(EventKind::Hand(HandEvent::FocusLost { rig }));
            return None;
        };
        let place = ring.table.position(distance);
        if pushed {
            (following.offset, following.dial) = (position - place, None);
        }
        let asked = place + following.offset;
        let target = asked.clamp(travel.low, travel.high);
        let [nearest, farthest] = ring.table.values();
        (following.distance, following.off) = (distance, position - target);
        let lags = following.off.abs() > tolerance && !pushed;
        // What a table was measured at is in it.
        let within = (nearest * (1.0 - 1e-9)..=farthest * (1.0 + 1e-9)).contains(&distance);
        following.state = match (within && target == asked, lags) {
            (false, _) => FocusState::Beyond,
            (true, true) => FocusState::Lags,
            (true, false) => FocusState::Follows,
        };
        Some(target)
    }

    /// Where everything stands that the distance depends on: as it is told to be, unless it is measured farther off than it may lag. False where
    /// that is not known.
    fn take_in_poses(&mut self, rig: RigId, on: AimedAt) -> bool {
        let (show, world, setpoints) = (&self.show, &self.world, &self.setpoints);
        let focuses = &mut self.in_hand.focuses;
        let mut pose = core::mem::take(&mut focuses.pose);
        let mut known = true;
        for axis in focuses.bearing(rig, on).flat_map(|rig| show.rig(rig).axis_ids()) {
            if show.axis(axis).joint.is_none() {
                continue;
            }
            let (setpoint, lag_limit) = (setpoints[axis.index()].position, show.axis(axis).lag_limit);
            let measured = world.position(axis);
            known &= measured.is_some();
            let elsewhere = measured.filter(|measured| (measured - setpoint).abs() > lag_limit);
            pose[axis.index()] = elsewhere.unwrap_or(setpoint);
        }
        self.in_hand.focuses.pose = pose;
        known
    }

    pub(super) fn focus_status(&self, rig: RigId) -> Option<FocusStatus> {
        let Following { on, distance, offset, off, state, .. } = self.in_hand.focuses.of[rig.index()]?;
        Some(FocusStatus { on, distance, offset, off, state })
    }
}
