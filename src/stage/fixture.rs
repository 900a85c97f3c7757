//! Shows made by hand, for the tests of this room and the rooms below.

use glam::DVec3;

use crate::show::{
    Axis, AxisId, Driver, Joint, JointKind, Limits, Nanos, Place, Rig, RigId, Settings, Shape, Show, SimSettings,
    StopCategory, Unit,
};

/// A show without rigs, 2 ms a tick.
pub fn empty_show() -> Show {
    Show {
        name: "fixture".into(),
        hash: String::new(),
        settings: Settings {
            tick: Nanos::from_millis(2),
            margin: 0.3,
            react: Nanos::from_millis(150),
            guard: Nanos::from_millis(500),
            trigger_age: Nanos::from_millis(300),
            return_rate: 0.5,
            glide: 1.0,
            named_go: false,
        },
        rigs: Vec::new(),
        axes: Vec::new(),
        zones: Vec::new(),
        pairs: Vec::new(),
        inputs: Vec::new(),
        interlocks: Vec::new(),
        atoms: Vec::new(),
        cues: Vec::new(),
    }
}

/// An ideal simulated rig at `at` without axes; they are added by [`add_axis`].
pub fn add_rig(show: &mut Show, at: DVec3, facing: f64, mount: Option<AxisId>) -> RigId {
    let axes = u16::try_from(show.axes.len()).unwrap();
    show.rigs.push(Rig {
        name: format!("rig{}", show.rigs.len()),
        kind: "fixture".into(),
        at,
        facing,
        mount,
        driver: Driver::Sim(SimSettings { lag: 0.03, noise: 0.0, backlash: 0.0 }),
        absent: false,
        bodies: Vec::new(),
        axes: axes..axes,
        marks: Vec::new(),
        lens: None,
        stop_category: StopCategory::Two,
        link_timeout: Nanos::from_millis(200),
        place: Place::default(),
    });
    RigId::new(show.rigs.len() - 1)
}

/// Another axis of the rig that was added last.
pub fn add_axis(show: &mut Show, unit: Unit, joint: Option<Joint>, bodies: Vec<Shape>) -> AxisId {
    let rig = RigId::new(show.rigs.len() - 1);
    let run = Limits { speed: 10.0, acceleration: 10.0, jerk: 40.0 };
    show.axes.push(Axis {
        name: format!("axis{}", show.axes.len()),
        rig,
        unit,
        travel: [-1000.0, 1000.0],
        surveyed: true,
        winding: None,
        start: 0.0,
        run,
        stop: Limits { acceleration: 15.0, jerk: 160.0, ..run },
        rated_speed: run.speed,
        share: 1.0,
        tolerance: 0.5,
        glide: 0.0,
        lag_limit: 1.0,
        gravity: false,
        joint,
        bodies,
        place: Place::default(),
    });
    show.rigs[rig.index()].axes.end += 1;
    AxisId::new(show.axes.len() - 1)
}

pub fn turn(direction: DVec3, at: DVec3) -> Option<Joint> {
    Some(Joint { kind: JointKind::Turn, direction, at, level: false })
}

pub fn slide(direction: DVec3, at: DVec3) -> Option<Joint> {
    Some(Joint { kind: JointKind::Slide, direction, at, level: false })
}

pub fn sphere(at: DVec3) -> Shape {
    Shape::Sphere { at, radius: 0.1 }
}
