//! A link that delivers in order, after a delay, each message once.

use crate::show::Nanos;

/// A ring of message slots that are made once and filled anew.
pub struct Link<T> {
    slots: Vec<Slot<T>>,
    first: usize,
    waiting: usize,
}

struct Slot<T> {
    due: Nanos,
    message: T,
}

impl<T> Link<T> {
    pub fn new(slots: usize, empty: impl Fn() -> T) -> Link<T> {
        let slots = (0..slots).map(|_| Slot { due: Nanos::ZERO, message: empty() }).collect();
        Link { slots, first: 0, waiting: 0 }
    }

    /// The slot to fill with a message that arrives at `due`, or after the one before it if that is later. `None`
    /// if the link is full, and the message lost.
    pub fn send(&mut self, due: Nanos) -> Option<&mut T> {
        if self.waiting == self.slots.len() {
            return None;
        }
        let due = match self.waiting.checked_sub(1) {
            Some(last) => due.max(self.slots[self.index(last)].due),
            None => due,
        };
        let index = self.index(self.waiting);
        self.waiting += 1;
        let slot = &mut self.slots[index];
        slot.due = due;
        Some(&mut slot.message)
    }

    /// The oldest message, if it has arrived by `now`.
    pub fn receive(&mut self, now: Nanos) -> Option<&T> {
        if self.waiting == 0 || self.slots[self.first].due > now {
            return None;
        }
        let index = self.first;
        self.first = self.index(1);
        self.waiting -= 1;
        Some(&self.slots[index].message)
    }

    fn index(&self, place: usize) -> usize {
        (self.first + place) % self.slots.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn send(link: &mut Link<u32>, due: i64, message: u32) -> bool {
        link.send(Nanos(due)).map(|slot| *slot = message).is_some()
    }

    #[test]
    fn delivers_in_order_and_not_early() {
        let mut link = Link::new(4, || 0);
        for turn in 0..10 {
            assert!(send(&mut link, turn * 10 + 5, 1));
            assert!(send(&mut link, turn * 10 + 7, 2));
            assert_eq!(link.receive(Nanos(turn * 10 + 4)), None);
            assert_eq!(link.receive(Nanos(turn * 10 + 7)), Some(&1));
            assert_eq!(link.receive(Nanos(turn * 10 + 7)), Some(&2));
            assert_eq!(link.receive(Nanos(turn * 10 + 9)), None);
        }
    }

    #[test]
    fn a_message_never_overtakes_one_that_was_delayed() {
        let mut link = Link::new(4, || 0);
        assert!(send(&mut link, 50, 1));
        assert!(send(&mut link, 20, 2));
        assert_eq!(link.receive(Nanos(40)), None);
        assert_eq!(link.receive(Nanos(50)), Some(&1));
        assert_eq!(link.receive(Nanos(50)), Some(&2));
    }

    #[test]
    fn loses_what_finds_no_room() {
        let mut link = Link::new(2, || 0);
        assert!(send(&mut link, 1, 1));
        assert!(send(&mut link, 1, 2));
        assert!(!send(&mut link, 1, 3));
        assert_eq!(link.receive(Nanos(1)), Some(&1));
        assert!(send(&mut link, 1, 4));
        assert_eq!(link.receive(Nanos(1)), Some(&2));
        assert_eq!(link.receive(Nanos(1)), Some(&4));
    }
}
