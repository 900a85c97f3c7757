//! The search for the quickest change, try by try: plans of growing care, at once, after a wait or in two stages; splines where those
//! fail or take long; then the plain search. What is kept is the shortest that has passed the check.
//!
//! Every try may take so many looks, and all of them together: so no search takes longer than it may, by construction, and one
//! that must not hold up a tick goes on in the next, where it stopped. Of many courses only few are ever at a limit: the
//! first plan heeds the slowest of them, and each further one those besides that the one before broke.

mod mending;

use arrayvec::ArrayVec;

use mending::Begins;

use super::cells::keeps;
use super::change::Change;
use super::effort::Effort;
use super::path::Path;
use super::spline::Spline;
use super::wanted::{CARES, CARES_OF_A_START, Care, QUICKEST, Wanted, change_ahead, cost, least_time};
use super::{Course, Regime, alone, ladder, level, run_out, time_out};
use crate::motion::profile::Sample;

/// A change that takes so many times as long as any course would alone is worth a try to wait;
const WORTH: f64 = 1.05;
/// and so many s besides, to be mended.
const BESIDES: f64 = 0.02;
/// A wait lasts for as many changes of jerk at most.
const WAITS: usize = 4;
/// Where the path itself needs all that the limits allow, a rate nears the new one by and by. It may then rest at one of these
/// parts of it,
const STAGES: [f64; 4] = [0.99, 0.9, 0.75, 0.5];
/// until one of as many changes of jerk leaves room.
const STAGE_CHANGES: usize = 3;
/// What ends at another rate, near the new one, is taken to stay there for so many times as long as any course would take alone.
const NEARING: f64 = 2.0;
/// Looks that one try may take at most, and all of a search of what moves already;
const TRY: u32 = 8_000;
const MOST: u32 = 40_000;
/// of one that begins at rest, which nothing hurries;
const MOST_AT_REST: u32 = 72_000;
/// of one that must be over within a tick.
const MOST_IN_A_TICK: u32 = 8_000;
/// Those that are left to splines, for which no search within a tick has the time;
const MENDING: u32 = 24_000;
/// and the part of the others that is left to the plain search.
const PLAINLY: u32 = 4;
/// A change that takes so many times as long as any course would alone is worth a look for a plainer one.
const PLAIN: f64 = 1.5;
/// Courses that are all heeded from the first, or else as many of them.
const FEW: usize = 4;
/// Courses that are heeded at most, and the times that some are added.
const HEEDED: usize = 12;
const ADDITIONS: usize = 5;

/// What is tried next.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Try {
    /// The closed form.
    Level,
    /// The stop of the slowest course alone.
    Alone,
    /// With so much care.
    AtOnce(usize),
    /// After so many changes of jerk, s from now.
    AfterAWait(usize, f64),
    /// By way of this stage, and so many changes of jerk there, s after it is reached.
    InStages(usize, usize, f64),
    /// A spline, from the plain ramp or from what is known, after so many rounds.
    Mending(Begins, usize),
    /// A ramp of this shape.
    Plainly(usize),
    Done,
}

/// A search for the quickest change from one state to another rate, which goes on where it stopped. It takes no memory but its
/// own. Whoever goes on with it brings the courses that it began with.
#[derive(Clone, Debug)]
pub struct Search {
    /// Tells the rate as its speed.
    from: Sample,
    to: f64,
    regime: Regime,
    /// The least time that any course would take by itself, s.
    least: f64,
    best: Option<Change>,
    /// On at a steady rate until every path has ended, which is no stop that anyone wants.
    /// s; infinity where there is none.
    at_the_end: f64,
    next: Try,
    /// The first of two stages,
    first: Option<Change>,
    /// and the one that brings nearest to the new rate.
    nearest: Option<Change>,
    /// What is mended.
    spline: Option<Spline>,
    /// Those among many courses that are heeded.
    heeded: ArrayVec<usize, HEEDED>,
    /// Looks that are left.
    left: u32,
    /// Those that are kept for the plain search,
    plainly: u32,
    /// and for splines.
    mending: u32,
}

impl Search {
    /// From `rate` and its derivative `drift` to the rate `to`.
    pub fn new<P: Path>(courses: &[Course<P>], rate: f64, drift: f64, to: f64, regime: Regime) -> Search {
        let most = if rate == 0.0 && drift == 0.0 { MOST_AT_REST } else { MOST };
        Search::within(most, courses, [rate, drift, to], regime)
    }

    /// The same, but for what has to be known at once, as one of so many.
    pub fn hurried<P: Path>(
        among: usize,
        courses: &[Course<P>],
        rate: f64,
        drift: f64,
        to: f64,
        regime: Regime,
    ) -> Search {
        let most = MOST_IN_A_TICK / u32::try_from(among.max(1)).unwrap_or(u32::MAX);
        Search::within(most, courses, [rate, drift, to], regime)
    }

    fn within<P: Path>(most: u32, courses: &[Course<P>], [rate, drift, to]: [f64; 3], regime: Regime) -> Search {
        let from = Sample { speed: rate, acceleration: drift, ..Sample::default() };
        // A path that needs all its limits leaves no room to mend a change to the full rate.
        let mending = if most < MOST || to.abs() >= 1.0 { 0 } else { MENDING };
        let mut search = Search {
            from,
            to,
            regime,
            least: QUICKEST,
            best: None,
            at_the_end: f64::INFINITY,
            next: Try::Level,
            first: None,
            nearest: None,
            spline: None,
            heeded: ArrayVec::new(),
            left: most,
            plainly: (most - mending) / PLAINLY,
            mending,
        };
        if ![rate, drift, to].into_iter().all(f64::is_finite) {
            search.next = Try::Done;
        } else if rate == to && drift == 0.0 {
            (search.next, search.best) = (Try::Done, Some(Change::steady(to)));
        } else {
            search.least = least_time(courses, from, to, regime);
            // From a steady rate a stop always is: at the latest where every path has ended.
            search.at_the_end = if to == 0.0 && drift == 0.0 { time_out(courses, rate) } else { f64::INFINITY };
            search.heed_slowest(courses);
        }
        search
    }

    /// Goes on for about so many looks, and by no more than one try beyond them. True once it is over.
    pub fn go_on<P: Path + Clone>(&mut self, courses: &[Course<P>], looks: u32) -> bool {
        let end = self.left.saturating_sub(looks);
        while self.next != Try::Done && (self.left > end || self.left == 0) {
            let effort = Effort::of(TRY.min(self.left));
            self.next = self.attempt(courses, &effort);
            self.left -= effort.spent();
            self.next = self.unless_spent(self.next);
        }
        if self.next == Try::Done {
            self.keep(run_out(self.from.speed, self.at_the_end));
            self.best = self.best.or(self.nearest);
        }
        self.next == Try::Done
    }

    /// The same with what is left of some looks, which are taken away.
    pub fn go_on_within<P: Path + Clone>(&mut self, courses: &[Course<P>], looks: &mut u32) -> bool {
        if *looks == 0 && self.next != Try::Done {
            return false;
        }
        let before = self.left;
        let over = self.go_on(courses, *looks);
        *looks = looks.saturating_sub(before - self.left);
        over
    }

    /// To its end.
    pub fn finish<P: Path + Clone>(mut self, courses: &[Course<P>]) -> Option<Change> {
        while !self.go_on(courses, u32::MAX) {}
        self.best
    }

    /// The best so far. Where the path itself needs all that the limits allow, none may be found to the new rate, but one to a
    /// rate near it: from there it is to be tried again farther on.
    pub fn found(&self) -> Option<&Change> {
        self.best.as_ref()
    }

    /// The rate that is searched for.
    pub fn goal(&self) -> f64 {
        self.to
    }

    /// Looks that it may still take.
    pub fn left(&self) -> u32 {
        self.left
    }

    /// What comes next, or what the looks that are left are for.
    fn unless_spent(&self, next: Try) -> Try {
        match next {
            Try::AfterAWait(..) | Try::InStages(..) if self.left <= self.plainly + self.mending => {
                self.whether_mending()
            }
            Try::AtOnce(_) | Try::Mending(..) if self.left <= self.plainly => self.whether_plainly(),
            Try::Plainly(_) if self.left == 0 => Try::Done,
            Try::Level | Try::Alone | Try::AtOnce(_) | Try::AfterAWait(..) | Try::InStages(..) => next,
            Try::Mending(..) | Try::Plainly(_) | Try::Done => next,
        }
    }

    fn attempt<P: Path + Clone>(&mut self, courses: &[Course<P>], effort: &Effort) -> Try {
        match self.next {
            Try::Level => {
                self.best = level(courses, self.from.speed, self.from.acceleration, self.to, self.regime);
                match self.best {
                    Some(_) => Try::Done,
                    None if self.to == 0.0 => Try::Alone,
                    None => Try::AtOnce(0),
                }
            }
            Try::Alone => self.alone(courses, effort),
            Try::AtOnce(tried) => self.at_once(courses, tried, effort),
            Try::AfterAWait(tried, wait) => self.after_a_wait(courses, tried, wait, effort),
            Try::InStages(stage, changes, wait) => self.in_stages(courses, stage, changes, wait, effort),
            Try::Mending(begins, round) => self.mend(courses, begins, round, effort),
            Try::Plainly(shape) => {
                let quickest = if self.to == 0.0 { self.least } else { QUICKEST };
                let change = [self.from.speed, self.from.acceleration, self.to];
                let between = [quickest, self.takes().min(self.at_the_end)];
                let found = ladder::shortest(courses, change, self.regime, shape, between, effort);
                self.keep(found);
                if shape + 1 < ladder::TRIES { Try::Plainly(shape + 1) } else { Try::Done }
            }
            Try::Done => Try::Done,
        }
    }

    /// No stop is sooner; what else it breaks is heeded from then on.
    fn alone<P: Path>(&mut self, courses: &[Course<P>], effort: &Effort) -> Try {
        let Some(stop) = alone::stop(courses, self.from, self.regime, effort) else { return Try::AtOnce(0) };
        let mut keeps_all = true;
        for (index, course) in courses.iter().enumerate() {
            if keeps(course, &stop, self.regime, effort) {
                continue;
            }
            keeps_all = false;
            if courses.len() <= FEW || effort.is_spent() {
                return Try::AtOnce(0);
            }
            if !self.heeded.contains(&index) && self.heeded.len() < HEEDED / 2 {
                self.heeded.push(index);
            }
        }
        if keeps_all {
            self.keep(Some(stop));
        }
        if keeps_all { Try::Done } else { Try::AtOnce(0) }
    }

    fn at_once<P: Path + Clone>(&mut self, courses: &[Course<P>], tried: usize, effort: &Effort) -> Try {
        let stops = self.to == 0.0;
        let trusting = tried == 0 && self.regime == Regime::Stopping;
        let wanted = Wanted { trusting, ..self.wanted(CARES[tried]) };
        let found = self.heeding(courses, effort, |heeded| wanted.plan(heeded, effort));
        self.keep(found);
        let good = if stops && tried == 0 { self.takes() < WORTH * self.least } else { self.best.is_some() };
        if stops && tried == 1 && self.best.is_none() && self.is_worth_mending() {
            self.mending()
        } else if !good && tried + 1 < if stops { CARES.len() } else { CARES_OF_A_START } {
            Try::AtOnce(tried + 1)
        } else if self.takes() < WORTH * self.least {
            Try::Done
        } else if !stops {
            Try::InStages(0, 0, 0.0)
        } else if self.from.acceleration != 0.0 || self.from.speed == 0.0 {
            // One that brakes already, or stands, has nothing to wait for.
            self.whether_mending()
        } else {
            Try::AfterAWait(0, 0.0)
        }
    }

    /// Where several courses are near their limits, one that begins at once may have to wind its way between them. So where it
    /// takes much longer than each course would alone, it is also tried to wait, at the rate as it is, until a path's jerk
    /// changes.
    fn after_a_wait<P: Path + Clone>(
        &mut self,
        courses: &[Course<P>],
        tried: usize,
        wait: f64,
        effort: &Effort,
    ) -> Try {
        let rate = self.from.speed;
        let state = Sample { position: wait * rate, ..self.from };
        let wait = wait + change_ahead(courses, state) / rate;
        let there = Sample { position: wait * rate, ..self.from };
        let left = least_time(courses, there, self.to, self.regime);
        if !(wait.is_finite() && wait + left < self.takes()) {
            return self.whether_mending();
        }
        let trusting = self.regime == Regime::Stopping;
        let wanted = Wanted { wait, least: left, trusting, ..self.wanted(CARES[1]) };
        let found = self.heeding(courses, effort, |heeded| wanted.plan(heeded, effort));
        self.keep(found);
        if tried + 1 < WAITS { Try::AfterAWait(tried + 1, wait) } else { self.whether_mending() }
    }

    /// First to a part of the new rate, and from there to the whole at once or where a path's jerk has changed.
    fn in_stages<P: Path + Clone>(
        &mut self,
        courses: &[Course<P>],
        stage: usize,
        changes: usize,
        wait: f64,
        effort: &Effort,
    ) -> Try {
        let next = if stage + 1 < STAGES.len() { Try::InStages(stage + 1, 0, 0.0) } else { self.whether_mending() };
        let rate = STAGES[stage] * self.to;
        if (rate - self.from.speed) * (self.to - rate) <= 0.0 {
            return next;
        }
        if changes == 0 {
            let wanted = Wanted { to: rate, ..self.wanted(CARES[1]) };
            let found = self.heeding(courses, effort, |heeded| wanted.plan(heeded, effort));
            self.keep(found);
            self.first = found.filter(|first| first.to_rate() == rate);
        }
        let Some(first) = self.first.filter(|first| cost(first) + wait * (1.0 - rate.abs()) < self.costs()) else {
            return next;
        };
        let position = first.distance() + wait * rate;
        let there = Sample { position, speed: rate, ..Sample::default() };
        let left = least_time(courses, there, self.to, self.regime);
        let wanted = Wanted { from: there, least: left, ..self.wanted(CARES[1]) };
        let found = self.heeding(courses, effort, |heeded| first.then(wait, &wanted.plan(heeded, effort)?));
        self.keep(found);
        let wait = wait + change_ahead(courses, there) / rate;
        if changes < STAGE_CHANGES && wait.is_finite() { Try::InStages(stage, changes + 1, wait) } else { next }
    }

    fn whether_plainly(&self) -> Try {
        let good = if self.to == 0.0 {
            self.takes() < PLAIN * self.least
        } else {
            // What goes already may go on so, and try again, rather than speed up ever so slowly.
            let goes = self.from.speed * (self.to - self.from.speed) > 0.0;
            self.best.is_some() || self.nearest.is_some() || goes
        };
        if good { Try::Done } else { Try::Plainly(0) }
    }

    /// s; infinity as long as nothing is found.
    fn takes(&self) -> f64 {
        self.best.map_or(f64::INFINITY, |change| change.duration())
    }

    /// s; infinity as long as nothing is found.
    fn costs(&self) -> f64 {
        self.best.as_ref().map_or(f64::INFINITY, cost)
    }

    fn keep(&mut self, found: Option<Change>) {
        let Some(change) = found else { return };
        if change.to_rate() != self.to {
            // What is not there yet pays for the rest of the way.
            let off = |change: &Change| cost(change) + NEARING * self.least * (self.to - change.to_rate()).abs();
            if self.nearest.as_ref().is_none_or(|nearest| off(&change) < off(nearest)) {
                self.nearest = found;
            }
        } else if cost(&change) < self.costs() {
            self.best = found;
        }
    }

    fn wanted(&self, care: Care) -> Wanted {
        Wanted {
            from: self.from,
            to: self.to,
            regime: self.regime,
            care,
            wait: 0.0,
            least: self.least,
            trusting: false,
        }
    }

    /// Where there are many, the few that would take longest by themselves.
    fn heed_slowest<P: Path>(&mut self, courses: &[Course<P>]) {
        if courses.len() <= FEW {
            return;
        }
        let mut slowest = ArrayVec::<(f64, usize), { FEW + 1 }>::new();
        for (index, course) in courses.iter().enumerate() {
            let takes = least_time(std::slice::from_ref(course), self.from, self.to, self.regime);
            let place = slowest.iter().position(|&(other, _)| takes > other).unwrap_or(slowest.len());
            slowest.insert(place, (takes, index));
            slowest.truncate(FEW);
        }
        self.heeded.extend(slowest.into_iter().map(|(_, index)| index));
    }

    /// A change that keeps the limits of every course, made for those that are heeded. What it breaks besides is heeded too, and
    /// it is made anew.
    fn heeding<P: Path + Clone>(
        &mut self,
        courses: &[Course<P>],
        effort: &Effort,
        make: impl Fn(&[Course<P>]) -> Option<Change>,
    ) -> Option<Change> {
        let regime = self.regime;
        if courses.len() <= FEW {
            return make(courses)
                .filter(|change| courses.iter().all(|course| keeps(course, change, regime, effort)));
        }
        for _ in 0..=ADDITIONS {
            let heeded: ArrayVec<Course<P>, HEEDED> =
                self.heeded.iter().filter_map(|&index| courses.get(index).cloned()).collect();
            let change = make(&heeded)?;
            let known = self.heeded.len();
            for (index, course) in courses.iter().enumerate() {
                if keeps(course, &change, regime, effort) {
                    continue;
                }
                if effort.is_spent() || self.heeded.contains(&index) || self.heeded.try_push(index).is_err() {
                    return None;
                }
            }
            if self.heeded.len() == known {
                return Some(change);
            }
        }
        None
    }
}
