//! Where an axis was and how fast it went, small enough to draw.

/// Samples of one track at most; when it is full, every two become one.
const SAMPLES_MAX: usize = 4096;

/// One sample of a setpoint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// s since the show was armed.
    pub time: f64,
    pub position: f64,
    /// Per s; of those that became one sample, the largest, so that no peak is lost.
    pub speed: f64,
}

/// One axis over the rehearsal, while anything moved: between two points that lie further apart than
/// [`Track::step`], nothing did.
#[derive(Clone, Debug)]
pub struct Track {
    pub points: Vec<Point>,
    /// Ticks that one point stands for.
    ticks: u64,
    /// Of the point that is being gathered.
    gathered: u64,
    tick: f64,
}

impl Track {
    /// `tick` in s.
    pub fn new(tick: f64) -> Track {
        Track { points: Vec::with_capacity(SAMPLES_MAX), ticks: 1, gathered: 0, tick }
    }

    /// s that one point stands for.
    pub fn step(&self) -> f64 {
        self.ticks as f64 * self.tick
    }

    pub fn take(&mut self, point: Point) {
        match self.points.last_mut() {
            Some(last) if self.gathered < self.ticks => {
                *last = merged(*last, point);
                self.gathered += 1;
            }
            Some(_) | None => {
                if self.points.len() == SAMPLES_MAX {
                    self.halve();
                }
                self.points.push(point);
                self.gathered = 1;
            }
        }
    }

    /// Nothing moves any longer: the next point begins anew.
    pub fn pause(&mut self) {
        self.gathered = self.ticks;
    }

    /// Two points become one where nothing stood still between them.
    fn halve(&mut self) {
        let step = self.step();
        let mut kept: Vec<Point> = Vec::with_capacity(SAMPLES_MAX);
        let mut alone = false;
        for &point in &self.points {
            match kept.last_mut() {
                Some(last) if alone && point.time - last.time < 1.5 * step => {
                    *last = merged(*last, point);
                    alone = false;
                }
                Some(_) | None => {
                    kept.push(point);
                    alone = true;
                }
            }
        }
        self.points = kept;
        self.ticks *= 2;
    }
}

fn merged(first: Point, second: Point) -> Point {
    Point { speed: if second.speed.abs() > first.speed.abs() { second.speed } else { first.speed }, ..second }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_track_keeps_its_peak_its_end_and_its_pauses() {
        let mut track = Track::new(0.002);
        let ticks = 100_000_u32;
        for tick in 0..ticks {
            let speed = if tick == 54_321 { 9.0 } else { 1.0 };
            if (30_000..40_000).contains(&tick) {
                track.pause();
            } else {
                track.take(Point { time: f64::from(tick) * 0.002, position: f64::from(tick), speed });
            }
        }
        assert!(track.points.len() <= SAMPLES_MAX && track.points.len() > SAMPLES_MAX / 3);
        assert_eq!(track.points.iter().filter(|point| point.speed == 9.0).count(), 1);
        assert_eq!(track.points.last().map(|point| point.position), Some(f64::from(ticks - 1)));
        let apart = track.points.windows(2).filter(|pair| pair[1].time - pair[0].time > 2.5 * track.step());
        assert_eq!(apart.count(), 1);
    }
}
