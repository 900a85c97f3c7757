//! What a survey found, each in a sentence that says what to do about it.

use super::Words;
use super::numbers::amount;
use crate::engine::{Found, Sign};
use crate::show::AxisId;

impl Words<'_> {
    pub fn survey_found(&self, axis: AxisId, found: &Found) -> String {
        let name = self.axis(axis);
        match *found {
            Found::Home { home, measured } => format!(
                "{name} is at its home {}, measured at {}",
                self.position(axis, home),
                self.position(axis, measured)
            ),
            Found::Sign { commanded, measured, sign, other } => {
                let stray = other.map(|(other, by)| (self.axis(other), self.way(other, by)));
                self.sign((axis, name), (commanded, measured), sign, stray)
            }
            Found::Repeat { at, figures, tolerance } => {
                let unit = self.show.axis(axis).unit;
                let says = |value: f64| amount(value, unit);
                let [below, above] = figures.repeatability;
                let verdict = if figures.farthest <= tolerance {
                    format!("within its tolerance of {}", says(tolerance))
                } else {
                    format!(
                        "NOT within its tolerance of {}: look for play and slip, or come to marks from one side",
                        says(tolerance)
                    )
                };
                format!(
                    "{name} at {}, {} approaches from either side: it comes within {}, {verdict}; repeatability {} from below, \
                     {} from above, {} from both; reversal {}",
                    says(at),
                    figures.approaches,
                    says(figures.farthest),
                    says(below),
                    says(above),
                    says(figures.bidirectional),
                    says(figures.reversal),
                )
            }
        }
    }

    fn sign(
        &self,
        (axis, name): (AxisId, String),
        (commanded, measured): (f64, f64),
        sign: Sign,
        stray: Option<(String, String)>,
    ) -> String {
        let (told, found) = (self.way(axis, commanded), self.way(axis, measured));
        let rig = &self.show.rig(self.show.axis(axis).rig).name;
        let turn_round = match self.show.axis(axis).joint {
            Some(_) => format!("turn the direction of its joint round in rigs/{rig}.toml"),
            None => "turn it round at the drive, motor and encoder both: it has no joint to turn round".into(),
        };
        let beside = stray.as_ref().map_or_else(String::new, |(other, by)| {
            format!("; {other} moved by {by} meanwhile, though nothing told it to: look at it")
        });
        match (sign, stray) {
            (Sign::Swapped, Some((other, by))) => format!(
                "{name} did not move when it was told to go {told}, and {other} moved by {by}: their cables are SWAPPED; put \
                 them right before anything else moves"
            ),
            (Sign::Agrees, _) => format!(
                "{name} went {found} when it was told to go {told}: command and measurement agree{beside}. If the machine itself \
                 went the wrong way, {turn_round}"
            ),
            (Sign::WrongSize, _) => format!(
                "{name} went {found} when it was told to go {told}: the right way, and NOT as far{beside}. Look at the drive's \
                 scale, and at the axis's unit in rigs/{rig}.toml"
            ),
            (Sign::Reversed, _) => format!(
                "{name} went {found} when it was told to go {told}: REVERSED{beside}. At the drive, turn round the motor's \
                 direction or the encoder's, not both; no key of rigs/{rig}.toml does that"
            ),
            (Sign::DidNotMove | Sign::Swapped, _) => format!(
                "{name} did not move when it was told to go {told}: look at its brake, at the cables of its motor and of its \
                 encoder, and for play of more than that"
            ),
        }
    }

    /// With its sign, and as many digits as so short a way needs.
    fn way(&self, axis: AxisId, by: f64) -> String {
        let unit = self.show.axis(axis).unit;
        let decimals = if by.abs() < 0.1 { 4 } else { 3 };
        format!("{by:+.decimals$}{}", unit.sign())
    }
}
