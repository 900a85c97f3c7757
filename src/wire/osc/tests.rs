use rosc::{OscBundle, OscMessage, OscPacket, OscTime, OscType};

use super::guard::{self, Timing};
use super::{Heard, Out, decode, encode, is_stop, message};
use crate::engine::{StickKind, Verb};
use crate::show::{CueId, InputId};
use crate::wire::{Ask, Misheard, sample};

pub const IMMEDIATELY: (u32, u32) = (0, 1);

fn bytes(hex: &str) -> Vec<u8> {
    (0..hex.len()).step_by(2).map(|at| u8::from_str_radix(&hex[at..at + 2], 16).expect("hex")).collect()
}

pub fn string(text: &str) -> OscType {
    OscType::String(text.into())
}

pub fn plain(address: &str, args: Vec<OscType>) -> OscPacket {
    OscPacket::Message(OscMessage { addr: address.into(), args })
}

pub fn bundle(tag: (u32, u32), content: Vec<OscPacket>) -> OscPacket {
    OscPacket::Bundle(OscBundle { timetag: OscTime::from(tag), content })
}

pub fn packet(packet: &OscPacket) -> Vec<u8> {
    rosc::encoder::encode(packet).expect("encodes")
}

fn hear(address: &str, args: Vec<OscType>) -> Heard {
    let heard = decode(&packet(&plain(address, args)), &sample::names());
    let [one] = heard.try_into().expect("one message");
    one
}

fn asked(address: &str, args: Vec<OscType>) -> Ask {
    match hear(address, args) {
        Heard::Ask { ask, .. } => ask,
        Heard::Refused { why, .. } | Heard::Dropped(why) => panic!("{address}: {why}"),
    }
}

fn refused(address: &str, args: Vec<OscType>) -> Misheard {
    match hear(address, args) {
        Heard::Refused { why, .. } => why,
        Heard::Ask { .. } | Heard::Dropped(_) => panic!("{address} was not refused"),
    }
}

fn read(packet: &[u8]) -> Vec<(String, Vec<OscType>)> {
    let leaves = guard::scan(packet).expect("sound");
    leaves
        .iter()
        .map(|leaf| {
            assert_eq!(leaf.timing, Timing::Now);
            let (address, rest) = guard::address(leaf.bytes).expect("an address");
            (address.to_owned(), message::arguments(leaf.bytes, rest).expect("arguments"))
        })
        .collect()
}

// Open Sound Control 1.0, its published examples.
#[test]
fn the_examples_of_osc_1_0_read_and_write_byte_for_byte() {
    let frequency = bytes("2f6f7363696c6c61746f722f342f6672657175656e6379002c66000043dc0000");
    let args = vec![OscType::Float(440.0)];
    assert_eq!(encode::encode("/oscillator/4/frequency", args.clone()), frequency);
    assert_eq!(read(&frequency), [("/oscillator/4/frequency".to_owned(), args)]);

    let foo = bytes("2f666f6f000000002c69697366660000000003e8ffffffff68656c6c6f0000003f9df3b640b5b22d");
    let args =
        vec![OscType::Int(1000), OscType::Int(-1), string("hello"), OscType::Float(1.234), OscType::Float(5.678)];
    assert_eq!(encode::encode("/foo", args.clone()), foo);
    assert_eq!(read(&foo), [("/foo".to_owned(), args)]);
}

// A bundle of OSC 1.0 for "immediately", computed by hand.
#[test]
fn an_immediate_bundle_gives_its_messages_in_order() {
    let ring = bytes(
        "2362756e646c65000000000000000001000000142f62656c6c2f72696e6700002c690000000000070000000c2f73746f700000002c000000",
    );
    let expected = [("/bell/ring".to_owned(), vec![OscType::Int(7)]), ("/stop".to_owned(), vec![])];
    assert_eq!(read(&ring), expected);
}

// OSC 1.0 time tags: seconds since 1900 and their fraction, from the offset of RFC 5905.
#[test]
fn time_tags_read_as_rfc_3339() {
    assert_eq!(guard::rfc_3339(0x83aa_7e80_0000_0000), "1970-01-01T00:00:00Z");
    assert_eq!(guard::rfc_3339(0x83aa_7e81_8000_0000), "1970-01-01T00:00:01.5Z");
    assert_eq!(guard::rfc_3339(0xeeb0_a380_0000_0000), "2026-11-25T00:00:00Z");
}

#[test]
fn every_verb_of_the_contract_is_understood() {
    let standby = asked("/bellwire/standby", vec![string("12.5"), string("13")]);
    assert_eq!(standby, Ask::Verb(Verb::Standby { cues: [CueId(3), CueId(4)].into_iter().collect(), skip: false }));
    assert_eq!(asked("/bellwire/go", vec![]), Ask::Verb(Verb::Go { cue: None }));
    assert_eq!(asked("/bellwire/go", vec![string("8")]), Ask::Verb(Verb::Go { cue: Some(CueId(0)) }));
    assert_eq!(asked("/bellwire/hold", vec![]), Ask::Verb(Verb::Hold { cue: None }));
    assert_eq!(asked("/bellwire/resume", vec![string("9")]), Ask::Verb(Verb::Resume { cue: Some(CueId(1)) }));
    let back = Ask::Verb(Verb::Return { cue: CueId(2), held: false });
    assert_eq!(asked("/bellwire/return", vec![string("12")]), back);
    assert_eq!(asked("/bellwire/stop", vec![]), Ask::Stop);
    let watch = asked("/bellwire/watch", vec![OscType::Int(20), OscType::Int(10)]);
    assert_eq!(watch, Ask::Watch { changes: 20, lease: 10 });
    let greedy = asked("/bellwire/watch", vec![OscType::Int(i32::MAX), OscType::Int(i32::MAX)]);
    assert_eq!(greedy, Ask::Watch { changes: 100, lease: 3600 });
    assert_eq!(asked("/bellwire/unwatch", vec![]), Ask::Unwatch);
    let said = |value: f32| vec![string("heron"), string("swing"), OscType::Float(value)];
    let (axis, kind) = (sample::SWING, StickKind::Stick);
    assert_eq!(asked("/bellwire/stick", said(-0.5)), Ask::Stick { axis, kind, value: -0.5 });
    let kind = StickKind::Dial;
    assert_eq!(asked("/bellwire/dial", said(0.25)), Ask::Stick { axis, kind, value: 0.25 });
    for value in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1.001, -1.001] {
        let nonsense = |verb: &str| refused(&format!("/bellwire/{verb}"), said(value));
        assert!(matches!(nonsense("stick"), Misheard::Arguments { .. }), "{value}");
        assert!(matches!(nonsense("dial"), Misheard::Arguments { .. }), "{value}");
    }
    assert!(matches!(refused("/bellwire/dial", said(-0.25)), Misheard::Arguments { .. }));
    let unknown = vec![string("heron"), string("swung"), OscType::Float(0.0)];
    assert!(matches!(refused("/bellwire/stick", unknown), Misheard::UnknownName { .. }));
}

#[test]
fn a_focus_is_told_a_point_another_rig_or_nothing() {
    let rig = crate::show::RigId(0);
    let to = |on| Ask::Verb(Verb::Focus { rig, on });
    let floats = |values: [f32; 3]| -> Vec<OscType> {
        std::iter::once(string("heron")).chain(values.map(OscType::Float)).collect()
    };
    let point = crate::engine::FocusOn::Point(glam::DVec3::new(1.0, -2.5, 0.5));
    assert_eq!(asked("/bellwire/focus", floats([1.0, -2.5, 0.5])), to(Some(point)));
    let other = crate::engine::FocusOn::Rig { rig: crate::show::RigId(1), axis: None, point: None };
    assert_eq!(asked("/bellwire/focus", vec![string("heron"), string("skiff")]), to(Some(other)));
    assert_eq!(asked("/bellwire/focus", vec![string("heron")]), to(None));
    for wrong in [floats([f32::NAN, 0.0, 0.0]), vec![], vec![string("heron"), OscType::Float(1.0)]] {
        assert!(matches!(refused("/bellwire/focus", wrong), Misheard::Arguments { .. }));
    }
    assert!(matches!(
        refused("/bellwire/focus", vec![string("heron"), string("skif")]),
        Misheard::UnknownName { .. }
    ));
}

#[test]
fn an_input_takes_true_and_false_and_their_numbers_and_nothing_between() {
    let set = |value| Ask::Verb(Verb::Input { input: InputId(1), value });
    for (argument, value) in [
        (OscType::Bool(true), true),
        (OscType::Bool(false), false),
        (OscType::Int(1), true),
        (OscType::Int(0), false),
        (OscType::Float(1.0), true),
        (OscType::Float(0.0), false),
    ] {
        assert_eq!(asked("/bellwire/input", vec![string("deck clear"), argument]), set(value));
    }
    for argument in [OscType::Float(f32::NAN), OscType::Float(0.5), OscType::Int(2), OscType::Nil, string("T")] {
        let why = refused("/bellwire/input", vec![string("deck clear"), argument]);
        assert!(matches!(why, Misheard::Arguments { .. }), "{why}");
    }
    let why = refused("/bellwire/input", vec![string("deck claer"), OscType::Bool(true)]);
    assert_eq!(why.to_string(), "there is no input 'deck claer' in this show; the nearest known is 'deck clear'");
}

#[test]
fn a_cue_number_that_is_no_string_is_refused_with_the_reason() {
    for argument in [OscType::Int(12), OscType::Float(12.5), OscType::Double(12.5), OscType::Long(12)] {
        let why = refused("/bellwire/standby", vec![argument.clone()]);
        assert!(matches!(why, Misheard::CueNotText { .. }), "{why}");
        let why = refused("/bellwire/hold", vec![argument]);
        assert!(matches!(why, Misheard::CueNotText { .. }), "{why}");
    }
    let why = refused("/bellwire/go", vec![string("12.6")]);
    assert_eq!(why.to_string(), "there is no cue 12.6 in this show; the nearest known is cue 12.5");
    let why = refused("/bellwire/go", vec![string("012")]);
    assert_eq!(why.to_string(), "'012' is not a cue number: a part may not have a leading zero");
}

#[test]
fn a_button_that_sends_its_release_fires_nothing() {
    for args in [
        vec![OscType::Float(1.0)],
        vec![OscType::Float(0.0)],
        vec![OscType::Int(1)],
        vec![OscType::Bool(true)],
        vec![string("12"), OscType::Float(1.0)],
    ] {
        let why = refused("/bellwire/go", args);
        assert!(matches!(why, Misheard::Pressed { .. }), "{why}");
    }
}

#[test]
fn patterns_are_refused_and_reported_never_matched() {
    for address in [
        "/bellwire/*",
        "/bellwire/g?",
        "/bellwire/[fg]o",
        "/bellwire/{go,hold}",
        "//go",
        "/*/stop",
        "/bellwire/sto?",
        "/bellwire/stop*",
    ] {
        assert!(!is_stop(&packet(&plain(address, vec![]))), "{address}");
        assert_eq!(refused(address, vec![]), Misheard::Pattern { address: address.into() });
    }
}

#[test]
fn a_bundle_for_another_time_is_refused_and_each_of_its_messages_told() {
    let go = || plain("/bellwire/go", vec![string("8")]);
    for tag in [(0xeeb0_a380, 0), (0, 2), (0, 0), (u32::MAX, u32::MAX)] {
        let heard = decode(&packet(&bundle(tag, vec![go(), go()])), &sample::names());
        assert_eq!(heard.len(), 2);
        for one in heard {
            let Heard::Refused { verb, cue, why: Misheard::Timed { .. } } = one else { panic!("{one:?}") };
            assert_eq!((verb.as_str(), cue.as_str()), ("go", "8"));
        }
    }
    let inside = bundle(IMMEDIATELY, vec![bundle(IMMEDIATELY, vec![go()])]);
    assert!(matches!(decode(&packet(&inside), &sample::names())[..], [Heard::Ask { .. }]));
    let later_inside = bundle(IMMEDIATELY, vec![bundle((9, 0), vec![go()]), go()]);
    let heard = decode(&packet(&later_inside), &sample::names());
    assert!(matches!(heard[..], [Heard::Refused { why: Misheard::Timed { .. }, .. }, Heard::Ask { .. }]));
    let earlier_inside = bundle((9, 0), vec![bundle(IMMEDIATELY, vec![go()])]);
    let heard = decode(&packet(&earlier_inside), &sample::names());
    assert!(matches!(heard[..], [Heard::Refused { why: Misheard::NestedEarlier, .. }]));
}

#[test]
fn a_missing_type_tag_string_is_tolerated_and_an_unknown_tag_discards_its_message() {
    let heard = decode(b"/bellwire/go\0\0\0\0", &sample::names());
    assert!(matches!(heard[..], [Heard::Ask { verb: "go", .. }]));
    let heard = decode(b"/bellwire/go\0\0\0\0\x31\x32\0\0", &sample::names());
    assert!(matches!(heard[..], [Heard::Refused { why: Misheard::Untagged, .. }]));
    let heard = decode(b"/bellwire/go\0\0\0\0,X\0\0", &sample::names());
    assert!(matches!(heard[..], [Heard::Refused { why: Misheard::UnknownTag { tag: 'X' }, .. }]));
}

#[test]
fn what_is_not_for_us_is_dropped_unanswered() {
    assert!(matches!(hear("/elsewhere/go", vec![]), Heard::Dropped(Misheard::NotOurs { .. })));
    for verb in encode::VERBS_OUT {
        let heard = hear(&format!("/bellwire/{verb}"), vec![]);
        assert!(matches!(heard, Heard::Dropped(Misheard::Echo { .. })), "{verb}");
    }
    assert!(matches!(decode(b"", &sample::names())[..], [Heard::Dropped(Misheard::Illegible { .. })]));
    assert!(matches!(decode(b"/bel", &sample::names())[..], [Heard::Dropped(Misheard::Illegible { .. })]));
    let why = refused("/bellwire/standbye", vec![]);
    assert_eq!(why.to_string(), "there is no 'standbye'; the nearest known is standby");
}

#[test]
fn a_bundle_wrong_in_any_part_does_nothing() {
    let mut bytes = packet(&bundle(IMMEDIATELY, vec![plain("/bellwire/go", vec![])]));
    bytes.extend(64u32.to_be_bytes());
    assert!(matches!(decode(&bytes, &sample::names())[..], [Heard::Dropped(Misheard::Illegible { .. })]));
}

#[test]
fn too_long_too_deep_and_too_many_are_refused() {
    let long = packet(&plain("/bellwire/input", vec![string(&"x".repeat(20_000))]));
    assert!(matches!(decode(&long, &sample::names())[..], [Heard::Dropped(Misheard::TooLong { .. })]));
    let nested =
        |depth| (0..depth).fold(plain("/bellwire/go", vec![]), |inside, _| bundle(IMMEDIATELY, vec![inside]));
    assert!(matches!(decode(&packet(&nested(8)), &sample::names())[..], [Heard::Ask { .. }]));
    assert!(matches!(
        decode(&packet(&nested(9)), &sample::names())[..],
        [Heard::Dropped(Misheard::TooDeep { .. })]
    ));
    let row = |count| bundle(IMMEDIATELY, vec![plain("/bellwire/go", vec![]); count]);
    assert_eq!(decode(&packet(&row(64)), &sample::names()).len(), 64);
    assert!(matches!(decode(&packet(&row(65)), &sample::names())[..], [Heard::Dropped(Misheard::TooMany { .. })]));
    let arrays = format!(",{}{}", "[".repeat(400), "]".repeat(400));
    let mut deep = b"/bellwire/go\0\0\0\0".to_vec();
    deep.extend(arrays.bytes());
    deep.extend([0; 3]);
    assert!(matches!(
        decode(&deep, &sample::names())[..],
        [Heard::Refused { why: Misheard::Arguments { .. }, .. }]
    ));
}

/// Bundles within bundles, each the only element of the one around it, and a message inside them all.
fn abyss(depth: usize, inside: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for level in 0..depth {
        if level > 0 {
            let below = (depth - level) * 20 - 4 + 4 + inside.len();
            bytes.extend(u32::try_from(below).expect("fits").to_be_bytes());
        }
        bytes.extend(b"#bundle\0");
        bytes.extend(1u64.to_be_bytes());
    }
    bytes.extend(u32::try_from(inside.len()).expect("fits").to_be_bytes());
    bytes.extend(inside);
    bytes
}

#[test]
fn forty_four_kilobytes_of_nested_bundles_are_refused_on_a_small_stack() {
    assert_eq!(read(&abyss(3, b"/bell\0\0\0")), [("/bell".to_owned(), vec![])]);
    let run = || {
        let silent = abyss(2200, b"/bellwire/go\0\0\0\0");
        assert!(silent.len() > 44_000);
        assert!(!is_stop(&silent));
        assert!(matches!(decode(&silent, &sample::names())[..], [Heard::Dropped(_)]));
        // Cut to the size that is taken, so that the depth itself is what refuses it.
        let heard = decode(&abyss(700, b"/bellwire/go\0\0\0\0"), &sample::names());
        assert_eq!(heard, [Heard::Dropped(Misheard::TooDeep { limit: 8 })]);
        assert!(is_stop(&abyss(2200, b"/bellwire/stop\0\0")));
    };
    let thread = std::thread::Builder::new().stack_size(512 * 1024).spawn(run).expect("a thread");
    thread.join().expect("no overflow, no panic");
}

#[test]
fn messages_out_are_those_of_the_contract() {
    let reasons = ["the show is not armed: arm it first".to_owned(), "nothing is on standby".to_owned()];
    let answer = Out::Answer { verb: "go", cue: "12.5", reasons: &reasons };
    let joined = "the show is not armed: arm it first; nothing is on standby";
    for (out, address, args) in [
        (answer, "answer", vec![string("go"), string("12.5"), string(joined)]),
        (
            Out::Answer { verb: "stop", cue: "", reasons: &[] },
            "answer",
            vec![string("stop"), string(""), string("accepted")],
        ),
        (Out::Cue { number: "12", state: "running" }, "cue", vec![string("12"), string("running")]),
        (
            Out::Axis { rig: "heron", axis: "swing", position: -43.5 },
            "axis",
            vec![string("heron"), string("swing"), OscType::Float(-43.5)],
        ),
        (Out::Stopped(true), "stopped", vec![OscType::Bool(true)]),
        (Out::Standstill(false), "standstill", vec![OscType::Bool(false)]),
        (Out::Standby { cue: "9", ready: false }, "standby", vec![string("9"), OscType::Bool(false)]),
        (Out::Watching { changes: 20, lease: 10 }, "watching", vec![OscType::Int(20), OscType::Int(10)]),
    ] {
        assert_eq!(read(&out.encode()), [(format!("/bellwire/{address}"), args)]);
    }
}
