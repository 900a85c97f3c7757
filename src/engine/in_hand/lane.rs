//! What sticks and dials say, on its way to the axes that they drive.

use serde::{Deserialize, Serialize};

use super::HandEvent;
use crate::engine::event::EventKind;
use crate::engine::request::ClientId;
use crate::engine::tick::Engine;
use crate::motion::{Range, Response};
use crate::show::AxisId;

/// Samples that one tick takes in at most: the newest of each axis and client.
pub const STICKS_MAX: usize = 128;

/// What a stick or a dial says of one axis.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct StickSample {
    pub client: ClientId,
    pub axis: AxisId,
    pub kind: StickKind,
    /// -1 to 1 of a stick, 0 to 1 of a dial, or [`StickSample::LET_GO`], 0 or 1 of a button; whatever came.
    pub value: f64,
}

impl StickSample {
    /// Of a dial: it drives its axis no more, which comes to rest where it is, until it has been picked up anew.
    pub const LET_GO: f64 = -1.0;
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum StickKind {
    /// How fast the axis shall go.
    Stick,
    /// Where in its travel it shall be.
    Dial,
    /// Whether the button of its trial is held: 1, or 0.
    Run,
}

impl StickKind {
    pub fn word(self) -> &'static str {
        match self {
            StickKind::Stick => "stick",
            StickKind::Dial => "dial",
            StickKind::Run => "run",
        }
    }

    /// The values that such a control can say.
    pub fn range(self) -> core::ops::RangeInclusive<f64> {
        match self {
            StickKind::Stick => -1.0..=1.0,
            StickKind::Dial | StickKind::Run => 0.0..=1.0,
        }
    }
}

/// How sticks are felt: both are shares, see [`crate::motion::Response`]. Who shapes his sticks himself asks for none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct StickShape {
    pub dead_band: f64,
    pub taper: f64,
}

impl StickShape {
    /// The law by which a stick is felt, if there is one.
    pub fn response(self) -> Option<Response> {
        Response::new(self.dead_band, self.taper, false).ok()
    }
}

impl Default for StickShape {
    /// A dead-band that outlasts a worn centre, and the bend that most hands like.
    fn default() -> StickShape {
        StickShape { dead_band: 0.05, taper: 0.3 }
    }
}

/// Why a sample moves nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoStick {
    /// The axis is in nobody's hands, or another's sticks drive it.
    NotInHand,
    /// Not a number, or none that such a control can say.
    NoSuchValue,
    /// The axis is not surveyed, and its rig is not in hand for a survey.
    Unsurveyed,
    /// A dial, while the rig is in hand for a survey; or the button of a trial, while it is not.
    NotNow,
}

impl Engine {
    /// What sticks and dials say, each held against whose it is.
    pub(in crate::engine) fn hear_sticks(&mut self, samples: &[StickSample]) {
        for &sample in samples.iter().take(STICKS_MAX) {
            if sample.axis.index() < self.show.axes.len()
                && let Err(why) = self.hear_stick(sample)
                && self.in_hand.levers[sample.axis.index()].tells(sample.client, why)
            {
                let StickSample { axis, client, .. } = sample;
                self.outbox.event(EventKind::Hand(HandEvent::Ignored { axis, client, why }));
            }
        }
    }

    fn hear_stick(&mut self, StickSample { client, axis, kind, value }: StickSample) -> Result<(), NoStick> {
        let grip = self.grip(self.show.axis(axis).rig).filter(|grip| !grip.let_go && grip.sticks == client);
        let grip = grip.ok_or(NoStick::NotInHand)?;
        let (survey, response) = (grip.survey, grip.shape.response().ok_or(NoStick::NotInHand)?);
        let counts = match kind {
            StickKind::Stick => true,
            StickKind::Dial => !survey,
            StickKind::Run => survey,
        };
        if !counts {
            return Err(NoStick::NotNow);
        }
        if !self.may_be_driven(axis) && value != 0.0 {
            return Err(NoStick::Unsurveyed);
        }
        let [low, high] = self.show.axis(axis).reach();
        let (tick, position) = (self.tick, self.setpoints[axis.index()].position);
        let travel = Range { low, high };
        if kind == StickKind::Dial && kind.range().contains(&value) && self.offsets_focus(axis, value, travel) {
            return Ok(());
        }
        let lever = &mut self.in_hand.levers[axis.index()];
        match kind {
            StickKind::Stick => lever.push(response.shaped(value).ok_or(NoStick::NoSuchValue)?, tick),
            StickKind::Dial if value == StickSample::LET_GO => lever.let_dial_go(),
            StickKind::Dial if kind.range().contains(&value) => lever.turn(value, position, travel),
            StickKind::Run if value == 0.0 || value == 1.0 => lever.run(value == 1.0, tick),
            StickKind::Dial | StickKind::Run => return Err(NoStick::NoSuchValue),
        }
        Ok(())
    }
}
