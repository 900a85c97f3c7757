//! What a move could do without: the least time that its limits allow, and what a tenth more of each of them would save.

use super::aimed::Untimed;
use super::plan::CuePlan;
use super::timeline::plan_cue_untimed;
use crate::show::{AxisId, CueId, Limits, Show};

/// So much more of a limit is tried.
const MORE: f64 = 1.1;
/// s; a saving below this is none: it is told in hundredths, and a least time that is searched is found to a millisecond.
const NOTHING: f64 = 5e-3;

/// Stretch of a take that no limits allow, so that it is planned at its least.
const HURRIED: f64 = 0.1;

/// One of the running limits of an axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    Speed,
    Acceleration,
    Jerk,
}

impl Bound {
    pub const ALL: [Bound; 3] = [Bound::Speed, Bound::Acceleration, Bound::Jerk];

    pub fn word(self) -> &'static str {
        match self {
            Bound::Speed => "speed",
            Bound::Acceleration => "acceleration",
            Bound::Jerk => "jerk",
        }
    }

    /// Of an axis, in its unit per s, s² or s³.
    pub fn of(self, limits: Limits) -> f64 {
        match self {
            Bound::Speed => limits.speed,
            Bound::Acceleration => limits.acceleration,
            Bound::Jerk => limits.jerk,
        }
    }

    fn raise(self, limits: &mut Limits) {
        match self {
            Bound::Speed => limits.speed *= MORE,
            Bound::Acceleration => limits.acceleration *= MORE,
            Bound::Jerk => limits.jerk *= MORE,
        }
    }
}

/// What the least time of a move would fall by, were one limit a tenth higher.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Saving {
    pub axis: AxisId,
    pub bound: Bound,
    /// s
    pub seconds: f64,
}

/// Of one move.
#[derive(Clone, Debug, PartialEq)]
pub struct Spare {
    /// s, the least in which it can be done at its shape.
    pub least: f64,
    /// The greatest first; of limits that would save nothing there is none.
    pub savings: Vec<Saving>,
}

/// Of every move of a cue, in the order of its plan.
pub fn spare(show: &Show, id: CueId, plans: &[CuePlan]) -> Vec<Spare> {
    let plan = &plans[id.index()];
    let mut hurried = show.clone();
    for step in &mut hurried.cues[id.index()].moves {
        step.time = None;
        if let Some(playing) = &mut step.playing {
            playing.stretch = HURRIED;
        }
    }
    let least = |show: &Show| -> Vec<f64> {
        let plan = plan_cue_untimed(show, id, &plan.start, (plans, Untimed::Exact), &mut Vec::new());
        plan.moves.iter().map(super::MovePlan::duration).collect()
    };
    let mut told = Vec::new();
    for (index, (step, least_now)) in plan.moves.iter().zip(least(&hurried)).enumerate() {
        let mut savings = Vec::new();
        for axis in step.axes.iter().filter(|path| path.moves()).map(|path| path.axis) {
            for bound in Bound::ALL {
                let limits = hurried.axes[axis.index()].run;
                bound.raise(&mut hurried.axes[axis.index()].run);
                let seconds = least_now - least(&hurried)[index];
                hurried.axes[axis.index()].run = limits;
                if seconds > NOTHING {
                    savings.push(Saving { axis, bound, seconds });
                }
            }
        }
        savings.sort_by(|a, b| b.seconds.total_cmp(&a.seconds));
        told.push(Spare { least: least_now, savings });
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::timelines;
    use crate::show::fixture::show_of;

    /// 2 m at 0.5, 0.5, 1 take 5.5 s, in the time of the double-S with a steady phase: D/v + v/a + a/j (Biagiotti and
    /// Melchiorri, 2008, section 3.4).
    #[test]
    fn a_tenth_more_of_a_limit_saves_what_the_double_s_says() {
        let head = "[show]\nname = \"Spare\"\nmargin = 0.1\nreact = 0.1\n";
        let axis = |name: &str, unit: &str| {
            format!(
                "[[axis]]\nname = \"{name}\"\nunit = \"{unit}\"\ntravel = [0.0, 3.0]\nstart = 0.5\nspeed = 0.5\n\
                     acceleration = 0.5\njerk = 1.0\n"
            )
        };
        let rig =
            "kind = \"slider\"\nat = [0.0, 0.0, 0.0]\n".to_owned() + &axis("travel", "m") + &axis("lift", "m");
        let to = "to = { travel = 2.5, lift = 0.6 }, time = 9.0";
        let cue = format!("[[cue]]\nnumber = \"1\"\nname = \"1\"\nmove = [{{ rig = \"slider\", {to} }}]\n");
        let show = show_of(&[("show.toml", head), ("rigs/slider.toml", &rig), ("cues/all.toml", &cue)]);
        let plans = timelines(&show);
        let [spare] = &spare(&show, CueId::new(0), &plans)[..] else { panic!() };
        assert!((spare.least - 5.5).abs() < 1e-9, "{spare:?}");
        // The other axis has a twentieth of the way, so that nothing of it holds the move up.
        let saved: Vec<_> = spare.savings.iter().map(|saving| (saving.axis.index(), saving.bound)).collect();
        assert_eq!(saved, [(0, Bound::Speed), (0, Bound::Jerk), (0, Bound::Acceleration)]);
        let time = |v: f64, a: f64, j: f64| 2.0 / v + v / a + a / j;
        let expected = [time(0.55, 0.5, 1.0), time(0.5, 0.5, 1.1), time(0.5, 0.55, 1.0)].map(|time| 5.5 - time);
        for (saving, expected) in spare.savings.iter().zip(expected) {
            assert!((saving.seconds - expected).abs() < 1e-9, "{saving:?}, expected {expected}");
        }
    }
}
