//! A move that plays a take: its path, and what stands against it.

use std::sync::Arc;

use super::ensemble::{company, parts, perform_with};
use super::pace::rounded_up;
use super::plan::{AxisPath, MovePlan, ROUNDING};
use super::shown;
use crate::motion::{
    Ceiling, Curve, Derivative, Part, Path, Performance, Phrase, Profile, Rough, Tightest, tightest, verify_curve,
};
use crate::show::{Axis, AxisId, Code, CueId, Finding, Move, Playing, RigId, Show, Surveyed, beyond_winding};

/// Parts of a take over which an error of its start fades, those that ask the least first.
const FADES: [f64; 5] = [1.0, 0.5, 0.25, 0.125, 0.0625];

/// Plans the move from where the list leaves the rig (by `AxisId`), and names the axis that asks for the most time.
pub fn plan_played(
    show: &Show,
    id: CueId,
    (written, playing): (&Move, &Playing),
    start: &[f64],
    findings: &mut Vec<Finding>,
) -> (MovePlan, Option<AxisId>) {
    let played = Played { show, cue: Some(id), rig: written.rig, delay: written.delay, playing };
    played.keep_survey(findings);
    let parts = parts(show, playing);
    let performance = match perform_with(show, playing, company(show, id, playing)) {
        Ok(performance) => performance,
        Err((index, rough)) => {
            findings.push(played.rough(index, rough));
            return (played.stand_in(written, start), None);
        }
    };
    let aside = played.aside(&performance, start, findings);
    let performance = played.begun(performance, &aside);
    let (plan, tightest) = played.at_its_pace(&performance, &parts, findings);
    (plan, tightest.map(|tightest| playing.columns[tightest.axis].0))
}

fn along(axis: AxisId, curve: Curve) -> AxisPath {
    let [from, to] = [0.0, curve.duration()].map(|time| curve.at(time).position);
    AxisPath { axis, from, to, curve: Some(Arc::new(curve)) }
}

/// A take on a rig, in a cue or by itself.
pub struct Played<'a> {
    pub show: &'a Show,
    pub cue: Option<CueId>,
    pub rig: RigId,
    /// s, from the start of the cue.
    pub delay: f64,
    pub playing: &'a Playing,
}

impl Played<'_> {
    fn finding(&self, code: Code, axis: AxisId, says: &str) -> Finding {
        let finding = Finding::new(code, format!("{}{says}", self.whose()));
        let finding = finding.rig(&self.show.rig(self.rig).name).axis(self.show.axis_name(axis));
        self.cue(finding).at(self.playing.place)
    }

    /// "cue 12: ", where a cue plays it.
    fn whose(&self) -> String {
        self.cue.map_or_else(String::new, |cue| format!("cue {}: ", self.show.cue(cue).number))
    }

    fn cue(&self, finding: Finding) -> Finding {
        self.cue.map(|cue| &self.show.cue(cue).number).into_iter().fold(finding, |finding, cue| finding.cue(cue))
    }

    /// What it was recorded under must be what is surveyed now: else its positions are other places.
    pub fn keep_survey(&self, findings: &mut Vec<Finding>) {
        for &(axis, column) in &self.playing.columns {
            let Some((was, place)) = &self.playing.take.columns[column].surveyed else { continue };
            let now = self.show.axis(axis);
            let differences = was.differences(&Surveyed::of(now));
            if differences.is_empty() {
                continue;
            }
            let (name, take) = (self.show.axis_name(axis), &self.playing.take.name);
            let says =
                format!("take `{take}` was recorded under another survey of {name}: {}", differences.join("; "));
            let fix = format!(
                "record it again; if its positions are the same places still, `bellwire take SHOW {take} --adopt` puts \
                 the survey of now into it"
            );
            findings
                .push(self.finding(Code::Take, axis, &says).at(*place).also(now.place, "the axis now").fix(fix));
        }
    }

    /// Its path at the stretch that is written; what is told to be too fast is planned as fast as it can be.
    pub fn at_its_pace(
        &self,
        performance: &Performance,
        parts: &[Part],
        findings: &mut Vec<Finding>,
    ) -> (MovePlan, Option<Tightest>) {
        let tightest = tightest(&performance.phrase, parts);
        let least = tightest.map_or(0.0, |tightest| tightest.stretch);
        if let Some(tightest) = tightest.filter(|_| self.playing.stretch < least * (1.0 - 1e-9)) {
            findings.push(self.too_tight(tightest, performance));
        }
        let stretch = self.playing.stretch.max(least);
        let curves = performance.phrase.curves().map(|curve| curve.stretched(stretch));
        let columns = self.playing.columns.iter();
        let axes: Vec<AxisPath> = columns.zip(curves).map(|(&(axis, _), curve)| along(axis, curve)).collect();
        for path in &axes {
            self.keep_travel(path, findings);
            self.verify(path, findings);
        }
        let profile = Profile::idle(performance.phrase.duration() * stretch);
        (MovePlan { rig: self.rig, delay: self.delay, profile, axes, passes: Vec::new() }, tightest)
    }

    /// Straight to where the take ends: the cues after it are planned from there.
    fn stand_in(&self, written: &Move, start: &[f64]) -> MovePlan {
        let straight = |&(axis, to): &(AxisId, f64)| AxisPath::straight(axis, start[axis.index()], to);
        let profile = Profile::idle(self.playing.take.length().max(1.0) * self.playing.stretch);
        let axes = written.to.iter().map(straight).collect();
        MovePlan { rig: self.rig, delay: self.delay, profile, axes, passes: Vec::new() }
    }

    pub fn rough(&self, index: usize, rough: Rough) -> Finding {
        let (axis, column) = self.playing.columns[index];
        let Axis { tolerance, unit, .. } = *self.show.axis(axis);
        let (name, take, sign) = (self.show.axis_name(axis), &self.playing.take.name, unit.sign());
        let (sample, says, fix, found, limit) = match rough {
            Rough::Glitch { sample, off } => (
                sample,
                format!(
                    "a sample of take `{take}` has {name} {}{sign} off where those beside it have it: expected \
                     {tolerance}{sign}, its tolerance, at most",
                    shown(off.abs())
                ),
                "remove the line: a sample may be dropped",
                off.abs(),
                tolerance,
            ),
            Rough::Noise { sample, deviation } => (
                sample,
                format!(
                    "the samples of {name} in take `{take}` scatter by {}{sign} (standard deviation): expected at most a \
                     third of its tolerance, {}{sign}",
                    shown(deviation),
                    shown(tolerance / 3.0)
                ),
                "record it again, or write a greater `tolerance` of the axis",
                deviation,
                tolerance / 3.0,
            ),
            Rough::Beyond { sample, off } => (
                sample,
                format!(
                    "no smooth path comes nearer than {}{sign} to this sample of {name} in take `{take}`: expected \
                     {tolerance}{sign}, its tolerance, at most",
                    shown(off)
                ),
                "remove the line if it is wrong, or write a greater `tolerance` of the axis",
                off,
                tolerance,
            ),
        };
        let place = self.playing.take.columns[column].places[sample];
        self.finding(Code::BadValue, axis, &says).at(place).fix(fix).against(found, limit)
    }

    /// How far aside of the first pose the list leaves each axis. Within tolerance the path begins there; else it is told,
    /// and what follows is looked at as if the list had it right.
    fn aside(&self, performance: &Performance, start: &[f64], findings: &mut Vec<Finding>) -> Vec<f64> {
        let mut aside = vec![0.0; self.playing.columns.len()];
        for (index, &(axis, _)) in self.playing.columns.iter().enumerate() {
            let (first, left) = (performance.phrase.at(index, 0.0).position, start[axis.index()]);
            let Axis { tolerance, unit, .. } = *self.show.axis(axis);
            if (left - first).abs() <= tolerance {
                aside[index] = left - first;
                continue;
            }
            let [low, high] = self.show.axis(axis).reach();
            if !(low..=high).contains(&left) {
                // The cue that takes it where it cannot be is told; that this one does not begin there follows.
                continue;
            }
            let (name, take, sign) = (self.show.axis_name(axis), &self.playing.take.name, unit.sign());
            let entered = if self.playing.enter > 0.0 { " where it is entered" } else { "" };
            let says = format!(
                "the list does not leave {name} where take `{take}` begins{entered}: expected {}{sign} within \
                 {tolerance}{sign}, found {}{sign}",
                shown(first),
                shown(left)
            );
            let fix = format!("let a cue before it end at {} = {}", self.show.axis(axis).name, shown(first));
            findings.push(self.finding(Code::StartPose, axis, &says).fix(fix).against(left - first, tolerance));
        }
        aside
    }

    /// How far aside of the first pose each axis stands, as far as that is within its tolerance.
    pub fn near(&self, performance: &Performance, stands: &[f64]) -> Vec<f64> {
        let off = |(index, &(axis, _)): (usize, &(AxisId, usize))| {
            let off = stands[axis.index()] - performance.phrase.at(index, 0.0).position;
            if off.abs() <= self.show.axis(axis).tolerance { off } else { 0.0 }
        };
        self.playing.columns.iter().enumerate().map(off).collect()
    }

    /// From so far aside of its first pose. It fades over all of the take; where that would leave the travel, which a take from its
    /// end may keep to closely, sooner.
    pub fn begun(&self, performance: Performance, aside: &[f64]) -> Performance {
        let whole = performance.phrase.duration();
        let fades = FADES.map(|part| performance.phrase.beginning_off(aside, part * whole));
        let inside = |phrase: &&Phrase| {
            self.playing.columns.iter().zip(phrase.curves()).all(|(&(axis, _), curve)| {
                let ([low, high], way) = (self.show.axis(axis).travel, curve.positions(0.0, whole));
                way.low >= low - ROUNDING && way.high <= high + ROUNDING
            })
        };
        let phrase = fades.iter().find(inside).unwrap_or(&fades[0]).clone();
        Performance { phrase, ..performance }
    }

    /// A limit that the take breaks as it is written.
    fn too_tight(&self, tightest: Tightest, performance: &Performance) -> Finding {
        let Tightest { axis: index, limit, peak, stretch: least } = tightest;
        let axis = self.playing.columns[index].0;
        let (run, sign, stretch) =
            (self.show.axis(axis).run, self.show.axis(axis).unit.sign(), self.playing.stretch);
        let (word, most, found, per) = match limit {
            Derivative::Speed => ("speed", run.speed, peak.value / stretch, "s"),
            Derivative::Acceleration => ("acceleration", run.acceleration, peak.value / stretch.powi(2), "s²"),
            Derivative::Jerk => ("jerk", run.jerk, peak.value / stretch.powi(3), "s³"),
        };
        let says = format!(
            "take `{}` asks too much of {}: expected a {word} of {most}{sign}/{per} at most, found {}{sign}/{per}, {:.1} s \
             into the take; the least stretch is {least:.4}",
            self.playing.take.name,
            self.show.axis_name(axis),
            shown(found),
            performance.recorded(peak.time)
        );
        let told = rounded_up(least);
        let fix = format!(
            "write stretch = {told} or more; at that it lasts {} s",
            shown(performance.phrase.duration() * told)
        );
        let time = self.delay + peak.time * stretch;
        self.finding(Code::Take, axis, &says).fix(fix).time(time).against(least, stretch)
    }

    fn keep_travel(&self, path: &AxisPath, findings: &mut Vec<Finding>) {
        let (Some(curve), axis) = (&path.curve, self.show.axis(path.axis)) else { return };
        let (name, take) = (self.show.axis_name(path.axis), &self.playing.take.name);
        let range = curve.positions(0.0, curve.duration());
        let what = format!("{}in take `{take}`", self.whose());
        if let Some(wound) = [range.low, range.high].iter().find_map(|&end| beyond_winding(&name, &what, axis, end))
        {
            let fix = "unwind in a cue before it and record it from there, or survey what the cable allows";
            findings.push(self.cue(wound.at(self.playing.place)).fix(fix));
            return;
        }
        let [low, high] = axis.travel;
        let (farthest, limit) = if range.low < low { (range.low, low) } else { (range.high, high) };
        if (low - ROUNDING..=high + ROUNDING).contains(&farthest) {
            return;
        }
        let there = curve.turns().iter().find(|turn| turn.position == farthest).map(|turn| turn.time);
        let time = there.unwrap_or(if path.from == farthest { 0.0 } else { curve.duration() });
        let sign = axis.unit.sign();
        let says = format!(
            "take `{take}` takes {name} outside its travel: expected {low}{sign} to {high}{sign}, found {}{sign}",
            shown(farthest)
        );
        let finding = self.finding(Code::Travel, path.axis, &says).time(self.delay + time);
        findings
            .push(finding.against(farthest, limit).fix("record it inside the travel, or survey the axis again"));
    }

    /// Never seen to fail; a plan that does not pass is not used without a word.
    fn verify(&self, path: &AxisPath, findings: &mut Vec<Finding>) {
        let Some(curve) = &path.curve else { return };
        if let Err(violation) = verify_curve(curve, Ceiling::of(self.show.axis(path.axis).run)) {
            let says =
                format!("the path of take `{}` could not be verified: {violation:?}", self.playing.take.name);
            findings.push(self.finding(Code::Jerk, path.axis, &says));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::prove;
    use crate::show::{Source, Sources, read_files};

    const CART: &str = "kind = \"cart\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"m\"\n\
                        travel = [-2.0, 2.0]\nstart = 0.5\nspeed = 0.5\nacceleration = 0.5\njerk = 1.0\n\
                        joint = { slide = \"x\", at = [0.0, 0.0, 0.0] }\n";

    /// From 0.5 m on by `way` in 6 s and a second of rest at both ends, at 20 Hz.
    fn take(way: f64) -> String {
        let sample = |k: u32| {
            let (time, x) = (f64::from(k) * 0.05, ((f64::from(k) - 20.0) / 120.0).clamp(0.0, 1.0));
            format!("{time:.3},{:.5}\n", 0.5 + way * x * x * x * (10.0 - 15.0 * x + 6.0 * x * x))
        };
        (0..=160).map(sample).fold("time,travel\n".to_owned(), |text, line| text + &line)
    }

    /// What is told of a cue that plays it, and the files.
    fn told(take: &str, more: &str) -> (Vec<Finding>, Sources) {
        let cue = format!(
            "[[cue]]\nnumber = \"1\"\nname = \"1\"\nmove = [{{ rig = \"cart\", take = \"hand\"{more} }}]\n"
        );
        let head = "[show]\nname = \"Takes\"\nmargin = 0.1\nreact = 0.1\n";
        let files =
            [("cues/all.toml", &*cue), ("rigs/cart.toml", CART), ("show.toml", head), ("takes/hand.csv", take)];
        let reading =
            read_files(&files.map(|(path, text)| Source { path: path.to_owned(), text: text.to_owned() }));
        let show = reading.show.unwrap_or_else(|| panic!("{:#?}", reading.findings));
        (prove(&show).findings, reading.sources)
    }

    fn only(take: &str, more: &str) -> (Finding, String, (u32, u32)) {
        let (findings, sources) = told(take, more);
        let [finding] = &findings[..] else { panic!("{findings:#?}") };
        let place = finding.place.unwrap();
        (finding.clone(), sources.path(place).to_owned(), sources.line_column(place))
    }

    #[test]
    fn a_take_that_fits_is_played_and_leaves_the_rig_where_it_ends() {
        assert_eq!(told(&take(1.0), "").0, []);
        assert_eq!(told(&take(1.0), ", stretch = 0.8, delay = 1.0").0, []);
    }

    #[test]
    fn a_take_that_is_too_fast_is_told_its_least_stretch() {
        // 1.4 m in 6 s with the least jerk: 1.875·D/T = 0.4375 m/s (Flash and Hogan, 1985), of 0.5.
        let (finding, ..) = only(&take(1.4), ", stretch = 0.7");
        assert_eq!((finding.code, finding.limit), (Code::Take, Some(0.7)));
        assert!((finding.value.unwrap() - 0.875).abs() < 0.005, "{finding:?}");
        assert!((finding.time.unwrap() - 4.0 * 0.7).abs() < 0.1, "{finding:?}");
        assert!(finding.message.contains("expected a speed of 0.5 m/s at most, found 0.62"), "{}", finding.message);
        assert!(finding.fix.unwrap().starts_with("write stretch = 0.88 or more; at that it lasts 7.0"));
    }

    #[test]
    fn a_take_begins_where_the_list_leaves_the_rig_within_tolerance() {
        assert_eq!(told(&take(1.0).replace(",0.50000", ",0.49200"), "").0.len(), 0);
        let (finding, ..) = only(&take(1.0), ", enter = 4.0");
        assert_eq!((finding.code, finding.limit), (Code::StartPose, Some(0.01)));
        assert!((finding.value.unwrap() + 0.5).abs() < 0.01, "{finding:?}");
        assert!(
            finding.message.contains("where take `hand` begins where it is entered: expected 1"),
            "{finding:?}"
        );
    }

    #[test]
    fn a_take_out_of_travel_is_told_where_and_when_it_is_farthest() {
        let (finding, ..) = only(&take(1.6), ", stretch = 2.0");
        assert_eq!((finding.code, finding.limit), (Code::Travel, Some(2.0)));
        assert!((finding.value.unwrap() - 2.1).abs() < 0.005, "{finding:?}");
        assert!(finding.time.unwrap() > 12.0, "{finding:?}");
    }

    #[test]
    fn a_take_of_another_survey_is_told_with_what_differs_and_where_it_says_so() {
        let recorded = |travel: &str, joint: &str| {
            let axis = format!("axes.travel = {{ unit = \"m\", travel = {travel}, joint = {joint} }}");
            format!("# by hand\n#: {axis}\n{}", take(1.0))
        };
        let joint = "{ slide = [2.0, 0.0, 0.0], at = [0.0, 0.0, 0.0] }";
        assert_eq!(told(&recorded("[-2, 2.0]", joint), "").0, []);
        let (finding, file, place) =
            only(&recorded("[-1.5, 2.5]", "{ slide = [-1.0, 0.0, 0.0], at = [0.0, 0.0, 0.0] }"), "");
        assert_eq!((finding.code, file.as_str(), place), (Code::Take, "takes/hand.csv", (2, 9)));
        let says = "cue 1: take `hand` was recorded under another survey of cart.travel: its travel was -1.5 m to 2.5 m and is \
                    -2 m to 2 m; its direction is reversed";
        assert_eq!((finding.message.as_str(), &finding.axes[..]), (says, &["cart.travel".to_owned()][..]));
    }

    #[test]
    fn a_sample_that_cannot_be_is_told_with_its_line() {
        let spoilt = take(1.0).replace("4.000,1.00000", "4.000,1.30000");
        let (finding, file, place) = only(&spoilt, "");
        assert_eq!((finding.code, file.as_str(), place), (Code::BadValue, "takes/hand.csv", (82, 7)));
        assert!(finding.message.contains("0.3 m off where those beside it have it"), "{}", finding.message);
        assert_eq!(told(&spoilt.replace("4.000,1.30000\n", ""), "").0, []);
    }
}
