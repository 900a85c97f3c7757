//! The road on which a stop reaches the engine.
//!
//! Nothing else uses it and nothing can fill it: a lane is a generation that only rises. A listener presses the
//! moment it sees a stop, before it looks at anything else in the message, and the tick loop reads all lanes before
//! anything else in a tick. Pressing a hundred times within one tick is one stop.
//!
//! Any thread may press; only the tick thread reads. No lock, no queue, no memory.

use std::sync::atomic::{AtomicU64, Ordering};

use crate::engine::{ClientId, StopCalls, StopLane};

const LANES: usize = StopLane::ALL.len();

#[derive(Debug, Default)]
pub struct StopRoad {
    lanes: [Lane; LANES],
}

/// The generation in the upper half, and in the lower who pressed last, plus one; 0 is nobody by name. One word, so
/// that the two cannot disagree.
#[derive(Debug, Default)]
struct Lane(AtomicU64);

impl StopRoad {
    pub fn new() -> StopRoad {
        StopRoad::default()
    }

    /// Stops the show. `client` only says who, for the words afterwards.
    pub fn press(&self, lane: StopLane, client: Option<ClientId>) {
        let who = client.map_or(0, |client| u64::from(client.0.wrapping_add(1)));
        // The closure always gives a value, so this cannot fail; it repeats only while another presses as well.
        let _ = self.lane(lane).fetch_update(Ordering::AcqRel, Ordering::Acquire, |word| {
            let generation = (word >> 32).wrapping_add(1) & u64::from(u32::MAX);
            Some(generation << 32 | who)
        });
    }

    /// The generations as they stand, for the engine.
    pub fn read(&self) -> StopCalls {
        StopCalls {
            generations: std::array::from_fn(|lane| (self.lanes[lane].0.load(Ordering::Acquire) >> 32) as u32),
        }
    }

    /// Who pressed this lane last, if it was a client with a name.
    pub fn pressed_by(&self, lane: StopLane) -> Option<ClientId> {
        let who = self.lane(lane).load(Ordering::Acquire) as u32;
        who.checked_sub(1).map(ClientId)
    }

    fn lane(&self, lane: StopLane) -> &AtomicU64 {
        let index = StopLane::ALL.iter().position(|&other| other == lane).unwrap_or(0);
        &self.lanes[index].0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_lane_has_its_own_generation() {
        let road = StopRoad::new();
        for (index, lane) in StopLane::ALL.into_iter().enumerate() {
            let before = road.read();
            road.press(lane, None);
            let after = road.read();
            for other in 0..LANES {
                assert_eq!(before.generations[other] != after.generations[other], other == index, "{lane:?}");
            }
        }
    }

    #[test]
    fn who_pressed_last_is_remembered() {
        let road = StopRoad::new();
        assert_eq!(road.pressed_by(StopLane::Rpc), None);
        road.press(StopLane::Rpc, Some(ClientId(0)));
        assert_eq!(road.pressed_by(StopLane::Rpc), Some(ClientId(0)));
        road.press(StopLane::Rpc, None);
        assert_eq!(road.pressed_by(StopLane::Rpc), None);
        assert_eq!(road.read().generations[2], 2);
    }

    #[test]
    fn a_generation_that_wraps_is_still_a_change() {
        let road = StopRoad::new();
        road.lane(StopLane::Osc).store(u64::MAX << 32, Ordering::Release);
        let before = road.read();
        road.press(StopLane::Osc, Some(ClientId(7)));
        assert_ne!(road.read(), before);
        assert_eq!(road.pressed_by(StopLane::Osc), Some(ClientId(7)));
    }

    #[test]
    fn no_press_is_lost_among_many_threads() {
        let road = StopRoad::new();
        std::thread::scope(|scope| {
            for client in 0..4 {
                let road = &road;
                scope.spawn(move || (0..1000).for_each(|_| road.press(StopLane::Http, Some(ClientId(client)))));
            }
        });
        assert_eq!(road.read().generations[3], 4000);
    }
}
