//! From how far a stick is pushed to the share of full speed that it asks for.

/// The output at mid-travel of the logarithmic law, as a share: that of a common logarithmic potentiometer.
const MIDDLE: f64 = 0.10;

/// The response of one stick: an odd curve through (0, 0) and (±1, ±1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Response {
    dead_band: f64,
    taper: f64,
    reversed: bool,
}

/// A response that no stick can have: the number that was given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Unusable {
    /// Not from 0 to below 1.
    DeadBand { found: f64 },
    /// Not from 0 to 1.
    Taper { found: f64 },
}

impl Response {
    /// `dead_band` is the share of the stick's travel, to either side of its centre, that asks for nothing: from 0 to below 1.
    /// `taper` is how far the curve bends, from 0, linear, to 1, logarithmic. `reversed` turns its direction round.
    pub fn new(dead_band: f64, taper: f64, reversed: bool) -> Result<Response, Unusable> {
        if !(0.0..1.0).contains(&dead_band) {
            return Err(Unusable::DeadBand { found: dead_band });
        }
        if !(0.0..=1.0).contains(&taper) {
            return Err(Unusable::Taper { found: taper });
        }
        Ok(Response { dead_band, taper, reversed })
    }

    /// The share of full speed, -1 to 1, that a stick asks for at `x`, -1 to 1. Whatever is not within that, or no
    /// number, is no stick's position: none.
    pub fn shaped(&self, x: f64) -> Option<f64> {
        if !(-1.0..=1.0).contains(&x) {
            return None;
        }
        // Rescaled beyond the dead-band, so that it begins there without a step.
        let pushed = ((x.abs() - self.dead_band) / (1.0 - self.dead_band)).max(0.0);
        let bent = pushed + self.taper * (logarithmic(pushed, MIDDLE) - pushed);
        let way = if (x < 0.0) == self.reversed { 1.0 } else { -1.0 };
        Some(if bent == 0.0 { 0.0 } else { way * bent })
    }
}

/// The law of a logarithmic potentiometer: y = (bˣ − 1) / (b − 1) with b = (1/m − 1)², which passes (0, 0), (½, m) and (1, 1).
pub(super) fn logarithmic(x: f64, middle: f64) -> f64 {
    let root = 1.0 / middle - 1.0;
    let base = root * root;
    (libm::pow(base, x) - 1.0) / (base - 1.0)
}
