//! What is left of a condition once the poses have decided all that they can.

use crate::show::{AtomId, Condition, Truth};

#[derive(Clone, Debug, PartialEq)]
pub enum Left {
    True,
    False,
    /// It is true if this is, which no pose decides.
    Open(Condition),
}

/// As [`Condition::judge`], with what is unknown kept.
pub fn left_of(condition: &Condition, judged: &impl Fn(AtomId) -> Truth) -> Left {
    match condition {
        Condition::Atom(id) => match judged(*id) {
            Truth::True => Left::True,
            Truth::False => Left::False,
            Truth::Unknown => Left::Open(condition.clone()),
        },
        Condition::All(parts) => joined(parts, judged, (&Left::False, Left::True), Condition::All),
        Condition::Any(parts) => joined(parts, judged, (&Left::True, Left::False), Condition::Any),
        Condition::Not(part) => match left_of(part, judged) {
            Left::True => Left::False,
            Left::False => Left::True,
            Left::Open(part) => Left::Open(Condition::Not(Box::new(part))),
        },
    }
}

/// `settles` is what one part settles the whole with, `idle` what a part leaves to the others.
fn joined(
    parts: &[Condition],
    judged: &impl Fn(AtomId) -> Truth,
    (settles, idle): (&Left, Left),
    join: impl Fn(Vec<Condition>) -> Condition,
) -> Left {
    let mut open = Vec::new();
    for part in parts {
        match left_of(part, judged) {
            settled if settled == *settles => return settled,
            Left::Open(part) => open.push(part),
            Left::True | Left::False => {}
        }
    }
    match open.len() {
        0 => idle,
        1 => open.pop().map_or(idle, Left::Open),
        _ => Left::Open(join(open)),
    }
}

/// The leaf that makes a condition false, and what it is.
pub fn to_blame(condition: &Condition, judged: &impl Fn(AtomId) -> Truth) -> Option<(AtomId, Truth)> {
    match condition {
        Condition::Atom(id) => Some((*id, judged(*id))),
        Condition::All(parts) | Condition::Any(parts) => {
            let is_false = |part: &&Condition| part.judge(judged) == Truth::False;
            to_blame(parts.iter().find(is_false)?, judged)
        }
        Condition::Not(part) => part.first_atom().map(|id| (id, judged(id))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leaf(index: usize) -> Condition {
        Condition::Atom(AtomId::new(index))
    }

    /// Over every judgement of three leaves: what is left says what the whole says.
    #[test]
    fn what_is_left_is_true_exactly_where_the_whole_is() {
        const TRUTHS: [Truth; 3] = [Truth::True, Truth::False, Truth::Unknown];
        let not = |part| Condition::Not(Box::new(part));
        let conditions = [
            Condition::All(vec![leaf(0), Condition::Any(vec![leaf(1), leaf(2)])]),
            Condition::Any(vec![not(leaf(0)), Condition::All(vec![leaf(1), leaf(2)])]),
            not(Condition::All(vec![leaf(0), not(leaf(1)), leaf(2)])),
            Condition::All(vec![]),
            Condition::Any(vec![]),
        ];
        for condition in &conditions {
            for case in 0..27 {
                let first = |atom: AtomId| TRUTHS[case / [9, 3, 1][atom.index()] % 3];
                for decided in [Truth::True, Truth::False] {
                    let later = |atom: AtomId| if first(atom) == Truth::Unknown { decided } else { first(atom) };
                    let left = match left_of(condition, &first) {
                        Left::True => Truth::True,
                        Left::False => Truth::False,
                        Left::Open(open) => {
                            assert!(open.atoms().into_iter().all(|atom| first(atom) == Truth::Unknown), "{open:?}");
                            open.judge(&later)
                        }
                    };
                    assert_eq!(left, condition.judge(&later), "{condition:?}, case {case}");
                }
                if condition.judge(&first) == Truth::False && !condition.atoms().is_empty() {
                    assert!(to_blame(condition, &first).is_some(), "{condition:?}, case {case}");
                }
            }
        }
    }
}
