//! The coordination map of two cues, as SVG: the time of the first across, of the second up.
//!
//! Its cells are laid on a raster of fixed size, so that a map of any length gives a drawing of a few kilobytes; a square of
//! the raster that holds any part of a cell is drawn as that cell, so nothing is drawn clear that was not proved.

use maud::{Markup, html};

use crate::proof::{CueMap, Stretch};

/// Room on paper for the map itself, and around it.
const ACROSS_MAX: f64 = 296.0;
const UP_MAX: f64 = 230.0;
const LEAST: f64 = 56.0;
const LEFT: f64 = 48.0;
const BELOW: f64 = 34.0;
const ABOVE: f64 = 8.0;
/// Places on paper that a square of the raster takes.
const SQUARE: f64 = 2.0;
/// Thickness of the bar of starts.
const BAR: f64 = 6.0;

/// From the times of two cues to paper.
struct Axes {
    durations: [f64; 2],
    size: [f64; 2],
}

impl Axes {
    /// One second is as long across as up, unless that makes one of them a thread.
    fn new(durations: [f64; 2]) -> Axes {
        let [first, second] = durations.map(|duration| duration.max(1e-3));
        let scale = (ACROSS_MAX / first).min(UP_MAX / second);
        let size = [(first * scale).max(LEAST), (second * scale).max(LEAST)];
        Axes { durations: [first, second], size }
    }

    fn x(&self, time: f64) -> f64 {
        LEFT + self.size[0] * time / self.durations[0]
    }

    fn y(&self, time: f64) -> f64 {
        ABOVE + self.size[1] * (1.0 - time / self.durations[1])
    }

    fn height(&self) -> f64 {
        ABOVE + self.size[1] + BELOW
    }

    /// Where the second starts when the first is at `start` s: on the lower edge, or before the first on the left one.
    fn start(&self, start: f64) -> (f64, f64) {
        if start >= 0.0 { (self.x(start), self.y(0.0)) } else { (self.x(0.0), self.y(-start)) }
    }

    /// Where the line of that start leaves the map.
    fn end(&self, start: f64) -> (f64, f64) {
        let [first, second] = self.durations;
        if start + second <= first {
            (self.x(start + second), self.y(second))
        } else {
            (self.x(first), self.y(first - start))
        }
    }
}

/// The map, with the names of its cues, and the instant of a finding if there is one.
pub fn map_drawing(map: &CueMap, names: [&str; 2], instant: Option<[f64; 2]>) -> Markup {
    let axes = Axes::new(map.durations);
    let [first, second] = axes.durations;
    let (left, right, top, bottom) = (axes.x(0.0), axes.x(first), axes.y(second), axes.y(0.0));
    let (open, blocked) = raster(map, &axes);
    let title = format!("coordination map of cues {} and {}", names[0], names[1]);
    html! {
        svg.map viewBox={ "0 0 360 " (format!("{:.0}", axes.height())) } role="img" aria-label=(title) {
            @for stretch in &map.blocked { path.lines d=(band(&axes, stretch)) {} }
            path.not-proved d=(open) {}
            path.blocked d=(blocked) {}
            path.frame d=(format!("M{left:.1} {top:.1}H{right:.1}V{bottom:.1}H{left:.1}Z")) {}
            (starts(map, &axes))
            @if map.pair.tied() { path.tied d=(line(&axes, map.pair.from)) {} }
            @if let Some([one, other]) = instant {
                @let (x, y) = (axes.x(one.clamp(0.0, first)), axes.y(other.clamp(0.0, second)));
                circle.instant cx=(tenths(x)) cy=(tenths(y)) r="5" {}
                path.instant d=(format!("M{:.1} {y:.1}h16M{x:.1} {:.1}v16", x - 8.0, y - 8.0)) {}
            }
            (times(map, &axes, names))
        }
    }
}

fn tenths(value: f64) -> String {
    format!("{value:.1}")
}

/// Squares that are not proved, and squares that are blocked, each as the data of one path.
fn raster(map: &CueMap, axes: &Axes) -> (String, String) {
    let [columns, rows] = axes.size.map(|size| (size / SQUARE).ceil() as usize);
    let mut squares = vec![0_u8; columns * rows];
    let range = |from: f64, to: f64, duration: f64, count: usize| {
        let at = |time: f64| time / duration * count as f64;
        let first = ((at(from) + 1e-6) as usize).min(count - 1);
        first..((at(to) - 1e-6).ceil() as usize).clamp(first + 1, count)
    };
    for cell in &map.cells {
        for row in range(cell.second.from, cell.second.to, axes.durations[1], rows) {
            for column in range(cell.first.from, cell.first.to, axes.durations[0], columns) {
                let square = &mut squares[row * columns + column];
                *square = (*square).max(if cell.blocked { 2 } else { 1 });
            }
        }
    }
    let [wide, high] = [axes.size[0] / columns as f64, axes.size[1] / rows as f64];
    let path = |kind: u8| {
        let mut text = String::new();
        for (run, from, to) in blocks(&squares, columns, kind) {
            let (x, y) = (LEFT + run.0 as f64 * wide, ABOVE + axes.size[1] - to as f64 * high);
            let (width, height) = ((run.1 - run.0) as f64 * wide, (to - from) as f64 * high);
            text.push_str(&format!("M{x:.1} {y:.1}h{width:.1}v{height:.1}h-{width:.1}z"));
        }
        text
    };
    (path(1), path(2))
}

/// Rectangles of one kind: the columns of a run, from and to, and the rows over which it stays the same.
fn blocks(squares: &[u8], columns: usize, kind: u8) -> Vec<((usize, usize), usize, usize)> {
    let mut done = Vec::new();
    let mut open: Vec<((usize, usize), usize)> = Vec::new();
    let rows = squares.len() / columns;
    for (row, line) in squares.chunks(columns).enumerate() {
        let mut runs: Vec<(usize, usize)> = Vec::new();
        for (column, _) in line.iter().enumerate().filter(|(_, square)| **square == kind) {
            match runs.last_mut() {
                Some(last) if last.1 == column => last.1 += 1,
                Some(_) | None => runs.push((column, column + 1)),
            }
        }
        open.retain(|&(run, from)| {
            let goes_on = runs.contains(&run);
            if !goes_on {
                done.push((run, from, row));
            }
            goes_on
        });
        let new: Vec<_> = runs.into_iter().filter(|run| !open.iter().any(|(known, _)| known == run)).collect();
        open.extend(new.into_iter().map(|run| (run, row)));
    }
    done.extend(open.into_iter().map(|(run, from)| (run, from, rows)));
    done
}

/// The lines of a stretch of starts that are blocked.
fn band(axes: &Axes, stretch: &Stretch) -> String {
    let [first, second] = axes.durations;
    let (from, to) = (stretch.from.max(-second), stretch.to.min(first));
    if from >= to {
        return String::new();
    }
    let mut corners = vec![axes.start(from)];
    if from < 0.0 && to > 0.0 {
        corners.push(axes.start(0.0));
    }
    corners.extend([axes.start(to), axes.end(to)]);
    let turn = first - second;
    if from < turn && turn < to {
        corners.push(axes.end(turn));
    }
    corners.push(axes.end(from));
    let corners: Vec<String> = corners.iter().map(|(x, y)| format!("{x:.1} {y:.1}")).collect();
    format!("M{}Z", corners.join("L"))
}

fn line(axes: &Axes, start: f64) -> String {
    let [first, second] = axes.durations;
    let start = start.clamp(-second, first);
    let ((x, y), (to_x, to_y)) = (axes.start(start), axes.end(start));
    format!("M{x:.1} {y:.1}L{to_x:.1} {to_y:.1}")
}

/// The starts of the second that the list allows, along the two edges where lines begin: clear ones as a solid bar,
/// blocked ones as a hatched one.
fn starts(map: &CueMap, axes: &Axes) -> Markup {
    let [first, second] = axes.durations;
    let (low, high) = (map.pair.from.clamp(-second, first), map.pair.to.clamp(-second, first));
    let clipped = |stretch: &Stretch| {
        let (from, to) = (stretch.from.max(low), stretch.to.min(high));
        (from <= to).then_some((from, to))
    };
    let clear = clear(map, low, high);
    html! {
        @for (from, to) in clear { (bar(axes, from, to, "clear")) }
        @for (from, to) in map.blocked.iter().filter_map(clipped) { (bar(axes, from, to, "blocked")) }
    }
}

fn clear(map: &CueMap, low: f64, high: f64) -> Vec<(f64, f64)> {
    let mut clear = Vec::new();
    let mut from = low;
    for stretch in &map.blocked {
        if stretch.from > from && from < high {
            clear.push((from, stretch.from.min(high)));
        }
        from = from.max(stretch.to);
    }
    if from < high {
        clear.push((from, high));
    }
    clear
}

fn bar(axes: &Axes, from: f64, to: f64, class: &str) -> Markup {
    let (corner_x, corner_y) = (axes.x(0.0), axes.y(0.0));
    html! {
        @if to > 0.0 || (from == 0.0 && to == 0.0) {
            @let (left, right) = (axes.x(from.max(0.0)), axes.x(to));
            rect class={ "starts " (class) } x=(tenths(left)) y=(tenths(corner_y + 2.0))
                width=(tenths((right - left).max(1.5))) height=(BAR) {}
        }
        @if from < 0.0 {
            @let (top, bottom) = (axes.y(-from), axes.y((-to).max(0.0)));
            rect class={ "starts " (class) } x=(tenths(corner_x - 2.0 - BAR)) y=(tenths(top))
                width=(BAR) height=(tenths((bottom - top).max(1.5))) {}
        }
    }
}

/// The ends of both times, and the ends of what is blocked where there is room.
fn times(map: &CueMap, axes: &Axes, names: [&str; 2]) -> Markup {
    let [first, second] = axes.durations;
    let bottom = axes.y(0.0);
    let (mut across, mut up) = (vec![0.0, first], vec![second]);
    let open = (map.pair.from, map.pair.to);
    let ends = map.blocked.iter().flat_map(|stretch| [stretch.from, stretch.to]).chain([open.0, open.1]);
    for end in ends.filter(|end| end.is_finite() && *end >= open.0 && *end <= open.1) {
        let (kept, time, room) = if end >= 0.0 {
            (&mut across, end, 28.0 / axes.size[0] * first)
        } else {
            (&mut up, -end, 12.0 / axes.size[1] * second)
        };
        if kept.iter().all(|known| (known - time).abs() >= room) && time < if end >= 0.0 { first } else { second } {
            kept.push(time);
        }
    }
    html! {
        @for time in across {
            path.tick d=(format!("M{:.1} {bottom:.1}v9", axes.x(time))) {}
            text x=(tenths(axes.x(time))) y=(tenths(bottom + 18.0)) text-anchor="middle" { (format!("{time:.1}")) }
        }
        @for time in up {
            path.tick d=(format!("M{LEFT:.1} {:.1}h-9", axes.y(time))) {}
            text x=(LEFT - 11.0) y=(tenths(axes.y(time) + 3.0)) text-anchor="end" { (format!("{time:.1}")) }
        }
        text.name x=(LEFT) y=(tenths(bottom + 29.0)) { "cue " (names[0]) ", s →" }
        text.name transform=(format!("translate(10 {bottom:.1}) rotate(-90)")) { "cue " (names[1]) ", s →" }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_second_is_square_unless_that_makes_a_thread() {
        let axes = Axes::new([20.0, 10.0]);
        assert_eq!(axes.size, [296.0, 148.0]);
        assert_eq!(Axes::new([100.0, 1.0]).size, [296.0, LEAST]);
        assert_eq!(Axes::new([1.0, 128.0]).size, [LEAST, UP_MAX]);
    }

    #[test]
    fn a_line_starts_and_ends_on_the_edges() {
        let axes = Axes::new([20.0, 10.0]);
        assert_eq!(axes.start(5.0), (axes.x(5.0), axes.y(0.0)));
        assert_eq!(axes.end(5.0), (axes.x(15.0), axes.y(10.0)));
        assert_eq!(axes.end(15.0), (axes.x(20.0), axes.y(5.0)));
        assert_eq!(axes.start(-4.0), (axes.x(0.0), axes.y(4.0)));
        assert_eq!(axes.end(-4.0), (axes.x(6.0), axes.y(10.0)));
    }

    #[test]
    fn squares_are_joined_into_blocks() {
        let squares = [0, 2, 2, 0, 0, 2, 2, 1, 2, 0, 0, 1];
        assert_eq!(blocks(&squares, 4, 2), [((1, 3), 0, 2), ((0, 1), 2, 3)]);
        assert_eq!(blocks(&squares, 4, 1), [((3, 4), 1, 3)]);
    }
}
