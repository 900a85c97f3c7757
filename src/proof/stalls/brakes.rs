//! How far two cues that run together go on once they brake, from any two times of theirs.
//!
//! Planned at the places of a grid, and between these taken as the longest around and a tenth: two times have no instants in
//! a row, as those of one cue, that would bound what lies between them.
//!
//! The longest on a part of a row or a column is read off a sparse table: the longest of every run of places whose number
//! is a power of two, two of which cover any part (Bender and Farach-Colton, *The LCA Problem Revisited*, 2000).

use super::places::{Place, Places};
use crate::motion::{Regime, change_rate};
use crate::proof::bodies::{Cast, Span, Stagehand};
use crate::proof::course::courses;

/// s, between the times at which a brake is planned.
const GRID: f64 = 0.25;
/// How much farther a brake between the places of the grid may go than at those next to it: for the usual reserves of the
/// stopping limits a twentieth was the most that was found over some 20,000 places, for reserves of hardly anything it is more.
const BETWEEN: f64 = 1.1;

/// Of two cues.
pub struct Brakes<'a> {
    hand: &'a Stagehand<'a>,
    casts: [&'a Cast<'a>; 2],
    places: [Places; 2],
    /// By the first cue's place, then the second's; planned when asked for.
    planned: Vec<Option<Brake>>,
    /// By side, then by the place of that cue: along all places of the other.
    lines: [Vec<Option<Longest>>; 2],
}

#[derive(Clone, Copy)]
struct Brake {
    /// s of the cues' own times; without bounds where none can begin.
    way: f64,
    /// s
    takes: f64,
}

impl<'a> Brakes<'a> {
    pub fn new(hand: &'a Stagehand<'a>, casts: [&'a Cast<'a>; 2]) -> Brakes<'a> {
        let places = casts.map(|cast| Places::new(cast.plan(), GRID));
        let counts = places.each_ref().map(|places| places.list.len());
        let planned = vec![None; counts[0] * counts[1]];
        let lines = counts.map(|count| (0..count).map(|_| None).collect());
        Brakes { hand, casts, places, planned, lines }
    }

    /// s of the cues' own times: the longest of those that begin while the cue on one side is in one span of its time and
    /// the other in another.
    pub fn longest(&mut self, side: usize, here: Span, there: Span) -> f64 {
        let [here, there] = [self.places[side].around(here), self.places[1 - side].around(there)];
        (here[0]..=here[1]).map(|place| self.line(side, place).over(there)).fold(0.0, f64::max) * BETWEEN
    }

    fn line(&mut self, side: usize, place: usize) -> &Longest {
        if self.lines[side][place].is_none() {
            let along = |other: usize| if side == 0 { [place, other] } else { [other, place] };
            let ways = (0..self.places[1 - side].list.len()).map(|other| self.way(along(other))).collect();
            self.lines[side][place] = Some(Longest::of(ways));
        }
        self.lines[side][place].get_or_insert_default()
    }

    fn way(&mut self, at: [usize; 2]) -> f64 {
        let places = [0, 1].map(|side| self.places[side].list[at[side]]);
        let left = [0, 1].map(|side| self.casts[side].duration() - places[side].time);
        let brake = self.planned(places.map(|place| place.alike[0]));
        // While the rate falls from 1 the cues' own times go on by no more than the brake takes.
        let alike =
            |(at, place): (usize, Place)| at == place.alike[0] || place.time + brake.takes <= place.steady.to;
        let brake = if at.into_iter().zip(places).all(alike) { brake } else { self.planned(at) };
        brake.way.min(left[0].max(left[1]))
    }

    fn planned(&mut self, at: [usize; 2]) -> Brake {
        let (hand, casts) = (self.hand, self.casts);
        let times = [0, 1].map(|side| self.places[side].list[at[side]].time);
        *self.planned[at[0] * self.places[1].list.len() + at[1]].get_or_insert_with(|| {
            let both: Vec<_> =
                [0, 1].into_iter().flat_map(|side| courses(hand.show, casts[side].plan(), times[side])).collect();
            let ramp = change_rate(&both, 1.0, 0.0, 0.0, Regime::Stopping);
            let [way, takes] = ramp.map_or([f64::INFINITY; 2], |ramp| [ramp.distance(), ramp.duration()]);
            Brake { way, takes }
        })
    }
}

/// A row of numbers, and the greatest of every run of 1, 2, 4, 8... of them, by where it begins.
#[derive(Default)]
struct Longest(Vec<Vec<f64>>);

impl Longest {
    fn of(row: Vec<f64>) -> Longest {
        let mut runs = vec![row];
        for half in (0..).map(|level| 1 << level) {
            let below = &runs[runs.len() - 1];
            if below.len() <= half {
                break;
            }
            runs.push(below.iter().zip(&below[half..]).map(|(a, b)| a.max(*b)).collect());
        }
        Longest(runs)
    }

    /// The greatest from the first to the last of two places, both of which are in the row.
    fn over(&self, [first, last]: [usize; 2]) -> f64 {
        let level = (last + 1 - first).ilog2() as usize;
        let runs = &self.0[level];
        runs[first].max(runs[last + 1 - (1 << level)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{Ceiling, Profile};
    use crate::proof::fixture;
    use crate::show::Unit;
    use crate::stage::fixture::{add_axis, add_rig, empty_show, slide};
    use glam::DVec3;
    use proptest::prelude::*;

    #[test]
    fn what_brakes_alike_is_planned_once_and_as_if_it_were_planned_at_every_place() {
        let mut show = empty_show();
        for _ in 0..2 {
            add_rig(&mut show, DVec3::ZERO, 0.0, None);
            add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), Vec::new());
        }
        let limits = Ceiling { speed: 0.05, acceleration: 0.1, jerk: 0.2 };
        let plans = [(0, 1.0, 20.0), (1, 1.7, 15.0)].map(|(rig, stretch, way): (usize, f64, f64)| {
            let mut plan = fixture::plan(&show, 1.0, &[0.0; 2], &[way; 2]);
            plan.moves.retain(|step| step.rig.index() == rig);
            plan.moves[0].profile = Profile::fastest(limits).stretched(stretch);
            plan.moves[0].delay = 3.0 * stretch;
            plan.duration = plan.moves[0].end();
            plan
        });
        let hand = Stagehand::new(&show);
        let casts = plans.each_ref().map(|plan| Cast::new(&hand, plan));
        let mut brakes = Brakes::new(&hand, [&casts[0], &casts[1]]);
        let counts = [0, 1].map(|side| brakes.places[side].list.len());
        for at in (0..counts[0]).flat_map(|row| (0..counts[1]).map(move |column| [row, column])) {
            let times = [0, 1].map(|side| (GRID * at[side] as f64).min(plans[side].duration));
            let both: Vec<_> =
                [0, 1].into_iter().flat_map(|side| courses(&show, &plans[side], times[side])).collect();
            let left = (plans[0].duration - times[0]).max(plans[1].duration - times[1]);
            let way =
                change_rate(&both, 1.0, 0.0, 0.0, Regime::Stopping).map_or(left, |ramp| ramp.distance().min(left));
            let found = brakes.way(at);
            assert!((found - way).abs() < 1e-9, "{times:?}: {found}, not {way}");
        }
        let planned = brakes.planned.iter().flatten().count();
        assert!(planned < brakes.planned.len() / 4, "{planned} of {}", brakes.planned.len());
    }

    proptest! {
        #[test]
        fn the_longest_of_a_part_is_that_of_its_places(
            row in prop::collection::vec(0.0..9.0_f64, 1..40), ends: [prop::sample::Index; 2],
        ) {
            let [one, other] = ends.map(|end| end.index(row.len()));
            let (first, last) = (one.min(other), one.max(other));
            let greatest = row[first..=last].iter().copied().fold(0.0, f64::max);
            prop_assert_eq!(Longest::of(row).over([first, last]), greatest);
        }
    }
}
