//! What one course of the rate control follows.

use std::sync::Arc;

use super::curve::Curve;
use super::profile::{Profile, Sample};
use super::rate::{Course, Extremes, Path};

/// Several axes along one profile, or one axis along its curve.
#[derive(Clone, Debug)]
pub enum Track {
    /// In proportion, from 0 to 1.
    Straight(Profile),
    /// In the axis's own unit; an error of `lean` fades from it along a profile that lasts as long.
    Curved { curve: Arc<Curve>, lean: f64, fade: Profile },
}

impl Path for Track {
    fn duration(&self) -> f64 {
        match self {
            Track::Straight(profile) => profile.duration(),
            Track::Curved { curve, .. } => curve.duration(),
        }
    }

    fn at(&self, time: f64) -> Sample {
        match self {
            Track::Straight(profile) => profile.at(time),
            Track::Curved { curve, lean, .. } if *lean == 0.0 => curve.at(time),
            Track::Curved { curve, lean, fade } => curve.at(time).plus(fade.at(time).times(*lean)),
        }
    }

    fn change_after(&self, time: f64) -> f64 {
        match self {
            Track::Straight(profile) => profile.change_after(time),
            Track::Curved { curve, lean, .. } if *lean == 0.0 => curve.change_after(time),
            Track::Curved { curve, fade, .. } => curve.change_after(time).min(fade.change_after(time)),
        }
    }

    fn change_before(&self, time: f64) -> f64 {
        match self {
            Track::Straight(profile) => profile.change_before(time),
            Track::Curved { curve, lean, .. } if *lean == 0.0 => curve.change_before(time),
            Track::Curved { curve, fade, .. } => curve.change_before(time).max(fade.change_before(time)),
        }
    }

    /// Of a curve with an error the sum of both, which bounds it.
    fn extremes(&self, begin: f64, end: f64) -> Extremes {
        match self {
            Track::Straight(profile) => profile.extremes(begin, end),
            Track::Curved { curve, lean, .. } if *lean == 0.0 => curve.extremes(begin, end),
            Track::Curved { curve, lean, fade } => {
                let (curve, fade) = (curve.extremes(begin, end), fade.extremes(begin, end));
                Extremes {
                    speed: curve.speed.plus(fade.speed.scaled(*lean)),
                    acceleration: curve.acceleration.plus(fade.acceleration.scaled(*lean)),
                    jerk: curve.jerk.plus(fade.jerk.scaled(*lean)),
                }
            }
        }
    }
}

impl Course<Track> {
    /// Whether another course goes along the same profile at the same time, within whatever limits.
    pub fn goes_like(&self, other: &Course<Track>) -> bool {
        let same = match (&self.path, &other.path) {
            (Track::Straight(one), Track::Straight(other)) => one == other,
            (Track::Straight(_) | Track::Curved { .. }, Track::Straight(_) | Track::Curved { .. }) => false,
        };
        same && self.time == other.time
    }
}
