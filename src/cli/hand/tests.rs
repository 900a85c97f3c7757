use super::desk::{Desk, Say, Wish};
use super::heard::{Heard, Place};
use super::screen;
use crate::show::hand::{Button, Drive, DriveKind, FocusButton, FocusTo, HandMap, Layer, Lever};

const HOLD: Button = Button(1);
const STOP: Button = Button(2);
const NEXT: Button = Button(3);
const SOUTH: Button = Button(5);
const EAST: Button = Button(6);
const STICK: Lever = Lever(0);
const TRIGGER: Lever = Lever(5);

/// Two layers for one stick, and a dial in both.
fn map() -> HandMap {
    let drive = |lever, axis: &str, layer, kind| Drive {
        lever,
        rig: "heron".to_owned(),
        axis: axis.to_owned(),
        layer,
        reversed: axis == "pan",
        kind,
    };
    let stick = DriveKind::Stick { dead_band: 0.25, taper: 0.0 };
    let layer = |name: &str, button| Layer { name: Some(name.to_owned()), button };
    HandMap {
        device: None,
        hold: HOLD,
        stop: Some(STOP),
        next: Some(NEXT),
        layers: vec![layer("jib", None), layer("head", Some(Button(4)))],
        drives: vec![
            drive(STICK, "swing", Some(0), stick),
            drive(STICK, "pan", Some(1), stick),
            drive(TRIGGER, "focus", None, DriveKind::Dial),
        ],
        focuses: [(SOUTH, FocusTo::Rig("gull".to_owned())), (EAST, FocusTo::Point([1.0, 2.0, 1.5]))]
            .map(|(button, on)| FocusButton { button, rig: "heron".to_owned(), on })
            .to_vec(),
    }
}

/// A desk with a device whose stick stands in its middle.
fn desk() -> Desk {
    let mut desk = Desk::new(map());
    desk.hear(&Heard::Found("pad".to_owned()));
    push(&mut desk, 0.0);
    desk.hear(&Heard::Lever(TRIGGER, Place { at: 64, least: 0, most: 256 }));
    desk
}

fn push(desk: &mut Desk, x: f64) -> Wish {
    desk.hear(&Heard::Lever(STICK, Place { at: (x * 1000.0) as i32, least: -1000, most: 1000 }))
}

fn press(desk: &mut Desk, button: Button) -> Wish {
    desk.hear(&Heard::Button(button, true))
}

fn release(desk: &mut Desk, button: Button) -> Wish {
    desk.hear(&Heard::Button(button, false))
}

#[test]
fn a_focus_follows_by_a_button_while_the_other_is_held_and_nothing_once_that_is_let_go() {
    let mut desk = desk();
    let heron = || "heron".to_owned();
    let (gull, point) = (FocusTo::Rig("gull".to_owned()), FocusTo::Point([1.0, 2.0, 1.5]));
    assert_eq!(
        (press(&mut desk, SOUTH), desk.focus_due()),
        (Wish::Nothing, vec![]),
        "not held, it counts for nothing"
    );
    release(&mut desk, SOUTH);
    press(&mut desk, HOLD);
    let pressed = |desk: &mut Desk, button| {
        assert_eq!(press(desk, button), Wish::Now);
        release(desk, button);
        desk.focus_due()
    };
    assert_eq!(pressed(&mut desk, SOUTH), [(heron(), Some(gull.clone()))]);
    assert_eq!(pressed(&mut desk, EAST), [(heron(), Some(point))], "another in its place");
    assert_eq!(pressed(&mut desk, SOUTH), [(heron(), Some(gull.clone()))]);
    assert_eq!(pressed(&mut desk, SOUTH), [(heron(), None)], "again: nothing");
    assert_eq!(pressed(&mut desk, SOUTH), [(heron(), Some(gull))]);
    release(&mut desk, HOLD);
    assert_eq!(
        (desk.focus_due(), desk.focus_due()),
        (vec![(heron(), None)], vec![]),
        "let go of, it follows nothing, said once"
    );
}

#[test]
fn nothing_is_said_unless_the_button_is_held_and_zero_at_once_when_it_is_not() {
    let mut desk = desk();
    push(&mut desk, 0.625);
    assert_eq!(desk.due(), []);
    push(&mut desk, 0.0);
    assert_eq!(press(&mut desk, HOLD), Wish::Now);
    assert_eq!(desk.due(), [(0, Say::Stick(0.0)), (2, Say::Dial(0.25))]);
    assert_eq!(push(&mut desk, 0.625), Wish::Now);
    assert_eq!(desk.due(), [(0, Say::Stick(0.5)), (2, Say::Dial(0.25))]);
    // Again and again, since silence is zero.
    assert_eq!(desk.due(), [(0, Say::Stick(0.5)), (2, Say::Dial(0.25))]);
    assert_eq!(release(&mut desk, HOLD), Wish::Now);
    assert_eq!(desk.due(), [(0, Say::Stick(0.0)), (2, Say::LetGo)]);
    assert_eq!(desk.due(), []);
}

#[test]
fn a_stick_that_is_pushed_as_it_begins_to_count_has_to_be_let_go_first() {
    let mut desk = desk();
    push(&mut desk, 1.0);
    press(&mut desk, HOLD);
    assert_eq!(desk.due()[0], (0, Say::Stick(0.0)));
    push(&mut desk, -1.0);
    assert_eq!(desk.due()[0], (0, Say::Stick(0.0)));
    push(&mut desk, 0.05);
    desk.due();
    push(&mut desk, -1.0);
    assert_eq!(desk.due()[0], (0, Say::Stick(-1.0)));
    // The same in another layer, reversed there.
    assert_eq!(press(&mut desk, NEXT), Wish::Now);
    assert_eq!(desk.due(), [(0, Say::Stick(0.0)), (1, Say::Stick(0.0)), (2, Say::Dial(0.25))]);
    push(&mut desk, 0.0);
    desk.due();
    push(&mut desk, -1.0);
    assert_eq!(desk.due(), [(1, Say::Stick(1.0)), (2, Say::Dial(0.25))]);
}

#[test]
fn layers_are_gone_through_and_gone_to() {
    let mut desk = desk();
    assert_eq!(desk.layer(), 0);
    press(&mut desk, NEXT);
    assert_eq!(desk.layer(), 1);
    // Held down it does not go on.
    assert_eq!(press(&mut desk, NEXT), Wish::Nothing);
    release(&mut desk, NEXT);
    press(&mut desk, NEXT);
    assert_eq!(desk.layer(), 0);
    press(&mut desk, Button(4));
    assert_eq!(desk.layer(), 1);
}

/// A lost device, a lost focus, the end: zero at once, and the button has to be pressed again.
#[test]
fn whatever_ends_the_holding_says_zero() {
    let ends: [fn(&mut Desk) -> Wish; 4] = [
        |desk| desk.hear(&Heard::Lost("unplugged".to_owned())),
        |desk| desk.hear(&Heard::End),
        Desk::let_go,
        |desk| desk.hear(&Heard::Button(STOP, true)),
    ];
    for (index, end) in ends.into_iter().enumerate() {
        let mut desk = desk();
        press(&mut desk, HOLD);
        desk.due();
        push(&mut desk, 1.0);
        assert_eq!(desk.due()[0], (0, Say::Stick(1.0)));
        assert_eq!(end(&mut desk), if index == 3 { Wish::Stop } else { Wish::Now });
        assert_eq!(desk.due(), [(0, Say::Stick(0.0)), (2, Say::LetGo)]);
        push(&mut desk, 0.0);
        push(&mut desk, 1.0);
        assert_eq!(desk.due(), []);
    }
}

/// Plugged in again with its button held and its stick pushed, nothing moves.
#[test]
fn a_device_that_comes_back_starts_nothing() {
    let mut desk = desk();
    press(&mut desk, HOLD);
    desk.hear(&Heard::Lost("unplugged".to_owned()));
    desk.hear(&Heard::Found("pad".to_owned()));
    assert!(!desk.is_held());
    push(&mut desk, 1.0);
    press(&mut desk, HOLD);
    assert_eq!(desk.due()[0], (0, Say::Stick(0.0)));
    assert_eq!(Desk::new(map()).hear(&Heard::Button(HOLD, true)), Wish::Now);
}

#[test]
fn a_lever_without_travel_or_beyond_its_ends_is_no_more_than_its_ends() {
    let share = |at, least, most| Place { at, least, most }.share();
    assert_eq!(share(5, 0, 0), None);
    assert_eq!(share(5, 9, 1), None);
    assert_eq!(share(300, 0, 255), Some(1.0));
    assert_eq!(share(-1, 0, 255), Some(0.0));
    assert_eq!(share(i32::MAX, i32::MIN, i32::MAX), Some(1.0));
}

#[test]
fn a_recording_is_read_as_it_was_written() {
    let all = [
        Heard::Found("Two-Stick Pad".to_owned()),
        Heard::Lever(STICK, Place { at: -5, least: -32768, most: 32767 }),
        Heard::Button(Button::named("tl").unwrap(), true),
        Heard::Button(Button(300), false),
        Heard::Lost("as it was recorded".to_owned()),
    ];
    for heard in all {
        let line = heard.line(1.25).unwrap();
        assert_eq!(Heard::read(&line), Ok(Some((1.25, heard))));
    }
    assert_eq!(Heard::read("  "), Ok(None));
    for wrong in
        ["x", "1", "1 lever x 1 2", "1 lever q 1 2 3", "1 button tl", "1 button q up", "-1 lost", "nan lost"]
    {
        assert!(Heard::read(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn the_screen_shows_what_drives_what_and_what_is_in_the_way() {
    let mut desk = desk();
    press(&mut desk, HOLD);
    desk.due();
    push(&mut desk, 0.625);
    desk.due();
    let status = serde_json::json!({
        "armed": true, "stopped": null,
        "rigs": { "heron": {
            "owner": "hand",
            "axes": { "swing": { "position": -42.5 } },
            "hand": { "client": "hand", "sticks": "hand", "near": { "bodies": ["heron/swing/0", "gull/height/0"] }, "waits": ["pan"] },
        } },
    });
    let text = screen::screen(&desk, "127.0.0.1:7117", (&status, "hand"), "");
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines[0], "pad  ->  127.0.0.1:7117  armed");
    assert_eq!(lines[1], "HELD  button-1 drives while it is held; layer jib (1 of 2)");
    assert_eq!(lines[2], "  x        ----------|-----#----  heron.swing +0.50  at -42.500");
    assert_eq!(lines[3], "  rz       -----#----|----------  heron.focus dial 0.250");
    assert!(lines[5].contains("in the way: heron/swing/0 and gull/height/0; let go first of pan"), "{text}");
}
