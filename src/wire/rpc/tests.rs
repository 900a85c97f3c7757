use glam::DVec3;
use proptest::prelude::*;
use serde_json::{Value, json};

use super::{BATCH_MAX, Call, Error, Frame, Id, Reply, TEXT_MAX, batch, decode, notification};
use crate::engine::{
    Accepted, ClientId, FocusOn, Key, Reason, Refusal, SimFault, StickKind, StickShape, Trial, Verb,
};
use crate::show::{AxisId, CueId, InputId, Nanos, RigId};
use crate::wire::words::Words;
use crate::wire::{Ask, HandAsk, PlayAsk, Subscribe, TakeAsk, sample};

fn call(text: &str) -> Call {
    match decode(text, &sample::names()) {
        Frame::One(call) => call,
        Frame::Batch(_) => panic!("{text} is one call"),
    }
}

fn method(method: &str, params: Value) -> Result<Ask, Error> {
    call(&json!({ "jsonrpc": "2.0", "id": 1, "method": method, "params": params }).to_string()).ask
}

fn verb(name: &str, params: Value) -> Verb {
    match method(name, params) {
        Ok(Ask::Verb(verb)) => verb,
        other => panic!("{name}: {other:?}"),
    }
}

fn error(name: &str, params: Value) -> (i32, String) {
    let error = method(name, params).expect_err("an error");
    (error.code, if error.reasons.is_empty() { error.message } else { error.reasons.join("; ") })
}

#[test]
fn every_method_of_the_contract_is_understood() {
    let cues = [CueId(3), CueId(4)].into_iter().collect();
    assert_eq!(
        verb("standby", json!({ "cues": ["12.5", "13"], "skip": true })),
        Verb::Standby { cues, skip: true }
    );
    assert_eq!(verb("go", json!({})), Verb::Go { cue: None });
    assert_eq!(verb("go", json!({ "cue": "8" })), Verb::Go { cue: Some(CueId(0)) });
    assert_eq!(verb("hold", json!({ "cue": null })), Verb::Hold { cue: None });
    assert_eq!(verb("resume", json!([])), Verb::Resume { cue: None });
    assert_eq!(verb("return", json!({ "cue": "9" })), Verb::Return { cue: CueId(1), held: false });
    assert_eq!(verb("return", json!({ "cue": "9", "held": true })), Verb::Return { cue: CueId(1), held: true });
    for (name, expected) in [("reset", Verb::Reset), ("arm", Verb::Arm), ("disarm", Verb::Disarm)] {
        assert_eq!(verb(name, json!({})), expected);
    }
    assert_eq!(verb("master", json!({ "value": 0.5 })), Verb::Master { value: 0.5 });
    let set = Verb::Input { input: InputId(1), value: true };
    assert_eq!(verb("input", json!({ "name": "deck clear", "value": true })), set);
    assert_eq!(method("stop", json!({})), Ok(Ask::Stop));
    assert_eq!(method("status", json!({})), Ok(Ask::Status));
    let subscribe = Subscribe { hz: 20.0, lease: Some(Nanos::from_millis(600)), stage: true };
    assert_eq!(
        method("subscribe", json!({ "hz": 20, "lease": 0.6, "stage": true })),
        Ok(Ask::Subscribe(subscribe))
    );
    let greedy = Subscribe { hz: 30.0, lease: None, stage: false };
    assert_eq!(method("subscribe", json!({ "hz": 1e300 })), Ok(Ask::Subscribe(greedy)));
    let prime = TakeAsk::Prime { rigs: vec!["heron".into(), "skiff".into()], name: None };
    assert_eq!(method("prime", json!({ "rigs": ["heron", "skiff"] })), Ok(Ask::Take(prime)));
    assert_eq!(method("record", json!({ "on": false })), Ok(Ask::Take(TakeAsk::Record { on: false })));
    assert_eq!(
        method("keep", json!({ "name": "quay" })),
        Ok(Ask::Take(TakeAsk::Keep { name: Some("quay".into()) }))
    );
    assert_eq!(method("discard", json!({})), Ok(Ask::Take(TakeAsk::Discard)));
    let trim = TakeAsk::Trim { take: "quay".into(), ends: [0.5, 9.0], name: "short".into() };
    assert_eq!(
        method("trim", json!({ "take": "quay", "from": 0.5, "to": 9.0, "name": "short" })),
        Ok(Ask::Take(trim))
    );
    let play = PlayAsk { take: "quay".into(), stretch: Some(1.1), rig: None };
    assert_eq!(method("play", json!({ "take": "quay", "stretch": 1.1 })), Ok(Ask::Play(play)));
    assert_eq!(verb("return", json!({ "cue": "take" })), Verb::Return { cue: CueId(6), held: false });
    assert_eq!(verb("preset", json!({ "cue": "8" })), Verb::Preset { cue: CueId(0), held: false });
    assert_eq!(verb("preset", json!({ "cue": "8", "held": true })), Verb::Preset { cue: CueId(0), held: true });
    assert_eq!(verb("place", json!({ "cue": "9" })), Verb::Place { cue: CueId(1) });
    let fault = |rig| Verb::SimFault { fault: SimFault::LinkLost(rig), on: true };
    assert_eq!(verb("fault", json!({ "rig": "skiff", "kind": "link-lost", "on": true })), fault(RigId(1)));
    let drift = Verb::SimFault { fault: SimFault::Drift(AxisId(0), -0.5), on: true };
    let of_axis = json!({ "rig": "heron", "axis": "swing", "kind": "drift", "on": true, "size": -0.5 });
    assert_eq!(verb("fault", of_axis), drift);
    let ends = Verb::SimFault { fault: SimFault::Stuck(AxisId(1)), on: false };
    assert_eq!(verb("fault", json!({ "rig": "skiff", "kind": "stuck", "on": false })), ends, "its only axis");
    let ends = verb("fault", json!({ "rig": "heron", "kind": "drift", "on": false }));
    assert!(
        matches!(ends, Verb::SimFault { fault: SimFault::Drift(AxisId(0), _), on: false }),
        "whatever its size"
    );
    assert_eq!(method("reload", json!({})), Ok(Ask::Reload { accept: None }));
    assert_eq!(method("reload", json!({ "accept": "12ab34" })), Ok(Ask::Reload { accept: Some("12ab34".into()) }));
}

#[test]
fn hands_name_a_rig_and_clients_as_the_status_does() {
    let (rig, shape) = (RigId(1), StickShape::default());
    let take = Ask::Hand(HandAsk::Take { rig, sticks: None, shape });
    assert_eq!(method("hand", json!({ "rig": "skiff" })), Ok(take));
    let shape = StickShape { dead_band: 0.0, taper: 1.0 };
    let accept = Ask::Hand(HandAsk::Accept { rig, sticks: Some("osc 10.0.0.7".into()), shape });
    let params = json!({ "rig": "skiff", "sticks": "osc 10.0.0.7", "dead_band": 0, "taper": 1 });
    assert_eq!(method("accept", params), Ok(accept));
    let offer = Ask::Hand(HandAsk::HandOver { rig, to: Some("Ada".into()) });
    assert_eq!(method("hand_over", json!({ "rig": "skiff", "to": "Ada" })), Ok(offer.clone()));
    assert_eq!(method("hand_over", json!({ "rig": "skiff" })), Ok(Ask::Hand(HandAsk::HandOver { rig, to: None })));
    assert_eq!(verb("give_back", json!({ "rig": "skiff" })), Verb::GiveBack { rig });
    let Ask::Hand(offer) = offer else { panic!("{offer:?}") };
    let found = offer.verb(|name| if name == "Ada" { Ok(ClientId(4)) } else { Err(()) });
    assert_eq!(found, Ok(Verb::HandOver { rig, to: Some(ClientId(4)) }));

    let stick = |value: f64| method("stick", json!({ "rig": "heron", "axis": "swing", "value": value }));
    assert_eq!(stick(-1.0), Ok(Ask::Stick { axis: AxisId(0), kind: StickKind::Stick, value: -1.0 }));
    let dial = |value: f64| method("dial", json!({ "rig": "heron", "axis": "swing", "value": value }));
    assert_eq!(dial(1.0), Ok(Ask::Stick { axis: AxisId(0), kind: StickKind::Dial, value: 1.0 }));
    let bad = |ask: Result<Ask, Error>| ask.expect_err("refused").code;
    assert_eq!([stick(1.5), dial(-0.1), dial(f64::NAN)].map(bad), [Error::BAD_PARAMS; 3]);
    for wrong in [json!({ "rig": "skiff", "dead_band": 1 }), json!({ "rig": "skiff", "taper": -0.1 }), json!({})] {
        assert_eq!(bad(method("hand", wrong)), Error::BAD_PARAMS);
    }
    assert_eq!(bad(method("hand", json!({ "rig": "skiff", "stick": "Ada" }))), Error::BAD_PARAMS);
    assert_eq!(bad(method("stick", json!({ "rig": "heron", "axis": "swung", "value": 0 }))), Error::REFUSED);
}

#[test]
fn a_survey_names_what_is_tried_and_its_button_is_held_or_not() {
    let rig = RigId(1);
    let survey = Ask::Hand(HandAsk::Survey { rig, sticks: None, shape: StickShape::default() });
    assert_eq!(method("survey", json!({ "rig": "skiff" })), Ok(survey));
    let trial = |more: Value| {
        let mut params = json!({ "rig": "heron", "axis": "swing" });
        more.as_object().expect("an object").iter().for_each(|(name, value)| params[name] = value.clone());
        method("trial", params)
    };
    let asks = |trial: Trial| Ok(Ask::Verb(Verb::Trial { axis: AxisId(0), trial }));
    assert_eq!(trial(json!({ "trial": "sign" })), asks(Trial::Sign));
    assert_eq!(trial(json!({ "trial": "home" })), asks(Trial::Home));
    assert_eq!(trial(json!({ "trial": "repeat" })), asks(Trial::Repeat { at: None, times: 5 }));
    let at = |at: Value| trial(json!({ "trial": "repeat", "at": at, "times": 10 }));
    assert_eq!(at(json!(-12.5)), asks(Trial::Repeat { at: Some(-12.5), times: 10 }));
    assert_eq!(at(json!("quay-high")), asks(Trial::Repeat { at: Some(-35.0), times: 10 }));
    let unknown = at(json!("quay-hihg")).expect_err("refused");
    assert!(unknown.code == Error::REFUSED && unknown.reasons[0].contains("quay-high"), "{:?}", unknown.reasons);
    for wrong in [
        json!({ "trial": "repeat", "at": true }),
        json!({ "trial": "sing" }),
        json!({}),
        json!({ "trial": "repeat", "times": 1 }),
        json!({ "trial": "repeat", "times": 11 }),
        json!({ "trial": "home", "times": 3 }),
    ] {
        assert_eq!(trial(wrong.clone()).expect_err("refused").code, Error::BAD_PARAMS, "{wrong}");
    }
    let run = |on: Value| method("run", json!({ "rig": "heron", "axis": "swing", "on": on }));
    assert_eq!(run(json!(true)), Ok(Ask::Stick { axis: AxisId(0), kind: StickKind::Run, value: 1.0 }));
    assert_eq!(run(json!(false)), Ok(Ask::Stick { axis: AxisId(0), kind: StickKind::Run, value: 0.0 }));
    assert_eq!(run(json!(1)).expect_err("refused").code, Error::BAD_PARAMS);
}

#[test]
fn a_focus_follows_a_point_a_rig_or_nothing() {
    let (rig, other) = (RigId(0), RigId(1));
    let focus = |params: Value| method("focus", params);
    let found = |on: Option<FocusOn>| Ok(Ask::Verb(Verb::Focus { rig, on }));
    assert_eq!(focus(json!({ "rig": "heron" })), found(None));
    let at = DVec3::new(1.0, -2.5, 3.0);
    assert_eq!(focus(json!({ "rig": "heron", "at": [1, -2.5, 3] })), found(Some(FocusOn::Point(at))));
    let plain = FocusOn::Rig { rig: other, axis: None, point: None };
    assert_eq!(focus(json!({ "rig": "heron", "on": "skiff" })), found(Some(plain)));
    let point = FocusOn::Rig { rig: other, axis: None, point: Some(at) };
    assert_eq!(focus(json!({ "rig": "heron", "on": "skiff", "point": [1, -2.5, 3] })), found(Some(point)));
    for wrong in
        [json!({ "rig": "heron", "at": [1, 2] }), json!({ "rig": "heron", "at": [1, 2, 3], "on": "skiff" })]
    {
        assert_eq!(focus(wrong).expect_err("refused").code, Error::BAD_PARAMS);
    }
}

#[test]
fn a_fault_that_cannot_be_is_refused_with_what_can() {
    let refused = |params: Value| {
        let why = method("fault", params).expect_err("no such fault");
        assert_eq!(why.code, Error::REFUSED, "{why:?}");
        why.reasons.join("; ")
    };
    let of = |more: Value| {
        let mut params = json!({ "rig": "heron", "kind": "stuck", "on": true });
        more.as_object().expect("an object").iter().for_each(|(name, value)| params[name] = value.clone());
        refused(params)
    };
    assert_eq!(
        of(json!({ "rig": "herron" })),
        "there is no rig 'herron': expected heron, skiff; the nearest is heron"
    );
    assert_eq!(of(json!({ "axis": "tilt" })), "heron has no axis 'tilt': expected swing");
    let kinds = of(json!({ "kind": "stuk" }));
    assert!(kinds.starts_with("there is no fault 'stuk': expected link-lost, mute, late, "), "{kinds}");
    assert!(kinds.ends_with("; the nearest is stuck"), "{kinds}");
    let whole = "link-lost is a fault of the whole rig: leave the axis out";
    assert_eq!(of(json!({ "kind": "link-lost", "axis": "swing" })), whole);
    assert_eq!(of(json!({ "kind": "late" })), "late needs a size: seconds above 0, at most 1");
    assert_eq!(of(json!({ "kind": "late", "size": 2 })), "the size of late: expected seconds above 0, at most 1");
    let no_size = "stuck has no size, or is to end whatever its size is: leave it out";
    assert_eq!(of(json!({ "size": 1 })), no_size);
    assert_eq!(of(json!({ "size": 1, "on": false })), no_size);
}

#[test]
fn what_does_not_fit_is_named_with_what_was_expected() {
    let sentences = [
        (
            "go",
            json!({ "cue": 12.5 }),
            "cue: expected a cue number as text, such as \"12.5\", found the number 12.5",
        ),
        ("return", json!({}), "cue: expected a cue number as text, such as \"12.5\", found nothing"),
        ("go", json!({ "queue": "8" }), "unknown parameter \"queue\": expected key, sent, cue"),
        ("go", json!({ "cue ": "8" }), "unknown parameter \"cue \": expected key, sent, cue; the nearest is cue"),
        ("go", json!(["8"]), "params: expected an object (parameters by name), found a list of 1"),
        ("go", json!("8"), "params: expected an object (parameters by name), found the text \"8\""),
        (
            "standby",
            json!({ "cues": "8" }),
            "cues: expected a list of 1 to 16 cue numbers as text, such as [\"12.5\"], found the text \"8\"",
        ),
        (
            "standby",
            json!({ "cues": [] }),
            "cues: expected a list of 1 to 16 cue numbers as text, such as [\"12.5\"], found a list of 0",
        ),
        (
            "standby",
            json!({ "cues": [8] }),
            "cues: expected a list of 1 to 16 cue numbers as text, such as [\"12.5\"], found a list of 1",
        ),
        ("standby", json!({ "cues": ["8"], "skip": 1 }), "skip: expected true or false, found the number 1"),
        ("master", json!({ "value": "half" }), "value: expected a number from 0 to 1, found the text \"half\""),
        ("input", json!({ "name": "deck clear", "value": 1 }), "value: expected true or false, found the number 1"),
        ("record", json!({}), "on: expected true or false, found nothing"),
        (
            "trim",
            json!({ "take": "a", "from": 0 }),
            "to: expected s from the first sample of the take, found nothing",
        ),
        (
            "play",
            json!({ "take": "a", "stretch": 0 }),
            "stretch: expected a number above 0, at most 100, found the number 0",
        ),
        (
            "prime",
            json!({ "rigs": "heron" }),
            "rigs: expected a list of names of rigs, such as [\"heron\"], found the text \"heron\"",
        ),
        ("subscribe", json!({ "hz": -1 }), "hz: expected a number from 0, found the number -1"),
        ("subscribe", json!({ "hz": 5, "lease": 0 }), "lease: expected seconds, 0.1 to 3600, found the number 0"),
        ("status", json!({ "key": "" }), "key: expected text of 1 to 128 bytes, found the text \"\""),
        (
            "go",
            json!({ "sent": "yesterday" }),
            "sent: expected a time such as \"2026-11-25T19:30:00.250Z\" (RFC 3339), found the text \"yesterday\"",
        ),
    ];
    for (name, params, sentence) in sentences {
        assert_eq!(error(name, params), (-32602, sentence.into()));
    }
    assert_eq!(error("goo", json!({})), (-32601, "there is no method \"goo\"; the nearest is go".into()));
    let unknown = "there is no cue 12.6 in this show; the nearest known is cue 12.5";
    assert_eq!(error("standby", json!({ "cues": ["12.6"] })), (-32000, unknown.into()));
    let unknown = "there is no input 'deck claer' in this show; the nearest known is 'deck clear'";
    assert_eq!(error("input", json!({ "name": "deck claer", "value": true })), (-32000, unknown.into()));
}

#[test]
fn a_frame_that_is_no_request_says_why() {
    let cases = [
        ("{", -32700, Value::Null),
        ("", -32700, Value::Null),
        (r#"{"jsonrpc":"2.0","id":1,"method":"go"} x"#, -32700, Value::Null),
        (r#"{"jsonrpc":"2.0","id":1,"method":"go","method":"hold"}"#, -32700, Value::Null),
        (r#"{"jsonrpc":"2.0","id":1,"method":"master","params":{"value":NaN}}"#, -32700, Value::Null),
        (r#"{"jsonrpc":"2.0","id":1,"method":"master","params":{"value":1e999}}"#, -32700, Value::Null),
        ("[]", -32600, Value::Null),
        ("7", -32600, Value::Null),
        (r#"{"jsonrpc":"2.0","id":{},"method":"go"}"#, -32600, Value::Null),
        (r#"{"id":"a","method":"go"}"#, -32600, json!("a")),
        (r#"{"jsonrpc":2.0,"id":"a","method":"go"}"#, -32600, json!("a")),
        (r#"{"jsonrpc":"2.0","id":"a"}"#, -32600, json!("a")),
        (r#"{"jsonrpc":"2.0","id":"a","method":"go","extra":1}"#, -32600, json!("a")),
        (r#"{"jsonrpc":"2.0","id":"a","method":"go","key":"k","params":{"key":"k"}}"#, -32600, json!("a")),
        (r#"{"jsonrpc":"2.0","method":7}"#, -32600, Value::Null),
    ];
    for (text, code, id) in cases {
        let call = call(text);
        assert_eq!(call.ask.expect_err(text).code, code, "{text}");
        assert_eq!(call.id, Some(Id(id)), "{text}");
    }
    let twice = call(r#"{"jsonrpc":"2.0","id":1,"method":"go","params":{"cue":"8","cue":"9"}}"#);
    assert!(twice.ask.expect_err("twice").message.contains("the key \"cue\" stands twice"));
}

#[test]
fn size_and_depth_are_bounded() {
    let long = format!(r#"{{"jsonrpc":"2.0","id":1,"method":"{}"}}"#, "x".repeat(TEXT_MAX));
    assert_eq!(call(&long).ask.expect_err("too long").code, Error::INVALID);
    let run = || {
        for deep in ["[".repeat(60_000), "{\"a\":".repeat(10_000), "[{\"a\":".repeat(8_000)] {
            let Error { code, message, .. } = call(&deep).ask.expect_err("too deep");
            assert_eq!(code, Error::PARSE);
            assert!(message.contains("nested deeper than 16"), "{message}");
        }
    };
    let thread = std::thread::Builder::new().stack_size(512 * 1024).spawn(run).expect("a thread");
    thread.join().expect("no overflow, no panic");
}

#[test]
fn a_stop_is_taken_whatever_stands_around_it() {
    for text in [
        r#"{"jsonrpc":"2.0","id":1,"method":"stop"}"#,
        r#"{"method":"stop"}"#,
        r#"{"method":"stop","params":7,"id":{},"extra":null}"#,
        r#"{"jsonrpc":"1.0","method":"stop","params":["now"]}"#,
    ] {
        assert_eq!(call(text).ask, Ok(Ask::Stop), "{text}");
    }
    let crowd = vec![json!({ "jsonrpc": "2.0", "id": 1, "method": "go" }); BATCH_MAX + 1];
    let with_stop: Vec<Value> = crowd.into_iter().chain([json!({ "method": "stop" })]).collect();
    let Frame::Batch(calls) = decode(&Value::Array(with_stop).to_string(), &sample::names()) else {
        panic!("a batch")
    };
    assert_eq!(calls.len(), 2);
    assert_eq!(calls[0].ask, Ok(Ask::Stop));
    assert_eq!(calls[1].ask.as_ref().expect_err("too many").code, Error::INVALID);
}

#[test]
fn a_batch_keeps_its_calls_apart() {
    let text = r#"[{"jsonrpc":"2.0","id":1,"method":"go"},1,{"jsonrpc":"2.0","method":"hold"}]"#;
    let Frame::Batch(calls) = decode(text, &sample::names()) else { panic!("a batch") };
    assert_eq!(calls[0].ask, Ok(Ask::Verb(Verb::Go { cue: None })));
    assert_eq!(calls[1].ask.as_ref().expect_err("no request").code, Error::INVALID);
    assert_eq!((&calls[2].id, &calls[2].ask), (&None, &Ok(Ask::Verb(Verb::Hold { cue: None }))));
}

#[test]
fn key_and_sent_are_taken_beside_or_in_params() {
    let beside = r#"{"jsonrpc":"2.0","id":1,"method":"go","key":"k1","sent":"2026-11-25T00:00:00Z"}"#;
    let inside =
        r#"{"jsonrpc":"2.0","id":1,"method":"go","params":{"key":"k1","sent":"2026-11-25T02:00:00+02:00"}}"#;
    for text in [beside, inside] {
        let call = call(text);
        // SHA-256 (FIPS 180-4) of "k1", its first 8 bytes as `sha256sum` prints them.
        assert_eq!(call.key, Some(Key(0x6AB9_F1EB_8F7D_3388)));
        assert_eq!(call.sent.expect("a time").as_second(), 1_795_564_800);
        assert!(call.ask.is_ok());
    }
}

#[test]
fn replies_are_those_of_json_rpc_and_the_contract() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let id = Id(json!("a"));
    let done = Reply::outcome(&id, &Ok(Accepted::Done), &words);
    assert_eq!(done.0, json!({ "jsonrpc": "2.0", "id": "a", "result": { "accepted": true } }));
    let not_ready = Accepted::Standby { ready: false, cue: CueId(0), reasons: Refusal::one(Reason::NotArmed) };
    let reasons = json!(["the show is not armed: arm it first"]);
    assert_eq!(
        Reply::outcome(&id, &Ok(not_ready), &words).0["result"],
        json!({ "accepted": true, "ready": false, "reasons": reasons })
    );
    assert_eq!(
        Reply::outcome(&id, &Err(Refusal::one(Reason::NotArmed)), &words).0,
        json!({ "jsonrpc": "2.0", "id": "a", "error":
            { "code": -32000, "message": "refused", "data": { "reasons": reasons } } })
    );
    let error = Error::new(Error::BAD_PARAMS, "no");
    assert_eq!(Reply::error(&id, &error).0["error"], json!({ "code": -32602, "message": "no" }));
    assert_eq!(Reply::taken(&Id::NULL).0, json!({ "jsonrpc": "2.0", "id": null, "result": { "taken": true } }));
    assert_eq!(Reply::subscribed(&id, 20.0, "rail").0["result"], json!({ "hz": 20.0, "client": "rail" }));
    assert_eq!(batch(vec![]), None);
    assert!(batch(vec![done]).expect("one reply").starts_with('['));
    let told: Value = serde_json::from_str(&notification("event", &json!({ "seq": 1 }))).expect("JSON");
    assert_eq!(told, json!({ "jsonrpc": "2.0", "method": "event", "params": { "seq": 1 } }));
}

fn json_value() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        any::<f64>().prop_map(Value::from),
        "\\PC{0,12}".prop_map(Value::from),
        "(8|12\\.5|stop|go|deck clear|2\\.0)".prop_map(Value::from),
    ];
    let key = "(jsonrpc|id|method|params|cue|cues|skip|key|sent|hz|lease|name|value|[a-z]{1,4})";
    leaf.prop_recursive(5, 40, 6, move |inside| {
        prop_oneof![
            prop::collection::vec(inside.clone(), 0..6).prop_map(Value::from),
            prop::collection::hash_map(key, inside, 0..8).prop_map(|map| Value::Object(map.into_iter().collect())),
        ]
    })
}

fn each(frame: Frame) -> Vec<Call> {
    match frame {
        Frame::One(call) => vec![call],
        Frame::Batch(calls) => calls,
    }
}

proptest! {
    #[test]
    fn any_text_is_taken(text in "\\PC{0,200}") {
        decode(&text, &sample::names());
    }

    #[test]
    fn any_json_is_taken_and_its_errors_can_be_told(
        value in json_value(),
        name in "(standby|go|hold|return|master|input|subscribe|status|reset|[a-z]{1,9})",
    ) {
        let request = json!({ "jsonrpc": "2.0", "id": 1, "method": name, "params": value });
        for text in [value.to_string(), request.to_string()] {
            for call in each(decode(&text, &sample::names())) {
                if let Err(error) = call.ask {
                    let reply = Reply::error(&call.id.unwrap_or(Id::NULL), &error).text();
                    prop_assert!(serde_json::from_str::<Value>(&reply).is_ok());
                }
            }
        }
    }

    #[test]
    fn any_mutation_of_a_request_is_taken(at in any::<prop::sample::Index>(), byte in 0u8..128, cut: bool) {
        let text = r#"[{"jsonrpc":"2.0","id":1,"method":"standby","params":{"cues":["12.5"],"skip":false,"key":"k"}}]"#;
        let mut bytes = text.as_bytes().to_vec();
        let at = at.index(bytes.len());
        bytes[at] = byte;
        if cut {
            bytes.truncate(at);
        }
        decode(&String::from_utf8(bytes).expect("ASCII"), &sample::names());
    }
}
