//! A small show for the tests of this room.

use glam::DVec3;

use crate::engine::ClientId;
use crate::show::{
    After, Atom, AtomId, AxisId, Condition, Cue, CueId, CueState, Direction, Guard, Input, InputId, Interlock,
    Keep, Mark, Move, Nanos, OnLinkLoss, Otherwise, Place, RigId, Show, Unit, Zone,
};
use crate::stage::fixture::{add_axis, add_rig, empty_show};
use crate::wire::Names;

pub const SWING: AxisId = AxisId(0);
pub const TRAVEL: AxisId = AxisId(1);

pub const BELOW: AtomId = AtomId(0);
pub const GATE: AtomId = AtomId(1);
pub const EIGHT_DONE: AtomId = AtomId(2);
pub const AT_QUAY: AtomId = AtomId(3);
pub const WRAPPED: AtomId = AtomId(4);
pub const PAST: AtomId = AtomId(5);

/// Rigs heron (swing, °) and skiff (travel, m); cues 8, 9, 12, 12.5, 13; two inputs; one interlock.
pub fn show() -> Show {
    let mut show = empty_show();
    show.name = "Salt Lantern".into();
    show.hash = "ab12".into();
    add_rig(&mut show, DVec3::ZERO, 90.0, None);
    add_axis(&mut show, Unit::Degree, None, Vec::new());
    add_rig(&mut show, DVec3::ZERO, 0.0, None);
    add_axis(&mut show, Unit::Metre, None, Vec::new());
    for (rig, name) in ["heron", "skiff"].into_iter().enumerate() {
        show.rigs[rig].name = name.into();
    }
    show.axes[0].name = "swing".into();
    show.axes[1].name = "travel".into();
    show.axes[1].tolerance = 0.02;
    show.rigs[0].marks =
        vec![Mark { name: "quay-high".into(), pose: vec![(SWING, -35.0)], place: Place::default() }];
    show.inputs = vec![input("cellar gate closed", None), input("deck clear", Some("10.0.0.7"))];
    show.atoms = vec![
        Atom::Below { axis: TRAVEL, limit: -3.3 },
        Atom::Input(InputId(0)),
        Atom::CueState { cue: CueId(0), state: CueState::Done },
        Atom::At { rig: RigId(0), mark: "quay-high".into(), pose: vec![(SWING, -35.0)] },
        Atom::Within { axis: SWING, from: -0.1, to: 0.1, modulo: Some(360.0) },
        Atom::CuePast { cue: CueId(0), time: 9.0 },
    ];
    show.interlocks = vec![Interlock {
        name: "lift clear of wagon".into(),
        guards: vec![Guard { axis: TRAVEL, direction: Some(Direction::Down) }],
        needs: Condition::All(vec![Condition::Atom(BELOW), Condition::Atom(GATE)]),
        otherwise: Otherwise::Stop,
        place: Place::default(),
    }];
    show.zones = vec![Zone {
        name: "orchestra pit".into(),
        keep: Keep::Out,
        min: DVec3::new(-6.0, -4.0, -2.5),
        max: DVec3::new(6.0, -1.0, 0.2),
        rigs: vec![RigId(1)],
        margin: 0.1,
        place: Place::default(),
    }];
    show.cues = ["8", "9", "12", "12.5", "13"].map(cue).into();
    show.cues[1].needs = Some(Condition::Atom(EIGHT_DONE));
    show.cues[3].after = Some(After::End { cue: CueId(2), wait: 1.5 });
    show
}

pub fn names() -> Names {
    Names::new(&show())
}

pub fn client(id: ClientId) -> String {
    format!("panel {}", id.0)
}

fn input(name: &str, source: Option<&str>) -> Input {
    Input {
        name: name.into(),
        max_age: Nanos::from_millis(500),
        trips: false,
        source: source.map(str::to_owned),
        place: Place::default(),
    }
}

fn cue(number: &str) -> Cue {
    Cue {
        number: number.parse().expect("a cue number"),
        name: format!("Cue {number}"),
        page: Some("31".into()),
        call: None,
        watch: None,
        notes: None,
        gap: None,
        after: None,
        needs: None,
        on_link_loss: OnLinkLoss::Hold,
        moves: vec![Move {
            rig: RigId(0),
            to: vec![(SWING, -20.0)],
            mark: None,
            by: false,
            round: Vec::new(),
            softness: 0.0,
            via: vec![],
            time: None,
            time_place: None,
            delay: 0.0,
            playing: None,
            aim: None,
            place: Place::default(),
        }],
        place: Place::default(),
    }
}
