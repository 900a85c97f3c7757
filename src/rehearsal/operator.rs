//! Operators at random: what people do to a show that runs, drawn from a seed.

use super::floor::{Floor, Flow, OPERATOR};
use crate::engine::{Running, StopLane, Verb};
use crate::rig::Chance;
use crate::show::{CueId, CueState};

/// s of running motion between two doings.
const CALM: [f64; 2] = [0.3, 12.0];
/// s; what is waited for comes within this, or is not waited for.
const PATIENCE: f64 = 600.0;

pub struct Operator {
    pub chance: Chance,
    /// s of running motion until the next doing.
    calm: f64,
    /// The master that was asked for the rehearsal.
    master: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doing {
    HoldAndResume,
    HoldAndReturn,
    Stop,
    StopAndReturn,
    Master,
    /// A GO that names a cue which is not on standby, or presses twice.
    WrongGo,
}

impl Operator {
    pub fn new(seed: u64, master: f64) -> Operator {
        // Not the sequence that the rigs' noise is drawn from.
        let mut chance = Chance::new(Chance::new(seed ^ 0x0be1_1b1e).word());
        let calm = chance.between(CALM[0], CALM[1]);
        Operator { chance, calm, master }
    }

    /// Does something to the running cues, if it is time.
    pub fn act(&mut self, floor: &mut Floor<'_>) -> Flow {
        // A preset is left alone: it has no place in the list to come back to.
        let preset = floor.show.preset_id();
        let running = |running: &Running| running.state == CueState::Running && running.cue != preset;
        if !floor.status().running.iter().any(running) {
            return Flow::Continue(());
        }
        self.calm -= floor.period();
        if self.calm > 0.0 {
            return Flow::Continue(());
        }
        self.calm = self.chance.between(CALM[0], CALM[1]);
        match self.draw(floor) {
            Doing::HoldAndResume => {
                self.hold(floor)?;
                floor.ask(OPERATOR, Verb::Resume { cue: None })?.ok();
            }
            Doing::HoldAndReturn => {
                self.hold(floor)?;
                rest(floor)?;
                self.return_all(floor)?;
            }
            Doing::Stop => self.stop(floor)?,
            Doing::StopAndReturn => {
                self.stop(floor)?;
                self.return_all(floor)?;
            }
            Doing::Master => {
                let value = if self.chance.uniform() < 0.5 {
                    self.master
                } else {
                    self.chance.between(0.2, 1.0) * self.master
                };
                floor.ask(OPERATOR, Verb::Master { value })?.ok();
            }
            Doing::WrongGo => {
                let cue = CueId::new((self.chance.uniform() * floor.show.cues.len() as f64) as usize);
                let standby = floor.status().standby.first().map(|entry| entry.cue);
                if standby != Some(cue) {
                    floor.ask(OPERATOR, Verb::Go { cue: Some(cue) })?.ok();
                }
            }
        }
        Flow::Continue(())
    }

    fn draw(&mut self, floor: &Floor<'_>) -> Doing {
        let doings = [
            Doing::HoldAndResume,
            Doing::HoldAndResume,
            Doing::HoldAndReturn,
            Doing::Stop,
            Doing::Stop,
            Doing::StopAndReturn,
            Doing::Master,
            Doing::WrongGo,
        ];
        let drawn = doings[(self.chance.uniform() * doings.len() as f64) as usize];
        match drawn {
            Doing::HoldAndReturn if later_ones_are_done(floor) => Doing::HoldAndResume,
            Doing::StopAndReturn if later_ones_are_done(floor) => Doing::Stop,
            Doing::HoldAndResume
            | Doing::HoldAndReturn
            | Doing::Stop
            | Doing::StopAndReturn
            | Doing::Master
            | Doing::WrongGo => drawn,
        }
    }

    fn hold(&mut self, floor: &mut Floor<'_>) -> Flow {
        floor.ask(OPERATOR, Verb::Hold { cue: None })?.ok();
        let seconds = self.chance.between(0.05, 4.0);
        floor.wait(seconds)
    }

    /// Stop, and what a crew does then: wait for standstill, look, reset.
    fn stop(&mut self, floor: &mut Floor<'_>) -> Flow {
        let lane = StopLane::ALL[(self.chance.uniform() * StopLane::ALL.len() as f64) as usize];
        floor.press_stop(lane)?;
        until(floor, |floor| floor.status().stopped.as_ref().is_none_or(|stopped| stopped.standstill))?;
        let seconds = self.chance.between(0.1, 3.0);
        floor.wait(seconds)?;
        floor.ask(OPERATOR, Verb::Reset)?.ok();
        // Rigs whose power was cut take a moment to be on again.
        floor.wait(0.5)
    }

    /// Takes back everything that is at rest on its path, the latest cue of the list and what is bound to it first, each
    /// group by a standby and a GO of its own.
    fn return_all(&mut self, floor: &mut Floor<'_>) -> Flow {
        while let Some(cue) = floor.status().running.iter().map(|running| running.cue).max() {
            floor.ask(OPERATOR, Verb::Return { cue, held: false })?.ok();
            floor.wait(floor.show.settings.guard.seconds())?;
            if floor.ask(OPERATOR, Verb::Go { cue: Some(cue) })?.is_err() {
                floor.ask(OPERATOR, Verb::Resume { cue: None })?.ok();
                break;
            }
            until(floor, |floor| {
                let goes = |running: &Running| running.cue == cue || running.state == CueState::Returning;
                !floor.status().running.iter().any(goes)
            })?;
            floor.wait(0.5)?;
        }
        Flow::Continue(())
    }
}

/// A cue behind those that run has ended: to go back would leave its rigs where the list does not have them.
fn later_ones_are_done(floor: &Floor<'_>) -> bool {
    let status = floor.status();
    let first = status.running.iter().map(|running| running.cue.index()).min().unwrap_or(0);
    floor.watch.cues.iter().skip(first).any(|record| record.ended.is_some())
}

fn rest(floor: &mut Floor<'_>) -> Flow {
    until(floor, |floor| floor.status().rate == 0.0)?;
    // The rigs lag a little behind.
    floor.wait(0.5)
}

fn until(floor: &mut Floor<'_>, come: impl Fn(&Floor<'_>) -> bool) -> Flow {
    let ticks = (PATIENCE / floor.period()).ceil() as u64;
    let last = floor.ticks() + ticks;
    while !come(floor) && floor.ticks() < last {
        floor.tick()?;
    }
    Flow::Continue(())
}
