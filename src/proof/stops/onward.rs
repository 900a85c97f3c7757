//! What can be done after a stop: of every span of a cue in which it is asked for.
//!
//! Told of the cue by itself, everything else where the list leaves it. Beside another cue both brake on one rate, and
//! both are asked; that is the engine's to tell.

use super::going::{Given, Going, Shut, add};
use super::rules::Rules;
use super::{Stop, Stops};
use crate::motion::{Regime, change_rate};
use crate::proof::course::courses;
use crate::proof::plan::{CuePlan, Plan};
use crate::proof::preset::{Bar, PresetPlanner, Progress, empty_way, who_goes};
use crate::show::{CueId, Show};

/// After a stop that is asked for within a span of a cue's time.
#[derive(Clone, Debug, PartialEq)]
pub struct Onward {
    /// s of the cue's own time, in which it is asked for.
    pub from: f64,
    pub to: f64,
    /// s of the cue's own time, between which it then stands.
    pub rests: [f64; 2],
    pub then: Then,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Then {
    /// It is at its end before it stands.
    Ended,
    Stands {
        resume: Going,
        back: Going,
        /// Where neither is open.
        preset: Option<PresetBack>,
    },
}

/// The way to where the cue starts, planned from the ends and the middle of where it then stands.
#[derive(Clone, Debug, PartialEq)]
pub enum PresetBack {
    /// s, at the most of them.
    Found {
        takes: f64,
        given: Vec<Given>,
    },
    Barred(Option<Bar>),
    /// An interlock is false on the way.
    Shut(Shut),
}

/// Along the whole cue, in order; nothing of a cue that goes nowhere. Conditions are followed exactly.
pub fn look_onward(show: &Show, plan: &Plan, cue: CueId, stops: &Stops) -> Vec<Onward> {
    look(show, plan, cue, stops, |_| [true; 2])
}

/// The same, and for every stop of the table whether a change of rate from rest keeps the limits of the way on, and of
/// the way back.
pub fn look_onward_thoroughly(show: &Show, plan: &Plan, cue: CueId, stops: &Stops) -> Vec<Onward> {
    let ramps = |stop: &Stop| {
        let courses = courses(show, plan.cue(cue), stop.rests);
        [1.0, -show.settings.return_rate].map(|to| change_rate(&courses, 0.0, 0.0, to, Regime::Running).is_some())
    };
    look(show, plan, cue, stops, ramps)
}

fn look(show: &Show, plan: &Plan, cue: CueId, stops: &Stops, ramps: impl Fn(&Stop) -> [bool; 2]) -> Vec<Onward> {
    let rules = Rules::of(show, cue, plan.cue(cue));
    let places = places(&rules);
    let ramps: Vec<[bool; 2]> = stops.list.iter().map(ramps).collect();
    let mut spans: Vec<Onward> = Vec::new();
    for (pair, ramps) in stops.list.windows(2).zip(ramps.windows(2)) {
        let rests = [pair[0].rests.min(pair[1].rests), pair[0].rests.max(pair[1].rests)];
        let then = if rests[0] >= plan.cue(cue).duration {
            Then::Ended
        } else {
            let [resume, back] = between(&places, rests);
            let may = |way: usize| ramps[0][way] && ramps[1][way];
            let [resume, back] = [(resume, may(0)), (back, may(1))]
                .map(|(going, may)| if may { going } else { going.and(Going::Shut(Shut::NoRamp)) });
            Then::Stands { resume, back, preset: None }
        };
        match spans.last_mut() {
            Some(last) if last.then == then => {
                last.to = pair[1].asked;
                last.rests = [last.rests[0].min(rests[0]), last.rests[1].max(rests[1])];
            }
            Some(_) | None => spans.push(Onward { from: pair[0].asked, to: pair[1].asked, rests, then }),
        }
    }
    spans.retain(|span| span.from < span.to);
    for span in &mut spans {
        let rests = span.rests;
        if let Then::Stands { resume: Going::Shut(_), back: Going::Shut(_), preset } = &mut span.then {
            *preset = Some(preset_back(show, plan, cue, rests));
        }
    }
    spans
}

/// A stretch of a cue's time, and how it goes on and back from any place of it.
struct Place {
    from: f64,
    to: f64,
    goings: [Going; 2],
}

fn places(rules: &Rules) -> Vec<Place> {
    let place = |ends: &[f64]| {
        let middle = (ends[0] + ends[1]) / 2.0;
        Place { from: ends[0], to: ends[1], goings: [1.0, -1.0].map(|way| rules.going(middle, way)) }
    };
    rules.cuts().windows(2).map(place).collect()
}

/// On and back from wherever between two times of the cue.
fn between(places: &[Place], [from, to]: [f64; 2]) -> [Going; 2] {
    let within = places.iter().filter(|place| place.from <= to && from <= place.to);
    within.fold([Going::FREE, Going::FREE], |[on, back], place| {
        let [more_on, more_back] = place.goings.clone();
        [on.and(more_on), back.and(more_back)]
    })
}

fn preset_back(show: &Show, plan: &Plan, cue: CueId, [from, to]: [f64; 2]) -> PresetBack {
    let mut planner = PresetPlanner::new(show);
    let (mut longest, mut all) = (0.0_f64, Vec::new());
    for stands in [from, (from + to) / 2.0, to] {
        let mut pose = plan.cue(cue).start.clone();
        plan.cue(cue).pose_at(stands, &mut pose);
        planner.begin(&pose, &plan.cue(cue).start, &who_goes(show, plan, &pose, cue));
        if planner.finish(show) != Progress::Found {
            return PresetBack::Barred(planner.bars().next());
        }
        let mut way = empty_way(show);
        planner.write(show, false, &mut way);
        match along_preset(show, &way) {
            Going::Open(given) => given.into_iter().for_each(|one| add(&mut all, one)),
            Going::Shut(shut) => return PresetBack::Shut(shut),
        }
        longest = longest.max(way.duration);
    }
    PresetBack::Found { takes: longest, given: all }
}

/// The interlocks along a preset, leg by leg: a rig that goes through a mark has two of them.
fn along_preset(show: &Show, way: &CuePlan) -> Going {
    let mut pose = way.start.clone();
    let mut going = Going::FREE;
    for step in way.moves.iter().filter(|step| !step.axes.is_empty()) {
        let leg =
            CuePlan { duration: step.end(), start: pose.clone(), moves: vec![step.clone()], ..CuePlan::EMPTY };
        going = going.and(Rules::of(show, show.preset_id(), &leg).going(0.0, 1.0));
        step.axes.iter().for_each(|path| pose[path.axis.index()] = path.to);
    }
    going
}
