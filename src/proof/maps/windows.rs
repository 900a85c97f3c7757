//! The maps as a caller asks them: when may this cue be fired?

use super::{CueMap, Maps, Stretch};
use crate::show::CueId;

/// When a cue may be fired while another runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// The one that runs.
    pub after: CueId,
    /// s, of its own time.
    pub clear: Vec<Stretch>,
    /// s, of its own time: from then on a hold of either alone leads into no blocked place; `None` if it never is safe.
    pub hold_safe_from: Option<f64>,
    /// The same of a stall of either.
    pub stall_safe_from: Option<f64>,
}

impl Maps {
    /// Of every cue that a cue can start beside.
    pub fn windows(&self, cue: CueId) -> Vec<Window> {
        let of_map = |map: &CueMap| {
            if map.pair.second == cue && map.pair.to >= 0.0 {
                return Some(Window {
                    after: map.pair.first,
                    clear: map.clear(),
                    hold_safe_from: map.hold_safe_from(),
                    stall_safe_from: map.stall_safe_from(),
                });
            }
            // A follow that comes before it in the list may start while this one runs.
            (map.pair.first == cue && map.turns()).then(|| Window {
                after: map.pair.second,
                clear: map.clear_turned(),
                hold_safe_from: map.hold_safe_from_turned(),
                stall_safe_from: map.stall_safe_from_turned(),
            })
        };
        self.list.iter().filter_map(of_map).collect()
    }
}
