//! The clocks of the running cues. All that share one are parts of one group, and go at its rate to the bit.

use super::clock::Clock;
use super::groups::Member;
use super::status::RUNNING_MAX;

/// One of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClockId(u8);

impl ClockId {
    /// Never goes: that of what stands at its start, or was stopped.
    pub const REST: ClockId = ClockId(0);
}

/// One for each cue that may run at once, and the one that rests.
#[derive(Clone, Debug)]
pub struct Clocks {
    list: Vec<Clock>,
}

impl Clocks {
    pub fn new() -> Clocks {
        Clocks { list: vec![Clock::steady(0.0); RUNNING_MAX + 1] }
    }

    pub fn of(&self, id: ClockId) -> &Clock {
        &self.list[usize::from(id.0)]
    }

    pub fn of_mut(&mut self, id: ClockId) -> &mut Clock {
        &mut self.list[usize::from(id.0)]
    }

    /// One by which nobody goes. There are as many as there may be members, so one is left as long as two of them, or one and the
    /// clock that rests, are together.
    fn spare(&self, members: &[Member]) -> ClockId {
        let taken = |id: &ClockId| members.iter().any(|member| member.clock == *id);
        let mut all = (1..self.list.len()).map(|index| ClockId(index as u8));
        all.find(|id| !taken(id)).unwrap_or(ClockId::REST)
    }

    /// One of their own for the members that `part` picks, set to what `clock` is. In place, where no other goes by theirs.
    pub fn own(&mut self, members: &mut [Member], part: impl Fn(&Member) -> bool) -> ClockId {
        let Some(now) = members.iter().find(|member| part(member)).map(|member| member.clock) else {
            return ClockId::REST;
        };
        let shared = now == ClockId::REST || members.iter().any(|other| other.clock == now && !part(other));
        if !shared {
            return now;
        }
        let id = self.spare(members);
        let clock = self.of(now).clone();
        *self.of_mut(id) = clock;
        members.iter_mut().filter(|member| part(member)).for_each(|member| member.clock = id);
        id
    }

    /// One tick, s, of all that somebody goes by.
    pub fn advance(&mut self, members: &mut [Member], tick: f64) {
        for (index, clock) in self.list.iter_mut().enumerate().skip(1) {
            let id = ClockId(index as u8);
            if members.iter().any(|member| member.joined && member.clock == id) {
                clock.advance(tick);
            }
        }
        for member in members.iter_mut().filter(|member| member.joined) {
            member.time += self.of(member.clock).went;
        }
    }
}
