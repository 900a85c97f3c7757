//! What hands ask for, and what is seen and told of them.

use bellwire::engine::*;

use super::Hall;

pub const SHAPE: StickShape = StickShape { dead_band: 0.0, taper: 0.0 };

pub fn take(hall: &Hall, rig: &str) -> Verb {
    Verb::Hand { rig: hall.rig(rig), sticks: None, shape: SHAPE }
}

pub fn accept(hall: &Hall, rig: &str) -> Verb {
    Verb::Accept { rig: hall.rig(rig), sticks: None, shape: SHAPE }
}

pub fn give_back(hall: &Hall, rig: &str) -> Verb {
    Verb::GiveBack { rig: hall.rig(rig) }
}

pub fn owner(hall: &Hall, rig: &str) -> Owner {
    hall.status.rigs[hall.rig(rig).index()].owner
}

pub fn reasons(outcome: Result<Accepted, Refusal>) -> Vec<Reason> {
    outcome.expect_err("refused").reasons.to_vec()
}

pub fn told(hall: &Hall) -> Vec<HandEvent> {
    let told = |event: &Event| match &event.kind {
        EventKind::Hand(told) => Some(told.clone()),
        _ => None,
    };
    hall.events.iter().filter_map(told).collect()
}

pub fn speed(hall: &mut Hall, axis: &str) -> f64 {
    let before = hall.setpoint(axis);
    hall.tick(&[]);
    (hall.setpoint(axis) - before) / hall.show.settings.tick.seconds()
}
