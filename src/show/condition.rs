//! How conditions are judged: three-valued, so that what is not known never permits.

use serde::{Deserialize, Serialize};

use super::id::{AtomId, AxisId};
use super::model::{Atom, Condition, Show};

/// Three-valued truth (Kleene). Only `True` permits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Truth {
    True,
    False,
    Unknown,
}

impl Truth {
    pub fn of(value: bool) -> Truth {
        if value { Truth::True } else { Truth::False }
    }

    pub fn and(self, other: Truth) -> Truth {
        match (self, other) {
            (Truth::False, _) | (_, Truth::False) => Truth::False,
            (Truth::Unknown, _) | (_, Truth::Unknown) => Truth::Unknown,
            (Truth::True, Truth::True) => Truth::True,
        }
    }

    pub fn or(self, other: Truth) -> Truth {
        self.negated().and(other.negated()).negated()
    }

    pub fn negated(self) -> Truth {
        match self {
            Truth::True => Truth::False,
            Truth::False => Truth::True,
            Truth::Unknown => Truth::Unknown,
        }
    }

    pub fn permits(self) -> bool {
        self == Truth::True
    }

    pub fn word(self) -> &'static str {
        match self {
            Truth::True => "true",
            Truth::False => "false",
            Truth::Unknown => "unknown",
        }
    }
}

impl Condition {
    pub fn judge(&self, atom: &impl Fn(AtomId) -> Truth) -> Truth {
        match self {
            Condition::Atom(id) => atom(*id),
            Condition::All(parts) => parts.iter().map(|part| part.judge(atom)).fold(Truth::True, Truth::and),
            Condition::Any(parts) => parts.iter().map(|part| part.judge(atom)).fold(Truth::False, Truth::or),
            Condition::Not(part) => part.judge(atom).negated(),
        }
    }

    /// The atom to show to someone who asks why this condition does not permit, and what it is now.
    pub fn culprit(&self, atom: &impl Fn(AtomId) -> Truth) -> Option<(AtomId, Truth)> {
        if self.judge(atom).permits() {
            return None;
        }
        match self {
            Condition::Atom(id) => Some((*id, atom(*id))),
            Condition::All(parts) | Condition::Any(parts) => parts.iter().find_map(|part| part.culprit(atom)),
            Condition::Not(part) => part.first_atom().map(|id| (id, atom(id))),
        }
    }

    /// The leaf that settles it, where it is true or false whatever the leaves say that are not known.
    pub fn decider(&self, atom: &impl Fn(AtomId) -> Truth) -> Option<AtomId> {
        let truth = self.judge(atom);
        if truth == Truth::Unknown {
            return None;
        }
        match self {
            Condition::Atom(id) => Some(*id),
            Condition::All(parts) | Condition::Any(parts) => {
                let alike = parts.iter().filter(|part| part.judge(atom) == truth);
                alike.into_iter().find_map(|part| part.decider(atom))
            }
            Condition::Not(part) => part.decider(atom),
        }
    }

    /// What it still asks for where some leaves are known; `None` where those settle it.
    pub fn left_open(&self, atom: &impl Fn(AtomId) -> Truth) -> Option<Condition> {
        if self.judge(atom) != Truth::Unknown {
            return None;
        }
        let open = |parts: &[Condition]| -> Vec<Condition> {
            parts.iter().filter_map(|part| part.left_open(atom)).collect()
        };
        Some(match self {
            Condition::Atom(id) => Condition::Atom(*id),
            Condition::All(parts) => Condition::All(open(parts)),
            Condition::Any(parts) => Condition::Any(open(parts)),
            Condition::Not(part) => Condition::Not(Box::new(part.left_open(atom)?)),
        })
    }

    /// Its leftmost leaf.
    pub fn first_atom(&self) -> Option<AtomId> {
        match self {
            Condition::Atom(id) => Some(*id),
            Condition::All(parts) | Condition::Any(parts) => parts.iter().find_map(Condition::first_atom),
            Condition::Not(part) => part.first_atom(),
        }
    }

    /// Each of its leaves, left to right; takes no memory.
    pub fn visit(&self, visit: &mut dyn FnMut(AtomId)) {
        match self {
            Condition::Atom(id) => visit(*id),
            Condition::All(parts) | Condition::Any(parts) => parts.iter().for_each(|part| part.visit(visit)),
            Condition::Not(part) => part.visit(visit),
        }
    }

    /// Its leaves, left to right.
    pub fn atoms(&self) -> Vec<AtomId> {
        match self {
            Condition::Atom(id) => vec![*id],
            Condition::All(parts) | Condition::Any(parts) => parts.iter().flat_map(Condition::atoms).collect(),
            Condition::Not(part) => part.atoms(),
        }
    }
}

impl Atom {
    /// Judged from positions; an unknown position gives `Unknown`. `None` if it does not depend on positions.
    pub fn of_pose(&self, show: &Show, position: &impl Fn(AxisId) -> Option<f64>) -> Option<Truth> {
        let judged = |axis: AxisId, holds: &dyn Fn(f64) -> bool| {
            position(axis).map_or(Truth::Unknown, |value| Truth::of(holds(value)))
        };
        match self {
            Atom::Above { axis, limit } => Some(judged(*axis, &|value| value > *limit)),
            Atom::Below { axis, limit } => Some(judged(*axis, &|value| value < *limit)),
            Atom::Within { axis, from, to, modulo } => {
                Some(judged(*axis, &|value| is_within(value, *from, *to, *modulo)))
            }
            Atom::At { pose, .. } => Some(pose.iter().fold(Truth::True, |truth, &(axis, target)| {
                let tolerance = show.axis(axis).tolerance;
                truth.and(judged(axis, &|value| (value - target).abs() <= tolerance))
            })),
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => None,
        }
    }

    /// The same where each axis may be anywhere from the one position to the other: true or false only if it is so everywhere.
    pub fn over_poses(&self, show: &Show, place: &impl Fn(AxisId) -> Option<[f64; 2]>) -> Option<Truth> {
        let judged =
            |axis: AxisId, all: &dyn Fn([f64; 2]) -> bool, none: &dyn Fn([f64; 2]) -> bool| match place(axis) {
                Some(place) if all(place) => Truth::True,
                Some(place) if none(place) => Truth::False,
                Some(_) | None => Truth::Unknown,
            };
        match self {
            Atom::Above { axis, limit } => {
                Some(judged(*axis, &|[low, _]| low > *limit, &|[_, high]| high <= *limit))
            }
            Atom::Below { axis, limit } => {
                Some(judged(*axis, &|[_, high]| high < *limit, &|[low, _]| low >= *limit))
            }
            Atom::Within { axis, from, to, modulo } => {
                let inside = |value: f64| is_within(value, *from, *to, *modulo);
                // Of one that recurs, both ends on the same turn.
                let same = |[low, high]: [f64; 2]| match modulo {
                    None => true,
                    Some(turn) => ((low - from) / turn).floor() == ((high - from) / turn).floor(),
                };
                let past = |[low, high]: [f64; 2]| match modulo {
                    None => high < *from || low > *to,
                    Some(_) => !inside(low) && !inside(high),
                };
                let all = |place: [f64; 2]| same(place) && place.into_iter().all(inside);
                Some(judged(*axis, &all, &|place| same(place) && past(place)))
            }
            Atom::At { pose, .. } => Some(pose.iter().fold(Truth::True, |truth, &(axis, target)| {
                let tolerance = show.axis(axis).tolerance;
                let all = |place: [f64; 2]| place.into_iter().all(|value| (value - target).abs() <= tolerance);
                let none = |[low, high]: [f64; 2]| high < target - tolerance || low > target + tolerance;
                truth.and(judged(axis, &all, &none))
            })),
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => None,
        }
    }
}

/// Inside, the ends included; with `modulo` so many units are one turn.
fn is_within(value: f64, from: f64, to: f64, modulo: Option<f64>) -> bool {
    match modulo {
        None => from <= value && value <= to,
        Some(turn) => (value - from) - ((value - from) / turn).floor() * turn <= to - from,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_never_permits_and_never_hides_a_false() {
        use Truth::{False, True, Unknown};
        assert_eq!(Unknown.and(True), Unknown);
        assert_eq!(Unknown.and(False), False);
        assert_eq!(Unknown.or(True), True);
        assert_eq!(Unknown.or(False), Unknown);
        assert!(!Unknown.permits() && !Unknown.negated().permits());
    }

    #[test]
    fn within_wraps_at_its_modulus() {
        assert!(is_within(720.05, -0.1, 0.1, Some(360.0)));
        assert!(is_within(359.95, -0.1, 0.1, Some(360.0)));
        assert!(!is_within(358.6, -0.1, 0.1, Some(360.0)));
        assert!(is_within(-360.0, -0.1, 0.1, Some(360.0)));
        assert!(!is_within(720.05, -0.1, 0.1, None));
    }

    #[test]
    fn what_settles_a_condition_and_what_it_still_asks_for() {
        let leaf = |i| Condition::Atom(AtomId(i));
        // 0 an input, 1 and 2 poses.
        let condition = Condition::All(vec![leaf(0), Condition::Any(vec![leaf(1), leaf(2)])]);
        let poses = |first: Truth| {
            move |id: AtomId| match id {
                AtomId(0) => Truth::Unknown,
                AtomId(1) => first,
                _ => Truth::False,
            }
        };
        assert_eq!(condition.decider(&poses(Truth::False)), Some(AtomId(1)));
        assert_eq!(condition.left_open(&poses(Truth::False)), None);
        assert_eq!(condition.decider(&poses(Truth::True)), None);
        assert_eq!(condition.left_open(&poses(Truth::True)), Some(Condition::All(vec![leaf(0)])));
        let other = Condition::Not(Box::new(Condition::Any(vec![leaf(0), leaf(1)])));
        assert_eq!(other.decider(&poses(Truth::True)), Some(AtomId(1)));
        assert_eq!(
            other.left_open(&poses(Truth::False)),
            Some(Condition::Not(Box::new(Condition::Any(vec![leaf(0)]))))
        );
    }

    #[test]
    fn the_culprit_is_the_first_leaf_that_does_not_permit() {
        let leaf = |i| Condition::Atom(AtomId(i));
        let condition = Condition::All(vec![leaf(0), Condition::Any(vec![leaf(1), leaf(2)])]);
        let truth = |id: AtomId| if id == AtomId(0) { Truth::True } else { Truth::Unknown };
        assert_eq!(condition.judge(&truth), Truth::Unknown);
        assert_eq!(condition.culprit(&truth), Some((AtomId(1), Truth::Unknown)));
    }
}
