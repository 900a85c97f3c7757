//! Telling an OSC client what changes, for as long as its lease lasts.

use std::sync::Arc;
use std::time::Duration;

use tokio::task::JoinHandle;
use tokio::time::{Instant, MissedTickBehavior, interval};

use super::take::Back;
use crate::daemon::house::House;
use crate::engine::Status;
use crate::show::{CueState, Show};
use crate::wire::osc::Out;

/// Positions are told again once they have changed by this much, in the axis's own unit.
const STEP: f64 = 0.001;

/// What a watcher asked for: each value at most so many times a second, for so many seconds.
#[derive(Clone, Copy, Debug)]
pub struct Watch {
    pub changes: u32,
    pub lease: u32,
}

/// Ends with its lease, or when it is dropped.
pub struct Watcher {
    task: JoinHandle<()>,
}

impl Watcher {
    /// Tells the client what it was given, and from now on what changes; first of all, everything.
    pub fn start(house: Arc<House>, back: Back, watch: Watch) -> Watcher {
        back(&Out::Watching { changes: watch.changes, lease: watch.lease }.encode());
        Watcher { task: tokio::spawn(tell(house, back, watch)) }
    }

    pub fn is_running(&self) -> bool {
        !self.task.is_finished()
    }
}

impl Drop for Watcher {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn tell(house: Arc<House>, back: Back, watch: Watch) {
    let Watch { changes, lease } = watch;
    let ends = Instant::now() + Duration::from_secs(u64::from(lease));
    let mut looks = interval(Duration::from_secs(1) / changes.max(1));
    looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let (mut edition, mut told) = (0, Told::default());
    while Instant::now() < ends {
        looks.tick().await;
        let status = house.board.status();
        let book = house.shelf.of(&status);
        if book.edition != edition {
            // Another show: everything is news.
            (edition, told) = (book.edition, Told::default());
        }
        told.tell(&book.show, &status, &back);
    }
}

/// What the client knows.
#[derive(Default)]
struct Told {
    stopped: Option<bool>,
    standstill: Option<bool>,
    standby: Option<Vec<(u16, bool)>>,
    cues: Vec<CueState>,
    axes: Vec<Option<f64>>,
}

impl Told {
    /// Sends what has changed since the last time; everything, the first time.
    fn tell(&mut self, show: &Show, status: &Status, back: &Back) {
        let stopped = status.stopped.is_some();
        if self.stopped.replace(stopped) != Some(stopped) {
            back(&Out::Stopped(stopped).encode());
        }
        let standstill = status.stopped.as_ref().is_some_and(|stopped| stopped.standstill);
        if stopped && self.standstill.replace(standstill) != Some(standstill) {
            back(&Out::Standstill(standstill).encode());
        }
        self.tell_standby(show, status, back);
        self.tell_cues(show, status, back);
        self.tell_axes(show, status, back);
    }

    fn tell_standby(&mut self, show: &Show, status: &Status, back: &Back) {
        let standby: Vec<_> = status.standby.iter().map(|entry| (entry.cue.0, entry.ready)).collect();
        if self.standby.as_ref() == Some(&standby) {
            return;
        }
        if let Some(first) = status.standby.first() {
            let number = show.number_of(first.cue);
            back(&Out::Standby { cue: &number, ready: first.ready }.encode());
        } else if self.standby.is_some() {
            back(&Out::Standby { cue: "", ready: false }.encode());
        }
        self.standby = Some(standby);
    }

    fn tell_cues(&mut self, show: &Show, status: &Status, back: &Back) {
        for (index, (cue, state)) in show.cues.iter().zip(&status.cues).enumerate() {
            if self.cues.get(index) != Some(state) {
                back(&Out::Cue { number: &cue.number.to_string(), state: state.word() }.encode());
            }
        }
        self.cues.clone_from(&status.cues);
    }

    fn tell_axes(&mut self, show: &Show, status: &Status, back: &Back) {
        self.axes.resize(show.axes.len(), None);
        for ((axis, now), told) in show.axes.iter().zip(&status.axes).zip(&mut self.axes) {
            let Some(position) = now.position else { continue };
            if told.is_none_or(|told| (told - position).abs() >= STEP) {
                *told = Some(position);
                back(&Out::Axis { rig: &show.rig(axis.rig).name, axis: &axis.name, position }.encode());
            }
        }
    }
}
