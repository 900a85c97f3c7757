//! A rig in hand for a survey: everything goes slowly, and it may be tried while a button is held.
//!
//! Only so does an axis move whose travel is provisional. Its setpoints stay within that travel all the same: whoever wants
//! an end further out writes a wider provisional travel into the rig's file, and accepts that edit, at rest, first.

use super::HandEvent;
use super::trial::{Course, Do, Trial, TrialStatus};
use crate::engine::event::EventKind;
use crate::engine::reason::Reason;
use crate::engine::refusal::Refusal;
use crate::engine::request::{Accepted, Request};
use crate::engine::tick::Engine;
use crate::show::{AxisId, CueId, RigId};

/// Of its full speed, that of an axis in a survey.
pub(super) const JOG: f64 = 0.1;
/// An axis that rests so near to its station, as a part of its travel, is there.
const THERE: f64 = 1e-6;

impl Engine {
    /// The part of its speed that an axis in hand may use.
    pub(super) fn pace(&self, axis: AxisId) -> f64 {
        let slow = self.is_surveyed_in_hand(self.show.axis(axis).rig) || self.in_hand.levers[axis.index()].outward;
        if slow { JOG } else { 1.0 }
    }

    fn is_surveyed_in_hand(&self, rig: RigId) -> bool {
        self.grip(rig).is_some_and(|grip| grip.survey)
    }

    /// Whether what a hand says may move an axis.
    pub(super) fn may_be_driven(&self, axis: AxisId) -> bool {
        let of = self.show.axis(axis);
        of.surveyed || self.is_surveyed_in_hand(of.rig)
    }

    /// Axes of a cue that nothing moves but a jog.
    pub(in crate::engine) fn survey_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        for axis in self.axes_of(cue).filter(|&axis| !self.show.axis(axis).surveyed) {
            refusal.push(Reason::Unsurveyed { axis });
        }
    }

    /// Takes a trial on; its button moves it.
    pub(in crate::engine) fn take_trial(&mut self, request: &Request, axis: AxisId, trial: Trial) -> Outcome {
        let rig = self.show.axis(axis).rig;
        self.own_grip(request.client, rig)?;
        let mut refusal = Refusal::default();
        if !self.is_surveyed_in_hand(rig) {
            refusal.push(Reason::NotSurveyed { rig });
        }
        if let Some(axis) = self.axes_in_hand_that_move().find(|&axis| self.show.axis(axis).rig == rig) {
            refusal.push(Reason::NotStandingStill { axis });
        }
        let of = self.show.axis(axis);
        let course = Course::new(axis, of, trial, self.setpoints[axis.index()].position);
        let [low, high] = of.reach();
        let room = course.at - course.way >= low && course.at + course.way <= high;
        if matches!(trial, Trial::Repeat { .. }) && !room {
            refusal.push(Reason::NoRunUp { axis, at: course.at, needs: course.way });
        }
        if !refusal.is_empty() {
            return Err(refusal);
        }
        self.in_hand.levers[axis.index()].let_go();
        self.in_hand.trials[rig.index()] = Some(course);
        Ok(Accepted::Done)
    }

    /// Has the axis that is tried go to its station as long as its button is held, and measures it there.
    pub(super) fn go_on_trying(&mut self, rig: RigId) {
        for axis in self.show.rig(rig).axis_ids() {
            self.in_hand.levers[axis.index()].goal = None;
        }
        let period = self.period.seconds();
        let Some(course) = &mut self.in_hand.trials[rig.index()] else { return };
        let axis = course.axis;
        if course.is_over() {
            return;
        }
        let lever = &mut self.in_hand.levers[axis.index()];
        lever.miss(self.tick);
        if !lever.runs() || !self.world.axes[axis.index()].known {
            course.interrupt();
            return;
        }
        let (place, _) = course.station();
        let (setpoint, [low, high]) = (self.setpoints[axis.index()], self.show.axis(axis).reach());
        let rests = setpoint.speed == 0.0 && setpoint.acceleration == 0.0;
        let arrived = rests && (setpoint.position - place).abs() <= THERE * (high - low);
        lever.goal = Some(place);
        let gauges = &mut self.in_hand.gauges[rig.index()];
        match course.turn(arrived, period) {
            Do::Nothing => {}
            Do::Measure { first } => {
                let measured = self.world.axes.iter().map(|sense| sense.position);
                gauges.read(first, measured, &self.setpoints);
            }
            Do::Weigh => {
                gauges.close();
                course.weigh(&self.show.axes, gauges);
                course.leave();
            }
        }
        if course.is_over() {
            lever.goal = None;
            if let Some(found) = course.found {
                self.outbox.event(EventKind::Hand(HandEvent::Tried { axis, found }));
            }
        }
    }

    pub(super) fn trial_status(&self, rig: RigId) -> Option<TrialStatus> {
        let course = self.in_hand.trials[rig.index()].as_ref()?;
        let Course { axis, trial, done, found, .. } = *course;
        let runs = !course.is_over() && self.in_hand.levers[axis.index()].runs();
        Some(TrialStatus { axis, trial, done, of: course.stations(), runs, found })
    }
}

type Outcome = Result<Accepted, Refusal>;
