//! A condition as one axis sees it: how far it may go one way until the condition no longer permits, and which way leads nearer to
//! where it does; everything else as it is, or anywhere within where it may be.
//!
//! Between two edges of its leaves a condition is one thing, so each such cell is looked at once. What is measured may be off what is
//! told by the axis's tolerance: an axis therefore keeps so much short of the first edge beyond which the condition does not permit,
//! and is out of a place where it does not only once it is so much beyond the edge.

#[cfg(test)]
mod tests;

use crate::show::{Atom, AtomId, AxisId, Condition, Show, Truth};

/// Edges that are followed one way at most; there the way ends.
const EDGES_MAX: usize = 256;
/// Of the travel: what two positions differ by at least, and by how much an axis rests short of where nothing more is gained.
const STEP: f64 = 1e-7;
const HAIR: f64 = 1e-6;

/// Visits what it makes of an edge.
type Beside<'a> = &'a dyn Fn(f64, &mut dyn FnMut(f64));

/// See the module. Positions are in the axis's own unit; `way` is above zero towards greater ones, or below.
pub struct OneAxis<'a> {
    pub show: &'a Show,
    pub needs: &'a Condition,
    pub axis: AxisId,
    /// Where each other axis may be; `None` if nobody knows.
    pub place: &'a dyn Fn(AxisId) -> Option<[f64; 2]>,
    /// A leaf that no position decides.
    pub said: &'a dyn Fn(AtomId) -> Option<Truth>,
}

impl OneAxis<'_> {
    /// Whether the condition is true where the axis is, wherever within their places the others are.
    pub fn permits(&self, at: f64) -> bool {
        self.permits_part(self.needs, at)
    }

    /// The farthest that the axis may be told to go: `from` itself if it may not go on; infinite if nothing ends its way.
    pub fn end(&self, from: f64, way: f64) -> f64 {
        let edge = self.run(from, way);
        let end = edge - self.tolerance() * way.signum();
        if (end - from) * way > 0.0 { end } else { from }
    }

    /// The first edge ahead beyond which the condition does not permit.
    fn run(&self, from: f64, way: f64) -> f64 {
        let [low, high] = self.show.axis(self.axis).reach();
        let mut begin = from;
        for _ in 0..EDGES_MAX {
            let next = self.next(begin, way, &|edge, visit| visit(edge));
            let middle = next.map_or(begin + way.signum(), |next| (begin + next) / 2.0);
            if !self.permits(middle) {
                return begin;
            }
            let next = next.filter(|next| (low - self.tolerance()..=high + self.tolerance()).contains(next));
            let Some(next) = next else { return f64::INFINITY * way };
            begin = next;
        }
        begin
    }

    /// Whether the axis comes nearer to where the condition is true by going that way, as far as it has a say in it.
    pub fn leads_out(&self, from: f64, way: f64) -> bool {
        let step = STEP * self.span() * way.signum();
        match (self.short(self.needs, from, true), self.short(self.needs, from + step, true)) {
            // A leaf changes by as much as the axis goes: by less is rounding.
            (Some(here), Some(there)) => there < here - step.abs() / 2.0,
            (None, _) | (_, None) => false,
        }
    }

    /// As far as the axis may be told to go that way, out of where the condition is not true: on through all of where it is; or
    /// where it gains nothing more by itself.
    pub fn way_out(&self, from: f64, way: f64) -> f64 {
        let out = self.nearest(from, way);
        let beyond = out + STEP * self.span() * way.signum();
        if self.permits(beyond) { self.end(beyond, way) } else { out - HAIR * self.span() * way.signum() }
    }

    /// The nearest place that way from which on it gains nothing more.
    pub fn nearest(&self, from: f64, way: f64) -> f64 {
        let tolerance = self.tolerance();
        let aside = |edge: f64, visit: &mut dyn FnMut(f64)| {
            [edge - tolerance, edge, edge + tolerance].into_iter().for_each(visit);
        };
        let mut at = from;
        for _ in 0..EDGES_MAX {
            if !self.leads_out(at, way) {
                break;
            }
            let Some(next) = self.next(at, way, &aside) else { break };
            at = next;
        }
        at
    }

    /// How far the axis is from where it makes a part of a condition `wanted`; `None` where it has no say in it.
    fn short(&self, part: &Condition, at: f64, wanted: bool) -> Option<f64> {
        let each = |parts: &[Condition]| {
            let sum = |sum: Option<f64>, part: &Condition| match (sum, self.short(part, at, wanted)) {
                (Some(one), Some(other)) => Some(one + other),
                (one, other) => one.or(other),
            };
            parts.iter().fold(None, sum)
        };
        let least = |parts: &[Condition]| {
            let least = |least: Option<f64>, part: &Condition| {
                let done = || (self.truth(part, at) == Truth::of(wanted)).then_some(0.0);
                let here = self.short(part, at, wanted).or_else(done);
                match (least, here) {
                    (Some(one), Some(other)) => Some(f64::min(one, other)),
                    (one, other) => one.or(other),
                }
            };
            parts.iter().fold(None, least)
        };
        match (part, wanted) {
            (Condition::Atom(id), _) => self.short_of_leaf(*id, at, wanted),
            (Condition::All(parts), true) | (Condition::Any(parts), false) => each(parts),
            (Condition::Any(parts), true) | (Condition::All(parts), false) => least(parts),
            (Condition::Not(part), _) => self.short(part, at, !wanted),
        }
    }

    fn short_of_leaf(&self, id: AtomId, at: f64, wanted: bool) -> Option<f64> {
        if (self.said)(id).is_some() {
            return None;
        }
        let tolerance = self.tolerance();
        let off = |low: f64, high: f64| {
            if wanted { inside(at, low, high, tolerance) } else { outside(at, low, high, tolerance) }
        };
        match &self.show.atoms[id.index()] {
            Atom::Above { axis, limit } if *axis == self.axis => Some(off(*limit, f64::INFINITY)),
            Atom::Below { axis, limit } if *axis == self.axis => Some(off(f64::NEG_INFINITY, *limit)),
            Atom::Within { axis, from, to, modulo } if *axis == self.axis => Some(match modulo {
                None => off(*from, *to),
                Some(turn) => {
                    let low = from + ((at - from) / turn).floor() * turn;
                    let width = to - from;
                    if wanted {
                        off(low, low + width).min(off(low + turn, low + turn + width))
                    } else {
                        // Between two of them, or not at all where there is no room between them.
                        let gap = |low: f64| inside(at, low + width, low + turn, tolerance);
                        gap(low - turn).min(gap(low))
                    }
                }
            }),
            Atom::At { pose, .. } => {
                let own = pose.iter().find(|(axis, _)| *axis == self.axis);
                own.map(|(_, target)| off(target - tolerance, target + tolerance))
            }
            Atom::Above { .. } | Atom::Below { .. } | Atom::Within { .. } => None,
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => None,
        }
    }

    fn permits_part(&self, part: &Condition, at: f64) -> bool {
        self.truth(part, at).permits()
    }

    fn truth(&self, part: &Condition, at: f64) -> Truth {
        let place = |axis: AxisId| if axis == self.axis { Some([at, at]) } else { (self.place)(axis) };
        let leaf = |id: AtomId| {
            (self.said)(id)
                .or_else(|| self.show.atoms[id.index()].over_poses(self.show, &place))
                .unwrap_or(Truth::Unknown)
        };
        part.judge(&leaf)
    }

    /// The next of what `beside` makes of each edge, strictly beyond a place.
    fn next(&self, from: f64, way: f64, beside: Beside<'_>) -> Option<f64> {
        let mut nearest: Option<f64> = None;
        let mut visit = |edge: f64| {
            let ahead = (edge - from) * way > 0.0;
            if ahead && nearest.is_none_or(|nearest| (edge - nearest) * way < 0.0) {
                nearest = Some(edge);
            }
        };
        self.needs.visit(&mut |id| {
            if (self.said)(id).is_none() {
                self.visit_edges(id, from, &mut |edge| beside(edge, &mut visit));
            }
        });
        nearest
    }

    /// Where a leaf changes as the axis goes; of one that recurs, near a place.
    fn visit_edges(&self, id: AtomId, near: f64, visit: &mut dyn FnMut(f64)) {
        match &self.show.atoms[id.index()] {
            Atom::Above { axis, limit } | Atom::Below { axis, limit } if *axis == self.axis => visit(*limit),
            Atom::Within { axis, from, to, modulo } if *axis == self.axis => {
                // The middle too: where both ends are nearer than the tolerance, that is the place to be.
                for edge in [*from, (from + to) / 2.0, *to] {
                    match modulo {
                        None => visit(edge),
                        Some(turn) => {
                            let below = edge + ((near - edge) / turn).floor() * turn;
                            [below - turn, below, below + turn, below + 2.0 * turn]
                                .into_iter()
                                .for_each(&mut *visit);
                        }
                    }
                }
            }
            Atom::At { pose, .. } => {
                let tolerance = self.tolerance();
                for (_, target) in pose.iter().filter(|(axis, _)| *axis == self.axis) {
                    [target - tolerance, *target, target + tolerance].into_iter().for_each(&mut *visit);
                }
            }
            Atom::Above { .. } | Atom::Below { .. } | Atom::Within { .. } => {}
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => {}
        }
    }

    fn tolerance(&self) -> f64 {
        self.show.axis(self.axis).tolerance
    }

    fn span(&self) -> f64 {
        let [low, high] = self.show.axis(self.axis).reach();
        high - low
    }
}

/// How far a place is from those that are inside by the tolerance, or in the middle where there are none.
fn inside(at: f64, low: f64, high: f64, tolerance: f64) -> f64 {
    let (low, high) = (low + tolerance, high - tolerance);
    let (low, high) = if low <= high { (low, high) } else { ((low + high) / 2.0, (low + high) / 2.0) };
    (low - at).max(at - high).max(0.0)
}

/// How far it is from those that are outside by the tolerance.
fn outside(at: f64, low: f64, high: f64, tolerance: f64) -> f64 {
    (at - (low - tolerance)).min(high + tolerance - at).max(0.0)
}
