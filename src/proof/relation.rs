//! Which cues of the list are in some relation to which others, a bit each.

use crate::show::CueId;

/// Of ordered pairs of cues. What is not in the list, such as a preset, is in no pair.
#[derive(Clone, Debug)]
pub struct Relation {
    cues: usize,
    words: Vec<u64>,
}

/// Some cues of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct CueSet(Vec<u64>);

fn width(cues: usize) -> usize {
    cues.div_ceil(64)
}

impl Relation {
    pub fn none(cues: usize) -> Relation {
        Relation { cues, words: vec![0; cues * width(cues)] }
    }

    fn at(&self, one: CueId, other: CueId) -> Option<(usize, u64)> {
        let word = one.index() * width(self.cues) + other.index() / 64;
        (one.index() < self.cues && other.index() < self.cues).then_some((word, 1 << (other.index() % 64)))
    }

    pub fn get(&self, one: CueId, other: CueId) -> bool {
        self.at(one, other).is_some_and(|(word, bit)| self.words[word] & bit != 0)
    }

    pub fn set(&mut self, one: CueId, other: CueId, is_one: bool) {
        let Some((word, bit)) = self.at(one, other) else { return };
        if is_one { self.words[word] |= bit } else { self.words[word] &= !bit }
    }

    /// Takes a pair in if that other one is.
    pub fn join(&mut self, (one, other): (CueId, CueId), known: (CueId, CueId)) {
        if self.get(known.0, known.1) {
            self.set(one, other, true);
        }
    }

    /// All that one cue is in the relation to.
    pub fn of(&self, one: CueId) -> CueSet {
        let from = one.index() * width(self.cues);
        CueSet(self.words[from..from + width(self.cues)].to_vec())
    }

    pub fn put(&mut self, one: CueId, others: &CueSet) {
        let from = one.index() * width(self.cues);
        self.words[from..from + others.0.len()].copy_from_slice(&others.0);
    }
}

impl CueSet {
    pub fn none(cues: usize) -> CueSet {
        CueSet(vec![0; width(cues)])
    }

    pub fn with(mut self, cue: CueId) -> CueSet {
        self.0[cue.index() / 64] |= 1 << (cue.index() % 64);
        self
    }

    fn by(self, other: &CueSet, bits: impl Fn(u64, u64) -> u64) -> CueSet {
        CueSet(self.0.iter().zip(&other.0).map(|(one, other)| bits(*one, *other)).collect())
    }

    pub fn or(self, other: &CueSet) -> CueSet {
        self.by(other, |one, other| one | other)
    }

    pub fn and(self, other: &CueSet) -> CueSet {
        self.by(other, |one, other| one & other)
    }

    pub fn without(self, other: &CueSet) -> CueSet {
        self.by(other, |one, other| one & !other)
    }

    /// In the order of the list.
    pub fn each(&self) -> impl Iterator<Item = CueId> + '_ {
        let of_word = |(index, word): (usize, &u64)| {
            // Each time without the lowest of the bits.
            let some = |rest: u64| (rest != 0).then_some(rest);
            let rest = std::iter::successors(some(*word), move |rest| some(rest & (rest - 1)));
            rest.map(move |rest| CueId::new(64 * index + rest.trailing_zeros() as usize))
        };
        self.0.iter().enumerate().flat_map(of_word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    proptest! {
        #[test]
        fn sets_of_cues_are_sets(
            one in prop::collection::btree_set(0..200_usize, 0..40),
            other in prop::collection::btree_set(0..200_usize, 0..40),
        ) {
            let mut relation = Relation::none(200);
            let cue = CueId::new;
            for (row, of_row) in [(3, &one), (150, &other)] {
                of_row.iter().for_each(|&index| relation.set(cue(row), cue(index), true));
            }
            let told = |set: &CueSet| set.each().map(|cue| cue.index()).collect::<BTreeSet<_>>();
            let [a, b] = [relation.of(cue(3)), relation.of(cue(150))];
            prop_assert_eq!((told(&a), told(&b)), (one.clone(), other.clone()));
            prop_assert_eq!(told(&a.clone().or(&b)), one.union(&other).copied().collect::<BTreeSet<_>>());
            prop_assert_eq!(told(&a.clone().and(&b)), one.intersection(&other).copied().collect::<BTreeSet<_>>());
            prop_assert_eq!(told(&a.without(&b)), one.difference(&other).copied().collect::<BTreeSet<_>>());
            prop_assert!(relation.of(cue(4)).each().next().is_none() && !relation.get(cue(3), cue(200)));
        }
    }
}
