//! Axes: limits that fit each other, defaults, joints.

use super::Resolver;
use crate::show::decode::At;
use crate::show::finding::{Code, Finding};
use crate::show::id::RigId;
use crate::show::model::{Axis, Joint, JointKind, Limits};
use crate::show::units::Unit;
use crate::show::written::{self, Direction};

/// Times the running limit, where no stopping limit is written.
const STOP_ACCELERATION: f64 = 1.5;
const STOP_JERK: f64 = 4.0;

impl Resolver<'_> {
    pub fn axis(&mut self, rig: RigId, rig_name: &str, written: &At<written::Axis>) -> Axis {
        let axis = &written.value;
        let unit = axis.unit.value;
        let [low, high] = axis.travel.value.map(|end| end.0);
        if low >= high {
            let message = format!("`travel`: expected low below high, found {low} and {high}");
            let finding = Finding::new(Code::BadValue, message).at(axis.travel.place);
            self.found.push(finding.fix("write the lower end first"));
        }
        // Ends the wrong way round are no travel that anything could be outside of.
        let travel = if low < high { [low, high] } else { [f64::NAN; 2] };
        let share = axis.share.map_or(1.0, |share| share.0);
        let [run, stop] = limits_of(axis);
        let stopping =
            [("acceleration", &axis.stop_acceleration, run.acceleration), ("jerk", &axis.stop_jerk, run.jerk)];
        for (name, written, least) in stopping {
            self.require_stop_limit(name, written.as_ref(), least);
        }
        let resolved = Axis {
            name: axis.name.value.0.clone(),
            rig,
            unit,
            travel,
            surveyed: axis.surveyed.unwrap_or(true),
            winding: self.winding(axis),
            start: axis.start.value.0,
            run,
            stop,
            rated_speed: axis.speed.value.0,
            share,
            glide: axis.glide.map_or(0.0, |glide| glide.0),
            tolerance: axis.tolerance.map_or(default_tolerance(unit), |tolerance| tolerance.0),
            lag_limit: axis.lag_limit.map_or(default_lag_limit(unit, axis.speed.value.0), |limit| limit.0),
            gravity: axis.gravity.unwrap_or(false),
            joint: axis.joint.as_ref().and_then(|joint| self.joint(joint, &axis.unit)),
            bodies: self.shapes(&axis.bodies),
            place: written.place,
        };
        let start = &axis.start;
        self.require_in_travel("`start`", start.value.0, start.place, &resolved, None);
        self.require_start_in_winding(&format!("{rig_name}.{}", resolved.name), axis, &resolved);
        self.refuse_slipped_unit(&format!("{rig_name}.{}", resolved.name), axis, &resolved);
        resolved
    }

    fn require_stop_limit(&mut self, name: &str, written: Option<&At<written::Limit>>, least: f64) {
        if let Some(written) = written
            && written.value.0 < least
        {
            let found = written.value.0;
            let message = format!("`stop_{name}`: expected at least the running {name} {least}, found {found}");
            let finding = Finding::new(Code::BadValue, message).at(written.place).against(found, least);
            self.found.push(finding.fix("a stop must be able to begin in any phase of a move: raise it"));
        }
    }

    fn joint(&mut self, written: &At<written::Joint>, unit: &At<Unit>) -> Option<Joint> {
        let (kind, direction) = match &written.value {
            written::Joint::Turn(joint) => (JointKind::Turn, &joint.turn),
            written::Joint::Slide(joint) => (JointKind::Slide, &joint.slide),
            written::Joint::Unread => return None,
        };
        let fits = match (kind, unit.value) {
            (JointKind::Turn, Unit::Degree | Unit::Turn) | (JointKind::Slide, Unit::Metre | Unit::Millimetre) => {
                true
            }
            (JointKind::Turn, Unit::Metre | Unit::Millimetre | Unit::Percent)
            | (JointKind::Slide, Unit::Degree | Unit::Turn | Unit::Percent) => false,
        };
        if !fits && !self.found.spoilt(unit.place) {
            let expected = match kind {
                JointKind::Turn => "deg or turn for a joint that turns",
                JointKind::Slide => "m or mm for a joint that slides",
            };
            let message = format!("`joint`: expected the unit {expected}, found {}", unit.value.word());
            let finding =
                Finding::new(Code::BadValue, message).at(written.place).also(unit.place, "the unit is here");
            self.found.push(finding.fix("change the joint or the unit; an axis in percent has no joint"));
        }
        self.require_length(direction);
        written.value.resolved()
    }

    pub fn require_length(&mut self, written: &At<Direction>) {
        let numbers = match &written.value {
            Direction::Along(_) => true,
            Direction::Vector(vector) => vector.iter().all(|component| !component.0.is_nan()),
        };
        if numbers && written.value.unit_vector().is_none() {
            let message = "a direction: expected a vector longer than zero, found [0, 0, 0]";
            let finding = Finding::new(Code::BadValue, message).at(written.place);
            self.found.push(finding.fix("write x, y, z or the direction as [x, y, z]"));
        }
    }
}

/// Running, then stopping.
pub fn limits_of(axis: &written::Axis) -> [Limits; 2] {
    let run = Limits {
        speed: axis.speed.value.0 * axis.share.map_or(1.0, |share| share.0),
        acceleration: axis.acceleration.value.0,
        jerk: axis.jerk.value.0,
    };
    let written = |limit: &Option<At<written::Limit>>| limit.as_ref().map(|limit| limit.value.0);
    let stop = Limits {
        speed: run.speed,
        acceleration: written(&axis.stop_acceleration).unwrap_or(run.acceleration * STOP_ACCELERATION),
        jerk: written(&axis.stop_jerk).unwrap_or(run.jerk * STOP_JERK),
    };
    [run, stop]
}

/// In the axis's unit: a centimetre, half a degree, a hundredth of the lens's way.
fn default_tolerance(unit: Unit) -> f64 {
    match unit {
        Unit::Metre => 0.01,
        Unit::Millimetre => 10.0,
        Unit::Degree => 0.5,
        Unit::Turn => 0.002,
        Unit::Percent => 1.0,
    }
}

/// A healthy drive follows within a tenth of a second; near standstill noise and backlash set the least.
fn default_lag_limit(unit: Unit, speed: f64) -> f64 {
    let least: f64 = match unit {
        Unit::Metre => 0.02,
        Unit::Millimetre => 20.0,
        Unit::Degree => 1.0,
        Unit::Turn => 0.005,
        Unit::Percent => 2.0,
    };
    least.max(0.1 * speed)
}
