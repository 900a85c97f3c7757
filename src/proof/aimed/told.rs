//! What is told of a move that cannot be aimed as it is written.

use super::remedy::Remedies;
use super::track::Lost;
use super::{Aimed, Bound, Wrong};
use crate::proof::shown;
use crate::show::{AimedAt, AxisId, Code, Finding};
use crate::stage::Astray;

/// Degrees from its pole within which a head turns so much faster than what it looks at that this is the cause.
const NEAR_POLE: f64 = 20.0;

/// For one move.
pub struct Told<'a> {
    pub aimed: Aimed<'a>,
}

impl Told<'_> {
    /// Of a move that begins `delay` s into its cue.
    pub fn wrong(&self, wrong: &Wrong, delay: f64) -> Finding {
        match *wrong {
            Wrong::Axes => self
                .finding(Code::BadValue, "expected a lens that two axes aim, found none")
                .fix("aim a rig that has pan and tilt"),
            Wrong::Lost(Lost::Astray { why, time }) => self.astray(why, delay + time),
            Wrong::Lost(Lost::OutOfFocus { distance, time }) => self.out_of_focus(distance, delay + time),
            Wrong::Travel { axis, time, position } => self.travel(axis, delay + time, position),
            Wrong::Limit { axis, bound, time, found, limit, from_pole } => {
                self.limit((axis, bound), delay + time, [found, limit], from_pole)
            }
            Wrong::Later { axis } => {
                let name = self.name(axis);
                let says = format!(
                    "expected all that moves it to be written before it, found {name}, which is aimed after it"
                );
                let fix = "write that move before this one, or aim at what is aimed by nobody";
                self.finding(Code::BadValue, &says).axis(name).fix(fix)
            }
            Wrong::Unverified { axis } => {
                let name = self.name(axis);
                // Never seen; a plan that does not pass is not used without a word.
                self.finding(Code::Jerk, &format!("the way of {name} could not be verified")).axis(name)
            }
        }
    }

    fn finding(&self, code: Code, says: &str) -> Finding {
        let Aimed { show, id, written, aim, .. } = self.aimed;
        let (number, rig) = (&show.cue(id).number, &show.rig(written.rig).name);
        Finding::new(code, format!("cue {number}: aiming {rig} at {}, {says}", self.target()))
            .at(aim.place)
            .cue(number)
            .rig(rig)
    }

    /// "the point"; "skiff".
    fn target(&self) -> String {
        match self.aimed.aim.at {
            AimedAt::Point(_) => "its point".into(),
            AimedAt::Body { rig, .. } => self.aimed.show.rig(rig).name.clone(),
        }
    }

    fn name(&self, axis: AxisId) -> String {
        self.aimed.show.axis_name(axis)
    }

    fn astray(&self, why: Astray, when: f64) -> Finding {
        let pan = self.name(self.aimed.aim.axes[0]);
        let (says, fix) = match why {
            Astray::AtLens => (
                format!("expected it away from the lens, found it where the lens is, {when:.1} s into the cue"),
                "aim at another point, or take the rig another way".to_owned(),
            ),
            Astray::Pole => (
                format!(
                    "expected it beside the line that {pan} turns about, found it on that line {when:.1} s into the cue, where \
                     {pan} would have to turn at once"
                ),
                "take the rig past it to one side, or aim at a point that stays to one side".to_owned(),
            ),
            Astray::Blind => (
                format!(
                    "expected {pan} and the axis after it to reach it, found no way to, {when:.1} s into the cue"
                ),
                "see whether `forward` of [lens] and the joints are as on the machine".to_owned(),
            ),
        };
        self.finding(Code::Travel, &says).axis(pan).time(when).fix(fix)
    }

    fn out_of_focus(&self, distance: f64, when: f64) -> Finding {
        let Aimed { show, written, .. } = self.aimed;
        let ring = show.rig(written.rig).lens.as_ref().and_then(|lens| lens.focus.as_ref());
        let [nearest, farthest] = ring.map_or([0.0; 2], |ring| ring.table.values());
        let limit = if distance < nearest { nearest } else { farthest };
        let says = format!(
            "expected it {:.2} to {:.2} m away, as far as the table of focus goes, found {:.2} m {when:.1} s into the cue",
            nearest, farthest, distance
        );
        let finding = self.finding(Code::Travel, &says).time(when).against(distance, limit);
        let finding = ring.iter().fold(finding, |finding, ring| finding.axis(self.name(ring.axis)));
        finding.fix("measure the lens that far and add the row, or leave `focus` out of `aim`")
    }

    fn travel(&self, axis: AxisId, when: f64, position: f64) -> Finding {
        let (of, name) = (self.aimed.show.axis(axis), self.name(axis));
        let ([low, high], sign) = (of.reach(), of.unit.sign());
        let limit = if position < low { low } else { high };
        let code = if of.reach() == of.travel { Code::Travel } else { Code::Winding };
        let says = format!(
            "{name} leaves its travel: expected {}{sign} to {}{sign}, found {}{sign} {when:.1} s into the cue",
            shown(low),
            shown(high),
            shown(position)
        );
        let fix = match of.unit.whole_turn() {
            Some(whole) if high - low > whole => {
                "begin nearer to where it looks, so that it turns the other way round, or take the rig another way"
            }
            Some(_) | None => "take the rig another way, or survey the axis again",
        };
        self.finding(code, &says).axis(name).time(when).against(position, limit).fix(fix)
    }

    fn limit(
        &self,
        (axis, bound): (AxisId, Bound),
        when: f64,
        [found, limit]: [f64; 2],
        from_pole: f64,
    ) -> Finding {
        let (name, sign) = (self.name(axis), self.aimed.show.axis(axis).unit.sign());
        let (code, word, per) = match bound {
            Bound::Speed => (Code::Speed, "speed", "s"),
            Bound::Acceleration => (Code::Acceleration, "acceleration", "s²"),
            Bound::Jerk => (Code::Jerk, "jerk", "s³"),
        };
        let near = match from_pole < NEAR_POLE {
            true => format!(", where it looks {from_pole:.1}° from the line that the head turns about"),
            false => String::new(),
        };
        let says = format!(
            "{name} needs more than its {word}: expected {}{sign}/{per} at most, found {}{sign}/{per} {when:.1} s into the \
             cue{near}",
            shown(limit),
            shown(found)
        );
        self.finding(code, &says).axis(name).time(when).against(found, limit)
    }
}

/// What to write.
pub fn remedies(found: &Remedies, from_pole: f64) -> String {
    let Remedies { ease, time, time_without_ease } = *found;
    let mut ways = Vec::new();
    ways.extend(ease.map(|ease| format!("write ease = {ease:?} in `aim`, to come to the point more slowly")));
    ways.extend(time.map(|time| format!("write time = {time:?} or more")));
    ways.extend(time_without_ease.map(|time| format!("leave `ease` out, and write time = {time:?} or more")));
    if from_pole < NEAR_POLE {
        ways.push("let it pass the point farther to one side".into());
    }
    if ways.is_empty() {
        ways.push("no time is long enough: take the rig another way, or aim at another point".into());
    }
    ways.join("; or ")
}
