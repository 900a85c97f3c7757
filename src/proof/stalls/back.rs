//! How far a cue that is taken back goes on once it brakes.

use std::cell::OnceCell;

use super::coast::{Way, notice};
use crate::proof::bodies::Span;
use crate::proof::plan::CuePlan;
use crate::proof::stops::Stops;
use crate::show::{RigId, Show};

/// Of one cue, at the show's return rate.
pub struct BrakesBack<'a> {
    show: &'a Show,
    plan: &'a CuePlan,
    /// Planned when asked for.
    stops: OnceCell<Stops>,
}

impl<'a> BrakesBack<'a> {
    pub fn new(show: &'a Show, plan: &'a CuePlan) -> BrakesBack<'a> {
        BrakesBack { show, plan, stops: OnceCell::new() }
    }

    /// s of the cue's own time: the most that a brake takes after a stall of a rig anywhere in a span.
    pub fn longest(&self, rig: RigId, stalled: Span) -> f64 {
        let noticed = notice(self.show, self.plan, rig, stalled, Way::Back);
        let stops = self.stops.get_or_init(|| Stops::of_return(self.show, self.plan));
        stops.way_back((stalled.from - noticed).max(0.0), stalled.to)
    }
}
