//! What a search may spend, counted: so what it takes at most is known by construction, and the same on every machine.

use std::cell::Cell;

/// The part of all looks that is kept for the end.
const RESERVE: u32 = 8;

/// In looks: one course looked at, at one instant of a piece or over one cell of the check.
#[derive(Debug)]
pub(super) struct Effort {
    most: u32,
    spent: Cell<u32>,
}

impl Effort {
    pub fn of(most: u32) -> Effort {
        Effort { most, spent: Cell::new(0) }
    }

    /// `None` where that is more than is left; then nothing is left.
    pub fn spend(&self, looks: usize) -> Option<()> {
        let after = u32::try_from(looks).ok().and_then(|looks| self.spent.get().checked_add(looks));
        let allowed = after.filter(|&after| after <= self.most);
        self.spent.set(allowed.unwrap_or(self.most));
        allowed.map(|_| ())
    }

    pub fn spent(&self) -> u32 {
        self.spent.get()
    }

    /// Whether no more is left than it takes to bring something to an end and to check it.
    pub fn is_scarce(&self) -> bool {
        self.most - self.spent.get() < self.most / RESERVE
    }

    pub fn is_spent(&self) -> bool {
        self.spent.get() == self.most
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_more_is_spent_than_there_is_and_what_is_refused_leaves_nothing() {
        let effort = Effort::of(10);
        assert_eq!((effort.spend(4), effort.spend(6), effort.spent()), (Some(()), Some(()), 10));
        assert_eq!(effort.spend(0), Some(()));
        let effort = Effort::of(10);
        assert_eq!((effort.spend(4), effort.spend(usize::MAX), effort.spent()), (Some(()), None, 10));
        assert_eq!(effort.spend(1), None);
    }
}
