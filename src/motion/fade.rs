//! How far an axis runs beside its curve: an error that fades to nothing along the way.
//!
//! An axis that follows a curve is set going from where it stands, within tolerance of the curve. It runs along the curve plus what it
//! stands off that, which a smooth step takes away:
//!
//! ```text
//!   off ────╮                     ╭──── off
//!            ╲                   ╱
//!         0   ╰────     or  ────╯   0
//!         now    gone     gone    now         s of the curve
//!          forwards           back
//! ```
//!
//! The step takes all of the way that is left, so that it asks the least of the axis. Where curve and error would leave the travel like
//! that, it is halved until they do not: an axis that is nearer to its curve at every instant is inside whenever one
//! farther off is, since the curve itself is. The error never grows, so whatever was proved of an axis anywhere within
//! its tolerance of the curve holds of it.

use super::curve::Curve;
use super::profile::{Ceiling, Profile, Sample};
use super::rate::{Extremes, Path, Range};

/// In an axis's own unit; a smaller error is none.
const NO_ERROR: f64 = 1e-9;
/// Of the whole curve: where less than this part of it is left, an error may stay to its end.
const NO_PART: f64 = 5e-4;
/// Of all the way that is left, how often it is halved at most.
const HALVINGS: u32 = 8;
/// Stretches of a curve that are looked at for one step; what they do not settle counts as outside.
const LOOKS: u32 = 64;

/// A step of an error from all of it to nothing, or from nothing to all of it, over a curve's own time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fade {
    /// In the axis's own unit, before the step, and what the step adds.
    before: f64,
    change: f64,
    /// s
    begins: f64,
    step: Profile,
}

impl Fade {
    /// Of an axis on its curve.
    pub const NONE: Fade = Fade::lasting(0.0);

    /// How many [`Fade::of_starts`] tells at most.
    pub const SHAPES: usize = HALVINGS as usize + 1;

    /// An error that stays.
    pub const fn lasting(off: f64) -> Fade {
        Fade { before: off, change: 0.0, begins: 0.0, step: Profile::NOTHING }
    }

    /// All of it at one time of the curve, s, and gone at another, later or earlier.
    pub fn between(off: f64, now: f64, gone: f64) -> Fade {
        if gone > now {
            Fade { before: off, change: -off, begins: now, step: Profile::idle(gone - now) }
        } else {
            Fade { before: 0.0, change: off, begins: gone, step: Profile::idle(now - gone) }
        }
    }

    /// For an axis that stands `off` its curve and is set going at one time of it towards another, its end or its start: the longest
    /// that stays inside `room`. One that is shorter than all of the way asks for no more than `limits` by itself at full
    /// rate. `None` where none does: from there the axis may not be set going.
    pub fn within(curve: &Curve, off: f64, [now, goal]: [f64; 2], room: Range, limits: Ceiling) -> Option<Fade> {
        if off.abs() <= NO_ERROR {
            return Some(Fade::NONE);
        }
        let hardly = ((goal - now).abs() < NO_PART * curve.duration()).then(|| Fade::lasting(off));
        if let Some(stays) = hardly.filter(|fade| fade.keeps(curve, [now, goal], room)) {
            return Some(stays);
        }
        let parts = (0..=HALVINGS).map(|halvings| now + part(halvings) * (goal - now));
        let mut fades = parts.filter(|&gone| gone != now).map(|gone| (gone, Fade::between(off, now, gone)));
        let (gone, whole) = fades.next()?;
        if whole.keeps(curve, [now, gone], room) {
            return Some(whole);
        }
        let bearable = fades.take_while(|(_, fade)| fade.asks_within(limits));
        bearable.into_iter().find(|(gone, fade)| fade.keeps(curve, [now, *gone], room)).map(|(_, fade)| fade)
    }

    /// Every fade that a start within a tolerance may have by [`Fade::within`]: its step, and how much it takes away at
    /// most, either way.
    pub fn of_starts(
        curve: &Curve,
        tolerance: f64,
        room: Range,
        limits: Ceiling,
    ) -> impl Iterator<Item = (Profile, f64)> + '_ {
        let from = curve.at(0.0).position;
        // Nothing stands outside.
        let farthest = [(room.low - from).max(-tolerance).min(0.0), (room.high - from).min(tolerance).max(0.0)];
        let mut settled = false;
        (0..=HALVINGS).map_while(move |halvings| {
            if settled {
                return None;
            }
            let gone = part(halvings) * curve.duration();
            let step = Profile::idle(gone);
            let bearable = if halvings == 0 { tolerance } else { tolerance.min(bearable(step.peaks(), limits)) };
            settled = farthest.iter().all(|&off| Fade::between(off, 0.0, gone).keeps(curve, [0.0, gone], room));
            Some((step, bearable))
        })
    }

    /// Whether it is nothing, everywhere.
    pub fn is_none(&self) -> bool {
        self.before == 0.0 && self.change == 0.0
    }

    /// Whether it comes to nothing on the way to the end of the curve, or to its start.
    pub fn ends(&self, forward: bool) -> bool {
        if forward { self.before + self.change == 0.0 } else { self.before == 0.0 }
    }

    /// The error and its derivatives at `time` s of the curve.
    pub fn at(&self, time: f64) -> Sample {
        let step = self.step.at(time - self.begins).times(self.change);
        Sample { position: self.before + step.position, ..step }
    }

    pub fn change_after(&self, time: f64) -> f64 {
        if self.change == 0.0 { f64::INFINITY } else { self.begins + self.step.change_after(time - self.begins) }
    }

    pub fn change_before(&self, time: f64) -> f64 {
        if self.change == 0.0 {
            f64::NEG_INFINITY
        } else {
            self.begins + self.step.change_before(time - self.begins)
        }
    }

    /// Of its derivatives, between two times of the curve.
    pub fn extremes(&self, begin: f64, end: f64) -> Extremes {
        let step = self.step.extremes(begin - self.begins, end - self.begins);
        Extremes {
            speed: step.speed.scaled(self.change),
            acceleration: step.acceleration.scaled(self.change),
            jerk: step.jerk.scaled(self.change),
        }
    }

    fn asks_within(&self, limits: Ceiling) -> bool {
        self.change.abs() <= bearable(self.step.peaks(), limits)
    }

    /// Whether curve and error stay inside between two times of the curve, in any order. False also where that is not settled.
    fn keeps(&self, curve: &Curve, [one, other]: [f64; 2], room: Range) -> bool {
        let inside = |time: f64| room.holds(curve.at(time).position + self.at(time).position);
        inside(one)
            && inside(other)
            && self.keeps_between(curve, [one.min(other), one.max(other)], room, &mut { LOOKS })
    }

    /// Halves a stretch until the extremes of both, which need not meet, are inside; at the ends of it they are.
    fn keeps_between(&self, curve: &Curve, [from, to]: [f64; 2], room: Range, looks: &mut u32) -> bool {
        let error = Range::of(self.at(from).position, self.at(to).position);
        let both = curve.positions(from, to).plus(error);
        if room.holds(both.low) && room.holds(both.high) {
            return true;
        }
        let middle = (from + to) / 2.0;
        if *looks == 0 || !room.holds(curve.at(middle).position + self.at(middle).position) {
            return false;
        }
        *looks -= 1;
        [[from, middle], [middle, to]].into_iter().all(|half| self.keeps_between(curve, half, room, looks))
    }
}

fn part(halvings: u32) -> f64 {
    1.0 / f64::from(1_u32 << halvings)
}

/// How many times a step may be taken before it asks for more than the limits.
fn bearable(peaks: Ceiling, limits: Ceiling) -> f64 {
    let speed = limits.speed / peaks.speed;
    speed.min(limits.acceleration / peaks.acceleration).min(limits.jerk / peaks.jerk)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{PARTS, traced};

    /// s
    const LASTS: f64 = 8.0;

    /// A curve over 8 s through what is told of every part of its time.
    fn curve(at: impl Fn(f64) -> f64) -> Curve {
        let looks = 40 * PARTS;
        let positions: Vec<f64> = (0..=looks).map(|look| at(look as f64 / looks as f64)).collect();
        traced(&positions, LASTS).0
    }

    /// From 0 m up to 1 m at that part of its time, and back.
    fn bump(top: f64) -> Curve {
        // The square of the sine, its argument bent so that it is greatest there.
        curve(|u| {
            let bent = u.powf(-std::f64::consts::LN_2 / top.ln());
            (std::f64::consts::PI * bent).sin().powi(2)
        })
    }

    fn up_to(high: f64) -> Range {
        Range { low: -1.0, high }
    }

    fn goes(fade: &Fade, curve: &Curve) -> impl Iterator<Item = (f64, f64, f64)> {
        let times = (0..=4000).map(|look| LASTS * f64::from(look) / 4000.0);
        times.map(|time| (time, fade.at(time).position, curve.at(time).position + fade.at(time).position))
    }

    /// s, from when it changes to when it does no longer.
    fn span(fade: &Fade) -> f64 {
        fade.step.duration()
    }

    #[test]
    fn an_error_goes_from_all_of_it_to_nothing_either_way_and_never_grows() {
        for (now, gone) in [(0.0, 8.0), (2.0, 3.5), (8.0, 0.0), (5.0, 4.9)] {
            let fade = Fade::between(-0.01, now, gone);
            assert_eq!((fade.at(now).position, fade.at(gone).position), (-0.01, 0.0), "{now} to {gone}");
            assert_eq!(fade.at(gone + (gone - now)).position, 0.0);
            assert!(fade.ends(gone > now) && !fade.ends(gone < now));
            let at = |part: f64| fade.at(now + part * (gone - now));
            for look in 0..1000 {
                let [here, next] = [look, look + 1].map(|look| at(f64::from(look) / 1000.0));
                assert!(here.position <= next.position, "{here:?}, {next:?}");
                let step = (gone - now) / 1000.0;
                let moved = (here.speed + next.speed) / 2.0 * step;
                assert!((next.position - here.position - moved).abs() < 1e-7, "{here:?}, {next:?}");
            }
        }
        assert!(Fade::NONE.is_none() && Fade::NONE.ends(true) && Fade::NONE.ends(false));
        assert!(!Fade::lasting(0.01).ends(true) && Fade::lasting(0.01).at(4.0).position == 0.01);
    }

    #[test]
    fn it_takes_all_of_the_way_unless_that_leaves_the_travel() {
        let curve = bump(0.5);
        let touches = up_to(curve.positions(0.0, LASTS).high);
        let begun = |off: f64, room: Range| Fade::within(&curve, off, [0.0, LASTS], room, Ceiling::NONE).unwrap();
        assert_eq!(span(&begun(-0.01, touches)), LASTS, "away from the end");
        assert_eq!(span(&begun(0.01, up_to(1.006))), LASTS, "half of it is gone at the top");
        assert_eq!(span(&begun(0.01, touches)), LASTS / 2.0);
        assert_eq!(begun(0.0, touches), Fade::NONE);
        // The whole of it over half of the way is what would be told without looking at the travel.
        let whole = Fade::between(0.01, 0.0, LASTS);
        assert!(goes(&whole, &curve).any(|(_, _, at)| at > touches.high + 1e-3));
    }

    #[test]
    fn from_where_the_curve_makes_for_the_end_at_once_it_may_not_be_begun_unless_hardly_off() {
        let curve = bump(0.06);
        let room = up_to(curve.positions(0.0, LASTS).high);
        let limits = Ceiling { speed: 1.0, acceleration: 0.5, jerk: 1.0 };
        let begun = |off: f64| Fade::within(&curve, off, [0.0, LASTS], room, limits);
        assert_eq!(begun(0.01), None);
        assert!(span(&begun(1e-4).unwrap()) <= 0.06 * LASTS);
        assert_eq!(span(&begun(-0.01).unwrap()), LASTS);
        // With no limit but the travel there is a way.
        assert!(Fade::within(&curve, 0.01, [0.0, LASTS], room, Ceiling::NONE).is_some());
        // Near an end of the curve with hardly any of it left it stays, as long as there is room.
        let left = [LASTS - 1e-3, LASTS];
        assert_eq!(Fade::within(&curve, 0.01, left, room, limits), Some(Fade::lasting(0.01)));
    }

    /// Numbers from 0 to 1 from a seed, the same everywhere.
    fn chance(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) + 1;
        move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            ((state ^ (state >> 33)) >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    /// Whatever is let on stays inside at every sample; what is not would leave, however soon its error were gone. And what is told of
    /// all starts within a tolerance holds of each.
    #[test]
    fn what_is_let_on_stays_inside_and_what_is_refused_does_not() {
        let limits = Ceiling { speed: 0.1, acceleration: 0.02, jerk: 0.02 };
        let (mut refused, mut shorter, mut whole) = (0, 0, 0);
        for seed in 0..400 {
            let mut chance = chance(seed);
            let swings = [1.0, 2.0, 3.0].map(|swing: f64| (swing, chance() - 0.5, chance()));
            let curve = curve(|u| {
                let wave =
                    swings.map(|(times, high, from)| high * (std::f64::consts::TAU * (times * u + from)).sin());
                let rest = (16.0 * u * u * (1.0 - u) * (1.0 - u)).min(1.0);
                wave.iter().sum::<f64>() * rest
            });
            let way = curve.positions(0.0, LASTS);
            let room = Range { low: way.low - 0.004 * chance(), high: way.high + 0.004 * chance() };
            let now = if seed % 2 == 0 { 0.0 } else { LASTS * chance() };
            let goal = if seed % 3 == 0 && now > 0.0 { 0.0 } else { LASTS };
            let off = 0.02 * (chance() - 0.5);
            let stands = curve.at(now).position + off;
            if !room.holds(stands) {
                continue;
            }
            let ceiling = if now == 0.0 { limits } else { Ceiling::NONE };
            let found = Fade::within(&curve, off, [now, goal], room, ceiling);
            let fades = |gone: f64| Fade::between(off, now, gone);
            let ahead = |time: &f64| (now.min(goal)..=now.max(goal)).contains(time);
            let leaves = |fade: &Fade, spare: f64| {
                goes(fade, &curve).filter(|(time, ..)| ahead(time)).any(|(_, error, at)| {
                    assert!(error.abs() <= off.abs() + 1e-15);
                    at < room.low + spare - 1e-12 || at > room.high - spare + 1e-12
                })
            };
            let Some(fade) = found else {
                refused += 1;
                let shortest = (0..=HALVINGS).map(|halvings| fades(now + part(halvings) * (goal - now)));
                let last = shortest.take_while(|fade| span(fade) == LASTS || fade.asks_within(ceiling)).last();
                // But for a tenth of a millimetre, which is how finely it looks.
                assert!(leaves(&last.unwrap(), 1e-4), "seed {seed}: {off} m at {now} s");
                continue;
            };
            assert!(!leaves(&fade, 0.0), "seed {seed}: {off} m at {now} s, {fade:?}");
            let long = span(&fade);
            if long < (goal - now).abs() && long > 0.0 {
                shorter += 1;
                assert!(leaves(&fades(now + (goal - now).signum() * 2.0 * long), 1e-4), "seed {seed}: {long} s");
            } else {
                whole += 1;
            }
            if now == 0.0 {
                let told = Fade::of_starts(&curve, 0.01, room, limits).find(|(step, _)| step.duration() == long);
                assert!(told.is_some_and(|(_, most)| most >= off.abs()), "seed {seed}: {off} m, {told:?}");
            }
        }
        assert!(refused > 20 && shorter > 20 && whole > 100, "{refused} refused, {shorter} shorter, {whole} whole");
    }
}
