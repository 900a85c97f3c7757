//! How far a cue that is taken back goes on once it brakes.

use super::coast::{Way, notice};
use super::places::Places;
use crate::motion::{Regime, change_rate};
use crate::proof::bodies::Span;
use crate::proof::course::courses;
use crate::proof::plan::CuePlan;
use crate::show::{RigId, Show};

/// s, between the times at which a brake is planned.
const SPACING: f64 = 0.25;
/// Of these in one cue at most.
const PLACES_MAX: f64 = 256.0;

/// Of one cue, at the show's return rate.
pub struct BrakesBack<'a> {
    show: &'a Show,
    plan: &'a CuePlan,
    places: Places,
    /// By place; planned when asked for.
    planned: Vec<Option<Brake>>,
}

#[derive(Clone, Copy)]
struct Brake {
    /// s of the cue's own time; without bounds where none can begin.
    way: f64,
    /// s
    takes: f64,
}

impl<'a> BrakesBack<'a> {
    pub fn new(show: &'a Show, plan: &'a CuePlan) -> BrakesBack<'a> {
        let places = Places::new(plan, SPACING.max(plan.duration / PLACES_MAX));
        let planned = vec![None; places.list.len()];
        BrakesBack { show, plan, places, planned }
    }

    /// s of the cue's own time: the most that a brake takes after a stall of a rig anywhere in a span.
    pub fn longest(&mut self, rig: RigId, stalled: Span) -> f64 {
        let noticed = notice(self.show, self.plan, rig, stalled, Way::Back);
        let [first, last] = self.places.around(Span { from: stalled.from - noticed, ..stalled });
        (first..=last).map(|place| self.way(place)).fold(0.0, f64::max)
    }

    fn way(&mut self, at: usize) -> f64 {
        let place = self.places.list[at];
        let [_, last] = place.alike;
        let brake = self.planned(last);
        // While the rate falls from no more than 1 the cue's own time goes back by no more than the brake takes.
        let alike = at == last || place.time - brake.takes >= place.steady.from;
        let brake = if alike { brake } else { self.planned(at) };
        brake.way.min(place.time)
    }

    fn planned(&mut self, at: usize) -> Brake {
        let (show, plan, time) = (self.show, self.plan, self.places.list[at].time);
        *self.planned[at].get_or_insert_with(|| {
            let rate = -show.settings.return_rate;
            let ramp = change_rate(&courses(show, plan, time), rate, 0.0, 0.0, Regime::Stopping);
            let [way, takes] = ramp.map_or([f64::INFINITY; 2], |ramp| [ramp.distance().abs(), ramp.duration()]);
            Brake { way, takes }
        })
    }
}
