//! What a cue asks of poses along its path, either way: its own `needs`, and the interlocks that guard what it moves.
//!
//! As the engine asks them. A request to go on or back looks at the interlocks along the way that lies ahead, what else
//! stands as it stands now; on the way they are asked again, but for those that only refuse, and the `needs` with them.

use super::going::{Given, Going, Shut, add};
use super::left::{Left, left_of, to_blame};
use crate::proof::along::{cuts, moves_guarded, own_pasts};
use crate::proof::blocked::Rule;
use crate::proof::plan::CuePlan;
use crate::show::{Atom, AtomId, Condition, CueId, Guard, InterlockId, Otherwise, Show, Truth};

/// The rules of one cue, each cut into the stretches in which it is one thing.
pub struct Rules<'a> {
    show: &'a Show,
    own: CueId,
    plan: &'a CuePlan,
    walks: Vec<Walk<'a>>,
}

struct Walk<'a> {
    rule: Rule,
    condition: &'a Condition,
    /// It asks how far the cue itself is.
    asks_own: bool,
    /// In order; `None` if it changes too often to be followed.
    segments: Option<Vec<Segment>>,
}

struct Segment {
    /// s of the cue's own time.
    from: f64,
    to: f64,
    /// Whether the rule is asked there, going forwards and going back.
    asked: [bool; 2],
    /// With the cue itself as far as it is there.
    left: Left,
}

impl Segment {
    fn middle(&self) -> f64 {
        (self.from + self.to) / 2.0
    }
}

impl<'a> Rules<'a> {
    pub fn of(show: &'a Show, own: CueId, plan: &'a CuePlan) -> Rules<'a> {
        let mut rules = Rules { show, own, plan, walks: Vec::new() };
        let moves =
            |guard: &Guard| plan.moves.iter().any(|step| step.axes.iter().any(|path| path.axis == guard.axis));
        for (index, interlock) in show.interlocks.iter().enumerate() {
            if interlock.guards.iter().any(moves) {
                rules.walk(Rule::Interlock(InterlockId::new(index)), &interlock.needs, &interlock.guards);
            }
        }
        if let Some(needs) = show.listed(own).and_then(|cue| cue.needs.as_ref()) {
            rules.walk(Rule::Needs(own), needs, &[]);
        }
        rules
    }

    fn walk(&mut self, rule: Rule, condition: &'a Condition, guards: &[Guard]) {
        let asked = |time: f64, way: f64| match rule {
            Rule::Interlock(_) => guards.iter().any(|&guard| moves_guarded(self.plan, guard, time, way)),
            Rule::Needs(_) => true,
        };
        let segments = cuts(self.show, self.own, condition, self.plan).map(|cuts| {
            let segment = |ends: &[f64]| {
                let middle = (ends[0] + ends[1]) / 2.0;
                let left = self.left(condition, middle, middle);
                Segment { from: ends[0], to: ends[1], asked: [1.0, -1.0].map(|way| asked(middle, way)), left }
            };
            cuts.windows(2).map(segment).collect()
        });
        let asks_own = !own_pasts(self.show, self.own, condition).is_empty();
        self.walks.push(Walk { rule, condition, asks_own, segments });
    }

    /// With the cue's axes where they are at `time`, and the cue itself as far as at `own` s.
    fn left(&self, condition: &Condition, time: f64, own: f64) -> Left {
        let mut pose = self.plan.start.clone();
        self.plan.pose_at(time, &mut pose);
        match left_of(condition, &|atom| self.truth(atom, &pose, own)) {
            Left::Open(open) => Left::Open(one_a_leaf(self.show, open)),
            left @ (Left::True | Left::False) => left,
        }
    }

    fn truth(&self, atom: AtomId, pose: &[f64], own: f64) -> Truth {
        match &self.show.atoms[atom.index()] {
            Atom::CuePast { cue, time } if *cue == self.own => Truth::of(own > *time),
            atom => atom.of_pose(self.show, &|axis| Some(pose[axis.index()])).unwrap_or(Truth::Unknown),
        }
    }

    /// Every time of the cue at which what it may do from there can change; in order, its start and end among them.
    pub fn cuts(&self) -> Vec<f64> {
        let mut cuts = vec![0.0, self.plan.duration];
        for segment in self.walks.iter().filter_map(|walk| walk.segments.as_ref()).flatten() {
            cuts.extend([segment.from, segment.to]);
        }
        cuts.sort_by(f64::total_cmp);
        cuts.dedup();
        cuts
    }

    /// From where it stands at `stands` s of its own time, forwards (`way` 1) or back (`way` -1).
    pub fn going(&self, stands: f64, way: f64) -> Going {
        let mut given = Vec::new();
        let mut nearest: Option<(f64, Shut)> = None;
        for walk in &self.walks {
            let Some(segments) = &walk.segments else { return Going::Shut(Shut::Unfollowed(walk.rule)) };
            for segment in segments {
                // s from where it stands to where the way enters the segment; below zero it stands within, or beyond.
                let [enters, leaves] =
                    if way > 0.0 { [segment.from, segment.to] } else { [segment.to, segment.from] };
                let ahead = (leaves - stands) * way > 0.0;
                if !ahead || !segment.asked[usize::from(way < 0.0)] {
                    continue;
                }
                let distance = (enters - stands) * way;
                for left in self.lefts(walk, segment, stands) {
                    match left {
                        Left::True => {}
                        Left::Open(left) => add(&mut given, Given { rule: walk.rule, left }),
                        Left::False if nearest.as_ref().is_none_or(|(known, _)| distance < *known) => {
                            let time = (distance > 0.0).then_some(enters);
                            nearest = Some((distance, self.shut(walk, segment, time)));
                        }
                        Left::False => {}
                    }
                }
            }
        }
        nearest.map_or(Going::Open(given), |(_, shut)| Going::Shut(shut))
    }

    /// What is asked of a segment: as the cue passes it, and of an interlock before it sets out too.
    fn lefts(&self, walk: &Walk, segment: &Segment, stands: f64) -> impl Iterator<Item = Left> {
        let at_request = match walk.rule {
            Rule::Interlock(_) if walk.asks_own => Some(self.left(walk.condition, segment.middle(), stands)),
            Rule::Interlock(_) | Rule::Needs(_) => None,
        };
        let refuses = match walk.rule {
            Rule::Interlock(id) => self.show.interlocks[id.index()].otherwise == Otherwise::Refuse,
            Rule::Needs(_) => false,
        };
        let on_the_way = (!refuses || at_request.is_none()).then(|| segment.left.clone());
        at_request.into_iter().chain(on_the_way)
    }

    fn shut(&self, walk: &Walk, segment: &Segment, time: Option<f64>) -> Shut {
        let mut pose = self.plan.start.clone();
        self.plan.pose_at(segment.middle(), &mut pose);
        let leaf = to_blame(walk.condition, &|atom| self.truth(atom, &pose, segment.middle()));
        Shut::False { rule: walk.rule, leaf, time }
    }
}

/// With the first of all leaves that say the same in the place of each, so that conditions compare by what they say.
fn one_a_leaf(show: &Show, condition: Condition) -> Condition {
    let all = |parts: Vec<Condition>| parts.into_iter().map(|part| one_a_leaf(show, part)).collect();
    match condition {
        Condition::Atom(id) => {
            let first = show.atoms.iter().position(|atom| *atom == show.atoms[id.index()]);
            Condition::Atom(first.map_or(id, AtomId::new))
        }
        Condition::All(parts) => Condition::All(all(parts)),
        Condition::Any(parts) => Condition::Any(all(parts)),
        Condition::Not(part) => Condition::Not(Box::new(one_a_leaf(show, *part))),
    }
}
