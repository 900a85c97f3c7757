//! Whether a cue that stands on its path may go from there.

use crate::proof::blocked::Rule;
use crate::show::{AtomId, Condition, Truth};

/// One way from where a cue stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Going {
    /// The way is free, if all that is given is true: no pose decides that.
    Open(Vec<Given>),
    Shut(Shut),
}

/// What is left of a condition once the poses have been put in.
#[derive(Clone, Debug, PartialEq)]
pub struct Given {
    pub rule: Rule,
    pub left: Condition,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shut {
    /// At `time` s of the cue's own time, or where it stands.
    False { rule: Rule, leaf: Option<(AtomId, Truth)>, time: Option<f64> },
    /// It changes too often along the way to be followed.
    Unfollowed(Rule),
    /// No change of rate from rest keeps the limits there.
    NoRamp,
}

impl Going {
    pub const FREE: Going = Going::Open(Vec::new());

    pub fn is_open(&self) -> bool {
        match self {
            Going::Open(_) => true,
            Going::Shut(_) => false,
        }
    }

    /// Of either of two places.
    pub fn and(self, other: Going) -> Going {
        match (self, other) {
            (Going::Open(mut given), Going::Open(more)) => {
                more.into_iter().for_each(|one| add(&mut given, one));
                Going::Open(given)
            }
            (shut @ Going::Shut(_), _) | (_, shut @ Going::Shut(_)) => shut,
        }
    }
}

/// Each part that must be true by itself; what two rules ask alike is told once.
pub fn add(given: &mut Vec<Given>, one: Given) {
    match one.left {
        Condition::All(parts) => parts.into_iter().for_each(|left| add(given, Given { rule: one.rule, left })),
        left @ (Condition::Atom(_) | Condition::Any(_) | Condition::Not(_)) => {
            if given.iter().all(|known| known.left != left) {
                given.push(Given { rule: one.rule, left });
            }
        }
    }
}
