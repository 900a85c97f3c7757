//! Splines in the search: what they begin as, when they are over, and what is to be tried then.

use arrayvec::ArrayVec;

use super::{BESIDES, FEW, HEEDED, Search, Try, WORTH};
use crate::motion::rate::Course;
use crate::motion::rate::cells::keeps;
use crate::motion::rate::change::Change;
use crate::motion::rate::effort::Effort;
use crate::motion::rate::path::Path;
use crate::motion::rate::spline::{Goal, Next, Spline};

/// A spline begins as what is known, unless that takes so many times as long as any course would alone;
const FAR: f64 = 2.0;
/// else as a ramp that takes so many times as long.
const BEGINS: f64 = 1.3;
/// What takes so many times as long once it passes is worth a finer look.
const FINER: f64 = 1.2;

/// What a spline begins as.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Begins {
    Ramp,
    Known,
}

impl Search {
    pub(super) fn is_worth_mending(&self) -> bool {
        self.mending > 0 && self.takes() >= WORTH * self.least + BESIDES
    }

    pub(super) fn mending(&self) -> Try {
        Try::Mending(if self.takes() < FAR * self.least { Begins::Known } else { Begins::Ramp }, 0)
    }

    pub(super) fn whether_mending(&self) -> Try {
        // A start that does not meet the new rate may be tried again farther on, which is better than a slow one to the whole of it.
        if self.best.is_some() && self.is_worth_mending() { self.mending() } else { self.whether_plainly() }
    }

    /// One round.
    pub(super) fn mend<P: Path + Clone>(
        &mut self,
        courses: &[Course<P>],
        begins: Begins,
        round: usize,
        effort: &Effort,
    ) -> Try {
        let goal = Goal { from: self.from, to: self.to, regime: self.regime };
        let begun = self.spline.take().filter(|_| round > 0);
        let mut spline = begun.unwrap_or_else(|| match (begins, &self.best) {
            (Begins::Known, Some(best)) => Spline::like(goal, best.duration(), |time| best.at(time).speed),
            (Begins::Known | Begins::Ramp, _) => Spline::ramp(goal, BEGINS * self.least),
        });
        let heeded: ArrayVec<Course<P>, HEEDED> =
            self.heeded.iter().filter_map(|&index| courses.get(index).cloned()).collect();
        let heeded = if courses.len() <= FEW { courses } else { &heeded };
        let goes_on = match spline.mend(heeded, effort).unwrap_or(Next::GiveUp) {
            Next::Mend => true,
            Next::Check => {
                self.passes(courses, &spline.change(), effort);
                true
            }
            Next::CheckLast if self.passes(courses, &spline.change(), effort) => {
                self.takes() > FINER * self.least && spline.finer()
            }
            Next::CheckLast => spline.more_careful(),
            Next::GiveUp => false,
        };
        self.spline = Some(spline);
        if goes_on { Try::Mending(begins, round + 1) } else { self.after_mending(begins) }
    }

    fn after_mending(&self, begins: Begins) -> Try {
        // A spline finds the best that is near what it began as; from a ramp that may be no good one.
        let plans_again = begins == Begins::Ramp && self.to == 0.0 && self.takes() >= WORTH * self.least + BESIDES;
        if plans_again { Try::AtOnce(2) } else { self.whether_plainly() }
    }

    /// Keeps a change if all courses bear it; those that do not are heeded from then on.
    fn passes<P: Path>(&mut self, courses: &[Course<P>], change: &Change, effort: &Effort) -> bool {
        let mut passes = true;
        for (index, course) in courses.iter().enumerate() {
            if keeps(course, change, self.regime, effort) {
                continue;
            }
            passes = false;
            if courses.len() > FEW && !effort.is_spent() && !self.heeded.contains(&index) {
                // What finds no room there is not heeded, and the next change will hardly pass either.
                let _ = self.heeded.try_push(index);
            }
        }
        if passes {
            self.keep(Some(*change));
        }
        passes
    }
}
