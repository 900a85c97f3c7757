//! Slips of the unit, above all millimetres taken for metres: the show still reads well, and nothing fits the room.

use super::Resolver;
use crate::show::finding::{Code, Finding};
use crate::show::model::Axis;
use crate::show::units::Unit;
use crate::show::written;

/// m; no slide goes farther from its zero.
const SLIDE_MAX: f64 = 200.0;
/// mm; a rig that slides no farther is written in metres.
const SLIDE_MIN: f64 = 20.0;
/// s; an axis that needs longer for its travel is in the wrong unit. A slide has no endless turns to make.
const TURNS_TIME_MAX: f64 = 86_400.0;
const SLIDE_TIME_MAX: f64 = 3_600.0;
/// s; an axis that needs less for its travel at full speed is in the wrong unit: the fastest lenses take 0.4 s.
const TRAVEL_TIME_MIN: f64 = 0.1;

impl Resolver<'_> {
    /// Tells the first sign that an axis is written in another unit than it says. What could not be read is NaN and
    /// gives none.
    pub fn refuse_slipped_unit(&mut self, name: &str, written: &written::Axis, axis: &Axis) {
        if let Some(finding) =
            reach(written, axis).or_else(|| too_short(written, axis)).or_else(|| too_fast(name, written, axis))
        {
            self.found.push(finding.axis(name));
        } else {
            self.refuse_slow_limits(name, written, axis);
        }
    }

    /// A limit so low that the axis would need the night for its travel.
    fn refuse_slow_limits(&mut self, name: &str, written: &written::Axis, axis: &Axis) {
        let way = axis.travel[1] - axis.travel[0];
        let (most, so_long) =
            if slides(axis.unit) { (SLIDE_TIME_MAX, "an hour") } else { (TURNS_TIME_MAX, "a day") };
        // Each is the least time that the limit alone would ask for from rest to rest.
        let paces = [
            ("speed", written.speed.place, way / axis.run.speed),
            ("acceleration", written.acceleration.place, 2.0 * (way / axis.run.acceleration).sqrt()),
            ("jerk", written.jerk.place, (32.0 * way / axis.run.jerk).cbrt()),
        ];
        for (limit, place, time) in paces {
            if time > most {
                let message = format!(
                    "`{limit}`: expected {name} to go through its travel within {so_long}, found {time:.0} s"
                );
                let finding = Finding::new(Code::BadValue, message).at(place).against(time, most);
                self.found.push(finding.axis(name).fix("see whether travel and limits are in the axis's unit"));
            }
        }
    }
}

fn slides(unit: Unit) -> bool {
    match unit {
        Unit::Metre | Unit::Millimetre => true,
        Unit::Degree | Unit::Turn | Unit::Percent => false,
    }
}

/// A slide that would leave any house.
fn reach(written: &written::Axis, axis: &Axis) -> Option<Finding> {
    let most = match axis.unit {
        Unit::Metre => SLIDE_MAX,
        Unit::Millimetre => SLIDE_MAX * 1000.0,
        Unit::Degree | Unit::Turn | Unit::Percent => return None,
    };
    let [low, high] = axis.travel;
    let farthest = if -low > high { low } else { high };
    let sign = axis.unit.sign();
    (farthest.abs() > most).then(|| {
        let message = format!("`travel`: expected ends within {most}{sign} of zero, found {farthest}{sign}");
        let fix = match axis.unit {
            Unit::Metre => {
                let [low, high] = axis.travel.map(|end| end / 1000.0);
                format!("if it is in millimetres write [{low:?}, {high:?}], and the limits in metres too")
            }
            Unit::Millimetre | Unit::Degree | Unit::Turn | Unit::Percent => "survey the axis again".into(),
        };
        Finding::new(Code::BadValue, message).at(written.travel.place).fix(fix).against(farthest, most)
    })
}

/// Metres taken for millimetres. Without a joint it may be a lens.
fn too_short(written: &written::Axis, axis: &Axis) -> Option<Finding> {
    let way = axis.travel[1] - axis.travel[0];
    (axis.unit == Unit::Millimetre && axis.joint.is_some() && way < SLIDE_MIN).then(|| {
        let message = format!("`unit`: expected a travel of at least {SLIDE_MIN} mm, found {way} mm");
        let fix = "if it is in metres write unit = \"m\"; a slide as short as this is written in metres too";
        Finding::new(Code::BadValue, message).at(written.unit.place).fix(fix).against(way, SLIDE_MIN)
    })
}

/// A speed that no machine has.
fn too_fast(name: &str, written: &written::Axis, axis: &Axis) -> Option<Finding> {
    let way = axis.travel[1] - axis.travel[0];
    let time = way / axis.rated_speed;
    (time < TRAVEL_TIME_MIN).then(|| {
        let (speed, sign) = (axis.rated_speed, axis.unit.sign());
        let message = format!(
            "`speed`: expected {name} to need at least {TRAVEL_TIME_MIN} s for its travel, found {time:.4} s at \
             {speed}{sign}/s"
        );
        let fix = match axis.unit {
            Unit::Metre => {
                format!("if it is in millimetres write {:?}, and the other limits in metres too", speed / 1e3)
            }
            Unit::Millimetre | Unit::Degree | Unit::Turn | Unit::Percent => {
                "see whether travel and limits are in the axis's unit".into()
            }
        };
        Finding::new(Code::BadValue, message).at(written.speed.place).fix(fix).against(time, TRAVEL_TIME_MIN)
    })
}
