//! Two cues' times, cut into rectangles in each of which a condition is one thing.
//!
//! Running cues share one rate: with the later in the list started when the other is at g s, they run along the line
//! τA − τB = g. Before its start and after its end a cue stands, so its time goes on there without bounds, and the starts
//! whose lines pass a rectangle are one open stretch: from its lower right corner to its upper left.

use super::Rule;
use crate::proof::along::{cuts, moves_guarded};
use crate::proof::maps::{Stretch, gaps, joined};
use crate::proof::plan::{CuePlan, Plan};
use crate::show::{Atom, AtomId, AxisId, Condition, CueId, Guard, Otherwise, Show, Truth};

/// Rectangles of one condition at most; where there are more, nothing is told.
const CELLS_MAX: usize = 1 << 20;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    /// It stands at its start.
    Before,
    Under,
    /// It stands where it ended.
    After,
}

/// A stretch of a cue's time in which the condition does not change by it.
struct Segment {
    part: Part,
    /// s, the ends excluded.
    from: f64,
    to: f64,
    /// s, within it, for all of it.
    at: f64,
    /// Where the cue's own axes are then, by `AxisId`.
    pose: Vec<f64>,
    /// Whether anything moves that the interlock guards, as it is guarded.
    guarded: bool,
}

struct Side<'a> {
    cue: CueId,
    plan: &'a CuePlan,
    /// By `AxisId`.
    moves: Vec<bool>,
    segments: Vec<Segment>,
}

/// A place of two cues at which a condition is false.
pub struct Place {
    /// s, of each cue's own time.
    pub times: [f64; 2],
    pub atom: Option<AtomId>,
    /// By `AxisId`.
    pub pose: Vec<f64>,
}

pub struct Grid<'a> {
    show: &'a Show,
    rule: Rule,
    condition: &'a Condition,
    sides: [Side<'a>; 2],
    /// By `AxisId`, of what neither moves; `None` where a cue between them in the list may have moved it or not.
    others: Vec<Option<f64>>,
    /// Rectangles, by their segments, in which the rule counts and is false.
    cells: Vec<[usize; 2]>,
}

impl<'a> Grid<'a> {
    /// Of two cues, the earlier in the list first; `None` if the rule does not bind the one to what the other moves.
    pub fn new(show: &'a Show, plan: &'a Plan, cues: [CueId; 2], rule: Rule) -> Option<Grid<'a>> {
        let condition = rule.condition(show)?;
        let plans = cues.map(|cue| plan.cue(cue));
        if !binds(show, condition, cues, plans, rule) {
            return None;
        }
        let moved = plans.map(CuePlan::moved_axes);
        let between = &plan.cues[cues[0].index() + 1..cues[1].index()];
        let loose = |axis: AxisId| {
            let goes =
                |other: &CuePlan| other.moves.iter().any(|step| step.axes.iter().any(|path| path.axis == axis));
            between.iter().any(goes)
        };
        let others = show.axis_ids().map(|axis| (!loose(axis)).then_some(plans[1].start[axis.index()])).collect();
        let [first, second] = [0, 1].map(|side| segments(show, rule, condition, cues[side], plans[side]));
        let [first, second] = [first?, second?];
        if first.len() * second.len() > CELLS_MAX {
            return None;
        }
        let [moved_first, moved_second] = moved;
        let sides = [
            Side { cue: cues[0], plan: plans[0], moves: moved_first, segments: first },
            Side { cue: cues[1], plan: plans[1], moves: moved_second, segments: second },
        ];
        let mut grid = Grid { show, rule, condition, sides, others, cells: Vec::new() };
        grid.cells = grid.all().filter(|&cell| grid.counts(cell) && grid.is_false(cell)).collect();
        Some(grid)
    }

    fn all(&self) -> impl Iterator<Item = [usize; 2]> + use<> {
        let [rows, columns] = [0, 1].map(|side| self.sides[side].segments.len());
        (0..rows).flat_map(move |row| (0..columns).map(move |column| [row, column]))
    }

    fn segments(&self, cell: [usize; 2]) -> [&Segment; 2] {
        [0, 1].map(|side| &self.sides[side].segments[cell[side]])
    }

    /// Whether the rule is asked there. With the first at its end, or the second at its start, either was looked at by itself.
    fn counts(&self, cell: [usize; 2]) -> bool {
        let [first, second] = self.segments(cell);
        let side = |cue: CueId| usize::from(cue == self.sides[1].cue);
        match self.refuses() {
            true => {
                let starts = |starting: &Segment, side: usize, other: &Segment| {
                    let guarded = self.sides[side].segments.iter().any(|segment| segment.guarded);
                    starting.part == Part::Before && other.part == Part::Under && guarded
                };
                starts(first, 0, second) || starts(second, 1, first)
            }
            false if first.part == Part::After || second.part == Part::Before => false,
            false => match self.rule {
                Rule::Interlock(_) => first.guarded || second.guarded,
                Rule::Needs(cue) => [first, second][side(cue)].part == Part::Under,
            },
        }
    }

    /// Whether it is asked at the start of a cue alone.
    pub fn refuses(&self) -> bool {
        match self.rule {
            Rule::Interlock(id) => self.show.interlocks[id.index()].otherwise == Otherwise::Refuse,
            Rule::Needs(_) => false,
        }
    }

    /// With each cue's own axes as in its pose.
    fn position(&self, poses: &[impl AsRef<[f64]>; 2], axis: AxisId) -> Option<f64> {
        let moves = |side: usize| self.sides[side].moves[axis.index()];
        match (moves(0), moves(1)) {
            (true, true) => None,
            (true, false) => Some(poses[0].as_ref()[axis.index()]),
            (false, true) => Some(poses[1].as_ref()[axis.index()]),
            (false, false) => self.others[axis.index()],
        }
    }

    fn truth(&self, cell: [usize; 2], atom: AtomId) -> Truth {
        match &self.show.atoms[atom.index()] {
            Atom::CuePast { cue, time } => {
                let side = self.sides.iter().zip(self.segments(cell)).find(|(side, _)| side.cue == *cue);
                side.map_or(Truth::Unknown, |(_, segment)| {
                    Truth::of(segment.part == Part::After || segment.at > *time)
                })
            }
            atom => {
                let poses = self.segments(cell).map(|segment| &segment.pose);
                atom.of_pose(self.show, &|axis| self.position(&poses, axis)).unwrap_or(Truth::Unknown)
            }
        }
    }

    fn is_false(&self, cell: [usize; 2]) -> bool {
        self.condition.judge(&|atom| self.truth(cell, atom)) == Truth::False
    }

    fn through(&self, cell: [usize; 2]) -> Stretch {
        let spans = self.segments(cell).map(|segment| match (segment.part, self.refuses()) {
            // Only the instant of its start.
            (Part::Before, true) => (0.0, 0.0),
            (Part::Before | Part::Under | Part::After, _) => (segment.from, segment.to),
        });
        Stretch { from: spans[0].0 - spans[1].1, to: spans[0].1 - spans[1].0 }
    }

    /// The starts of the second at which the rule is false at some time; apart and in order.
    pub fn blocked(&self) -> Vec<Stretch> {
        joined(self.cells.iter().map(|&cell| self.through(cell)).collect())
    }

    /// The starts at which a GO of the second finds it false and is refused, so that nothing comes of them: its own
    /// needs as everything then stands, an interlock along its way past the first as that then stands.
    pub fn refused(&self) -> Vec<Stretch> {
        let refuses = |[first, second]: [&Segment; 2]| match self.rule {
            Rule::Interlock(_) if self.refuses() => first.part == Part::Under && second.part == Part::Before,
            Rule::Interlock(_) => first.part == Part::Under && second.guarded,
            Rule::Needs(cue) => {
                cue == self.sides[1].cue && first.part == Part::Under && second.part == Part::Before
            }
        };
        let at_go = self.all().filter(|&cell| refuses(self.segments(cell)) && self.is_false(cell));
        let start = |cell| Stretch { from: self.segments(cell)[0].from, to: self.segments(cell)[0].to };
        joined(at_go.map(start).collect())
    }

    /// Where the rule is first false with the second started at `start` s.
    pub fn first_on(&self, start: f64) -> Option<Place> {
        let enters = |cell: [usize; 2]| {
            let [first, second] = self.segments(cell).map(|segment| segment.from);
            first.max(second + start)
        };
        let passed = self.cells.iter().copied().filter(|&cell| {
            let Stretch { from, to } = self.through(cell);
            from < start && start < to
        });
        let cell = passed.min_by(|&a, &b| enters(a).total_cmp(&enters(b)))?;
        let judged = |atom: AtomId| self.truth(cell, atom);
        let atom = self.condition.atoms().into_iter().find(|&atom| judged(atom) == Truth::False);
        let time = if self.refuses() { start.max(0.0) } else { enters(cell) };
        let times = [time, time - start];
        let poses = [0, 1].map(|side| {
            let plan = self.sides[side].plan;
            let mut pose = plan.start.clone();
            plan.pose_at(times[side], &mut pose);
            pose
        });
        let position = |axis: AxisId| self.position(&poses, axis).unwrap_or(f64::NAN);
        let pose = self.show.axis_ids().map(position).collect();
        Some(Place { times, atom, pose })
    }
}

/// What is left of starts without those that are refused.
pub fn without(starts: &[Stretch], refused: &[Stretch]) -> Vec<Stretch> {
    starts.iter().flat_map(|stretch| gaps(refused, *stretch)).filter(|left| left.to - left.from > 1e-6).collect()
}

/// Whether the rule asks something of one of the two cues, and reads what the other moves.
fn binds(show: &Show, condition: &Condition, cues: [CueId; 2], plans: [&CuePlan; 2], rule: Rule) -> bool {
    let owns = |plan: &CuePlan, axis: AxisId| {
        plan.moves.iter().any(|step| step.axes.iter().any(|path| path.axis == axis && path.moves()))
    };
    let asks = |side: usize| match rule {
        Rule::Interlock(id) => show.interlocks[id.index()].guards.iter().any(|guard| owns(plans[side], guard.axis)),
        Rule::Needs(cue) => cue == cues[side],
    };
    let reads = |side: usize| {
        condition.atoms().iter().any(|atom| match &show.atoms[atom.index()] {
            Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => {
                owns(plans[side], *axis)
            }
            Atom::At { pose, .. } => pose.iter().any(|&(axis, _)| owns(plans[side], axis)),
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => false,
        })
    };
    asks(0) && reads(1) || asks(1) && reads(0)
}

fn segments(show: &Show, rule: Rule, condition: &Condition, cue: CueId, plan: &CuePlan) -> Option<Vec<Segment>> {
    let guards: &[Guard] = match rule {
        Rule::Interlock(id) => &show.interlocks[id.index()].guards,
        Rule::Needs(_) => &[],
    };
    let segment = |part: Part, from: f64, to: f64, at: f64| {
        let mut pose = plan.start.clone();
        plan.pose_at(at, &mut pose);
        let guarded = part == Part::Under && guards.iter().any(|&guard| moves_guarded(plan, guard, at, 1.0));
        Segment { part, from, to, at, pose, guarded }
    };
    let cuts = cuts(show, cue, condition, plan)?;
    let mut segments = vec![segment(Part::Before, f64::NEG_INFINITY, 0.0, 0.0)];
    let under = cuts.windows(2).map(|ends| segment(Part::Under, ends[0], ends[1], (ends[0] + ends[1]) / 2.0));
    segments.extend(under);
    segments.push(segment(Part::After, plan.duration, f64::INFINITY, plan.duration));
    Some(segments)
}
