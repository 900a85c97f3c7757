//! What one course of the rate control follows.

use std::sync::Arc;

use super::curve::Curve;
use super::fade::Fade;
use super::profile::{Profile, Sample};
use super::rate::{Course, Extremes, Path};

/// Several axes along one profile, or one axis along its curve.
#[derive(Clone, Debug)]
pub enum Track {
    /// In proportion, from 0 to 1.
    Straight(Profile),
    /// In the axis's own unit, beside its curve by an error that fades.
    Curved { curve: Arc<Curve>, fade: Fade },
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
            Track::Curved { curve, fade } if fade.is_none() => curve.at(time),
            Track::Curved { curve, fade } => curve.at(time).plus(fade.at(time)),
        }
    }

    fn change_after(&self, time: f64) -> f64 {
        match self {
            Track::Straight(profile) => profile.change_after(time),
            Track::Curved { curve, fade } if fade.is_none() => curve.change_after(time),
            Track::Curved { curve, fade } => curve.change_after(time).min(fade.change_after(time)),
        }
    }

    fn change_before(&self, time: f64) -> f64 {
        match self {
            Track::Straight(profile) => profile.change_before(time),
            Track::Curved { curve, fade } if fade.is_none() => curve.change_before(time),
            Track::Curved { curve, fade } => curve.change_before(time).max(fade.change_before(time)),
        }
    }

    /// Of a curve with an error the sum of both, which bounds it.
    fn extremes(&self, begin: f64, end: f64) -> Extremes {
        match self {
            Track::Straight(profile) => profile.extremes(begin, end),
            Track::Curved { curve, fade } if fade.is_none() => curve.extremes(begin, end),
            Track::Curved { curve, fade } => {
                let (curve, fade) = (curve.extremes(begin, end), fade.extremes(begin, end));
                Extremes {
                    speed: curve.speed.plus(fade.speed),
                    acceleration: curve.acceleration.plus(fade.acceleration),
                    jerk: curve.jerk.plus(fade.jerk),
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
