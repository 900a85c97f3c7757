//! The brakes that a clock has at hand.
//!
//! A brake is planned before anybody asks for it: the one of the next instant at which the check has planned the stops of a
//! cue in the group ([`crate::proof::CuePlan::next_instant`]) is kept, while that of the instant after is worked out, a part in
//! every tick. So whatever a tick finds in a hurry, a stop is never later than to go on to that instant and to brake there; that
//! is the bound that is told, and it costs the tick of the stop nothing. Of a cue by itself it is the brake of the check, which keeps
//! the limits from wherever its rigs may have stood as it was fired; only one that was set going from elsewhere has one of its own.
//!
//! ```text
//!        now      kept: brakes from here      coming: worked out
//!  ───────┼────────────────┼─────────────────────────┼──────────▶ the cues' own time
//! ```

use crate::motion::{Change, Search};
use crate::show::CueId;

/// A brake from an instant ahead, which is taken from the steady rate at which the clock goes then.
#[derive(Clone, Debug)]
pub struct Kept {
    /// s of the cues' own time until there, below 0 on the way back.
    pub ahead: f64,
    pub brake: Change,
}

/// One that is searched for.
#[derive(Clone, Debug)]
pub struct Coming {
    pub ahead: f64,
    /// The cue whose instant it is, and s of that cue's own time.
    pub lead: CueId,
    pub instant: f64,
    /// The courses of the search.
    pub courses: usize,
    pub search: Search,
    /// The part that the rate is of the one at which the check has planned it, if it is that which is searched for.
    pub told: Option<f64>,
    /// Found so far.
    pub brake: Option<Change>,
    pub done: bool,
}

#[derive(Clone, Debug, Default)]
pub struct Brakes {
    pub kept: Option<Kept>,
    pub coming: Option<Coming>,
}

impl Brakes {
    /// The clock has gone on by `way` s: the next takes the place of one that is behind.
    pub fn go_on(&mut self, way: f64) {
        let is_ahead = |ahead: f64| ahead * way > 0.0;
        if let Some(kept) = &mut self.kept {
            kept.ahead -= way;
        }
        if let Some(coming) = &mut self.coming {
            coming.ahead -= way;
        }
        if way == 0.0 {
            return;
        }
        if !self.kept.as_ref().is_some_and(|kept| is_ahead(kept.ahead)) {
            self.kept = None;
            self.promote();
        }
        if !self.coming.as_ref().is_some_and(|coming| is_ahead(coming.ahead)) {
            self.coming = None;
        }
        if !self.kept.as_ref().is_some_and(|kept| is_ahead(kept.ahead)) {
            self.kept = None;
        }
    }

    /// What has been found is kept, where nothing is.
    pub fn promote(&mut self) {
        if self.kept.is_none()
            && let Some(coming) = self.coming.take_if(|coming| coming.done)
        {
            let Coming { ahead, brake, .. } = coming;
            self.kept = brake.map(|brake| Kept { ahead, brake });
        }
    }

    /// The one that begins first, and how far ahead, s of the cues' own time.
    pub fn first(&self) -> Option<(f64, &Change)> {
        let coming = || self.coming.as_ref().and_then(|coming| Some((coming.ahead, coming.brake.as_ref()?)));
        self.kept.as_ref().map(|kept| (kept.ahead, &kept.brake)).or_else(coming)
    }

    /// All that are at hand.
    pub fn each(&self) -> impl Iterator<Item = (f64, &Change)> {
        let coming = self.coming.as_ref().and_then(|coming| Some((coming.ahead, coming.brake.as_ref()?)));
        self.kept.as_ref().map(|kept| (kept.ahead, &kept.brake)).into_iter().chain(coming)
    }
}
