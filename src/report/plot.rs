//! Curves over a show, as SVG of ours.
//!
//! A curve is drawn into a box of [`WIDTH`] by [`HEIGHT`] that is then stretched to the page, lines excepted, so that
//! the same drawing serves paper and phone. Words stand beside it, never in it: they would be stretched too.

use maud::{Markup, html};

pub const WIDTH: f64 = 1000.0;
pub const HEIGHT: f64 = 100.0;

/// s; a pause that is longer is cut.
const PAUSE: f64 = 2.0;
/// The part of the width that one cut takes, and that all of them take at most.
const CUT: f64 = 0.01;
const CUTS: f64 = 0.25;

/// From the time of a show to the width of a plot. Most of a show nothing moves: those pauses are cut.
pub struct TimeScale {
    /// s: from and to.
    stretches: Vec<[f64; 2]>,
    /// s that a cut takes the room of.
    cut: f64,
    /// s that the whole width is.
    whole: f64,
}

impl TimeScale {
    /// Over these times, rising; of two that lie further apart than `step` s nothing moved between.
    pub fn over(times: impl Iterator<Item = f64>, step: f64) -> TimeScale {
        let mut stretches: Vec<[f64; 2]> = Vec::new();
        for time in times {
            match stretches.last_mut() {
                Some([_, end]) if time - *end <= step.max(PAUSE) => *end = time,
                Some(_) | None => stretches.push([time - step, time]),
            }
        }
        let moving: f64 = stretches.iter().map(|[from, to]| to - from).sum::<f64>().max(1e-9);
        let cuts = stretches.len().saturating_sub(1) as f64;
        let part = CUT.min(CUTS / cuts.max(1.0));
        let cut = moving * part / (1.0 - part * cuts);
        TimeScale { stretches, cut, whole: moving + cuts * cut }
    }

    /// From 0 to [`WIDTH`].
    pub fn at(&self, time: f64) -> f64 {
        let mut gone = 0.0;
        for (index, &[from, to]) in self.stretches.iter().enumerate() {
            if time <= to {
                gone += (time - from).max(0.0);
                break;
            }
            gone += to - from;
            if index + 1 < self.stretches.len() {
                gone += self.cut;
            }
        }
        (WIDTH * gone / self.whole).min(WIDTH)
    }

    /// The start of each stretch, s.
    pub fn starts(&self) -> impl Iterator<Item = f64> + '_ {
        self.stretches.iter().map(|[from, _]| from.max(0.0))
    }

    /// The middle of each cut.
    fn cuts(&self) -> impl Iterator<Item = f64> + '_ {
        let ends = self.stretches.iter().take(self.stretches.len().saturating_sub(1));
        ends.map(|[_, to]| self.at(*to) + WIDTH * self.cut / self.whole / 2.0)
    }
}

/// What is drawn in one box.
pub struct Drawing<'a> {
    pub class: &'static str,
    /// For those who do not see it.
    pub title: String,
    pub scale: &'a TimeScale,
    /// s, from and to: behind the curve.
    pub bands: &'a [[f64; 2]],
    /// The values at the bottom and at the top of the box.
    pub range: [f64; 2],
    /// Values that get a dashed line, and those that get a plain one.
    pub edges: &'a [f64],
    pub zero: bool,
}

impl Drawing<'_> {
    /// With a curve through points of time (s, rising) and value.
    pub fn draw(&self, points: impl Iterator<Item = (f64, f64)>) -> Markup {
        let curve = path(points.map(|(time, value)| (self.scale.at(time), self.height(value))));
        let level = |value: f64| format!("M0 {:.1}H{WIDTH}", self.height(value));
        html! {
            svg class=(self.class) viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } preserveAspectRatio="none"
                role="img" aria-label=(self.title) {
                @for &[from, to] in self.bands {
                    @let (left, right) = (self.scale.at(from), self.scale.at(to));
                    rect.band x=(tenths(left)) y="0" width=(tenths(right - left)) height=(HEIGHT) {}
                }
                @for cut in self.scale.cuts() { path.cut d=(format!("M{cut:.1} 0V{HEIGHT}")) {} }
                @if self.zero { path.zero d=(level(0.0)) {} }
                @for &edge in self.edges { path.edge d=(level(edge)) {} }
                path d=(curve) {}
            }
        }
    }

    /// From the top down, with a little room at both ends.
    fn height(&self, value: f64) -> f64 {
        let [low, high] = self.range;
        let part = ((value - low) / (high - low).max(1e-12)).clamp(-0.05, 1.05);
        HEIGHT * (0.94 - 0.88 * part)
    }
}

fn tenths(value: f64) -> String {
    format!("{value:.1}")
}

/// Of the points that share one unit of the width, the lowest and the highest; and of a level stretch, its ends.
fn path(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let mut column: Vec<(f64, f64)> = Vec::new();
    for point in points {
        if column.first().is_some_and(|first| first.0.floor() != point.0.floor()) {
            keep(&mut kept, &column);
            column.clear();
        }
        column.push(point);
    }
    keep(&mut kept, &column);
    let mut text = String::new();
    for (index, (x, y)) in kept.iter().enumerate() {
        let separator = if index == 0 { "M" } else { "L" };
        text.push_str(&format!("{separator}{x:.1} {y:.1}"));
    }
    text
}

fn keep(kept: &mut Vec<(f64, f64)>, column: &[(f64, f64)]) {
    let (Some(&first), Some(&last)) = (column.first(), column.last()) else { return };
    let lowest = column.iter().copied().fold(first, |low, point| if point.1 < low.1 { point } else { low });
    let highest = column.iter().copied().fold(first, |high, point| if point.1 > high.1 { point } else { high });
    let mut wanted = [first, lowest, highest, last];
    wanted.sort_by(|a, b| a.0.total_cmp(&b.0));
    for point in wanted {
        let level = |other: &(f64, f64)| (other.1 - point.1).abs() < 0.05;
        match kept.as_slice() {
            [.., before, between] if level(before) && level(between) => {
                kept.pop();
            }
            _ => {}
        }
        if kept.last() != Some(&point) {
            kept.push(point);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_are_cut_and_time_still_rises() {
        let times = (0..100).map(|i| f64::from(i) * 0.1).chain((0..100).map(|i| 500.0 + f64::from(i) * 0.1));
        let scale = TimeScale::over(times, 0.1);
        assert_eq!(scale.starts().count(), 2);
        let at: Vec<f64> = [0.0, 5.0, 9.9, 250.0, 500.0, 509.9, 600.0].map(|time| scale.at(time)).into();
        assert!(at.windows(2).all(|pair| pair[0] <= pair[1]), "{at:?}");
        assert!((at[2] - 495.0).abs() < 5.0 && (at[5] - WIDTH).abs() < 1e-9, "{at:?}");
        assert_eq!(scale.cuts().count(), 1);
    }

    #[test]
    fn a_path_keeps_its_peaks_and_forgets_what_is_level() {
        let level = (0..5000).map(|i| (f64::from(i) / 5.0, 50.0));
        assert!(path(level).matches('L').count() <= 2);
        let peak = (0..5000).map(|i| (f64::from(i) / 5.0, if i == 2503 { 3.0 } else { 50.0 }));
        assert!(path(peak).contains(" 3.0"));
    }

    #[test]
    fn an_empty_show_has_a_scale_too() {
        let scale = TimeScale::over(std::iter::empty(), 0.1);
        assert_eq!(scale.at(3.0), 0.0);
    }
}
