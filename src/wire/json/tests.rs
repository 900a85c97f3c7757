use serde_json::{Value, json};

use super::{cue_json, event_json, show_json, status_json};
use crate::engine::{
    Cause, ClearSpan, ClientId, Event, EventKind, Found, HandStatus, Owner, Reason, Refusal, Running, Sign,
    Standby, Status, StopLane, Stopped, Trial, TrialStatus, Waiting,
};
use crate::motion::{Ceiling, Profile};
use crate::proof::{AxisPath, CuePlan, MovePlan, Near, Party, Plan};
use crate::show::{CueId, CueState, InterlockId, Nanos, RigId, Truth};
use crate::wire::sample::{self, SWING, TRAVEL};
use crate::wire::words::Words;

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().expect("an object").keys().map(String::as_str).collect()
}

/// The value of every key is there, whatever else is.
fn holds(value: &Value, names: &[&str]) {
    for name in names {
        assert!(keys(value).contains(name), "{name} is missing of {value}");
    }
}

fn no_stranger(value: &Value) {
    // What JSON cannot say would have become null, or the text of an error.
    let text = value.to_string();
    assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
}

#[test]
fn the_status_is_that_of_the_contract() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let mut status = Status::at_rest(&show);
    status.armed = true;
    status.stopped = Some(Stopped {
        by: Cause::Request(StopLane::Osc),
        causes: [(Cause::Request(StopLane::Osc), false)].into_iter().collect(),
        standstill: false,
    });
    status.standby.push(Standby {
        cue: CueId(3),
        ready: false,
        returning: false,
        from: 1.5,
        reasons: Refusal::one(Reason::NotArmed),
        clear: [ClearSpan { from: 2.5, to: None }].into_iter().collect(),
        aside: None,
    });
    status.running.push(Running {
        cue: CueId(0),
        state: CueState::Running,
        time: 3.0,
        duration: 18.0,
        rate: 1.0,
        left: 15.0,
    });
    status.waiting.push(Waiting { cue: CueId(4), left: None });
    status.cues[0] = CueState::Running;
    status.rigs[0].owner = Owner::Cue(CueId(0));
    status.rigs[1].owner = Owner::Client(ClientId(7));
    let parties = [Party::Body { rig: RigId(1), axis: Some(TRAVEL), index: 0 }, Party::Zone(0)];
    status.rigs[1].hand = Some(HandStatus {
        focus: None,
        client: ClientId(7),
        sticks: ClientId(8),
        offered: Some(ClientId(9)),
        let_go: false,
        near: Some(Near { parties, distance: 0.25, margin: 0.1 }),
        barred: Some(InterlockId(0)),
        survey: true,
        trial: Some(TrialStatus {
            axis: TRAVEL,
            trial: Trial::Sign,
            done: 4,
            of: 4,
            runs: false,
            found: Some(Found::Sign { commanded: 0.004, measured: -0.004, sign: Sign::Reversed, other: None }),
        }),
    });
    status.axes[1].waits = true;
    status.rigs[0].age = Nanos::from_millis(4);
    status.axes[0].position = Some(-43.2);
    status.axes[0].speed = Some(f64::NAN);
    status.interlocks[0] = Truth::False;

    let object = status_json(7, 2.5, &status, &words);
    no_stranger(&object);
    holds(&object, &["seq", "time", "armed", "master", "stopped", "standby", "running", "waiting", "cues", "rigs"]);
    holds(
        &object,
        &["inputs", "interlocks", "show", "hash", "clearance", "held", "rate", "stop_bound", "simulated"],
    );
    assert_eq!((&object["seq"], &object["time"], &object["armed"]), (&json!(7), &json!(2.5), &json!(true)));
    assert_eq!(
        object["stopped"],
        json!({ "by": "stop asked for over OSC", "causes": ["stop asked for over OSC"], "remaining": [], "ways_out": [], "standstill": false })
    );
    assert_eq!(
        object["standby"],
        json!([{ "cue": "12.5", "name": "Cue 12.5", "ready": false, "returning": false, "from": 1.5,
            "reasons": ["the show is not armed: arm it first"], "notes": [], "clear": [[2.5, null]], "preset": false }])
    );
    assert_eq!(
        object["running"],
        json!([{ "cue": "8", "name": "Cue 8", "state": "running", "time": 3.0, "duration": 18.0, "rate": 1.0, "left": 15.0 }])
    );
    assert_eq!(object["waiting"], json!([{ "cue": "13", "name": "Cue 13", "left": null }]));
    assert_eq!(keys(&object["cues"]), ["8", "9", "12", "12.5", "13"]);
    assert_eq!(object["cues"]["8"], "running");
    assert_eq!(
        object["rigs"]["heron"],
        json!({ "state": "disabled", "owner": "cue 8", "simulated": true, "age": 0.004, "hand": null, "axes": { "swing": {
            "state": "disabled", "unit": "deg", "travel": [-1000.0, 1000.0], "surveyed": true, "position": -43.2, "speed": null,
            "setpoint": 0.0 } } })
    );
    assert_eq!(
        (&object["rigs"]["skiff"]["owner"], &object["rigs"]["skiff"]["age"]),
        (&json!("panel 7"), &json!(null))
    );
    assert_eq!(
        object["rigs"]["skiff"]["hand"],
        json!({ "client": "panel 7", "sticks": "panel 8", "offered": "panel 9", "let_go": false, "waits": ["travel"], "way_out": null,
            "near": { "bodies": ["skiff/travel/0", "zone/orchestra pit"], "distance": 0.25, "margin": 0.1 },
            "interlock": "lift clear of wagon", "survey": true,
            "trial": { "axis": "travel", "trial": "sign", "done": 4, "of": 4, "runs": false,
                "found": { "sign": "reversed", "commanded": 0.004, "measured": -0.004, "other": null,
                    "text": "skiff.travel went -0.0040 m when it was told to go +0.0040 m: REVERSED. At the drive, turn round the \
                             motor's direction or the encoder's, not both; no key of rigs/skiff.toml does that" } },
            "focus": null })
    );
    let input = json!({ "value": null, "age": null, "max_age": 0.5, "truth": null, "tripped": false });
    assert_eq!(object["inputs"]["cellar gate closed"], input);
    assert_eq!(object["interlocks"], json!({ "lift clear of wagon": false }));
}

#[test]
fn nothing_stopped_is_null_and_no_number_is_ever_more_than_json_can_say() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let mut status = Status::at_rest(&show);
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        status.master = value;
        status.rate = value;
        status.stop_bound = value;
        status.axes[0].position = Some(value);
        status.axes[0].setpoint = value;
        let object = status_json(1, value, &status, &words);
        no_stranger(&object);
        assert_eq!(object["stopped"], Value::Null);
        for name in ["time", "master", "rate", "stop_bound"] {
            assert_eq!(object[name], Value::Null);
        }
        let axis = &object["rigs"]["heron"]["axes"]["swing"];
        assert_eq!((&axis["position"], &axis["setpoint"]), (&Value::Null, &Value::Null));
    }
}

#[test]
fn events_carry_their_kind_their_details_and_a_sentence() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let told = |kind| event_json(&Event { seq: 3, tick: 500, kind }, 1.0, &words);
    assert_eq!(
        told(EventKind::Go { cue: CueId(3), by: Some(ClientId(1)) }),
        json!({ "seq": 3, "time": 1.0, "kind": "go", "cue": "12.5", "by": "panel 1", "text": "cue 12.5 GO by panel 1" })
    );
    assert_eq!(
        told(EventKind::Standstill { at_rest: false, axis: Some(SWING) }),
        json!({ "seq": 3, "time": 1.0, "kind": "standstill", "at_rest": false, "axis": "heron.swing",
            "text": "heron.swing is NOT at rest in time: look at the machine" })
    );
    assert_eq!(keys(&told(EventKind::Reset)), ["seq", "time", "kind", "text"]);
    let dropped = told(EventKind::Dropped { cue: CueId(0), reasons: Refusal::one(Reason::NotArmed) });
    assert_eq!((&dropped["kind"], &dropped["dropped"]), (&json!("standby"), &json!(true)));
    assert_eq!(told(EventKind::ClientLost { client: ClientId(1) })["kind"], "client");
}

fn plan() -> Plan {
    let profile = Profile::fastest(Ceiling { speed: 0.1, acceleration: 0.1, jerk: 0.1 });
    let axes = vec![AxisPath::straight(SWING, -50.0, -20.0)];
    let step = MovePlan { rig: RigId(0), delay: 0.5, profile, axes, passes: Vec::new() };
    let cue = CuePlan {
        duration: profile.duration() + 0.5,
        stop_time: 1.25,
        bottleneck: Some(SWING),
        start: vec![-50.0, 0.0],
        end: vec![-20.0, 0.0],
        moves: vec![step],
    };
    Plan { cues: vec![cue], ..Plan::default() }
}

#[test]
fn the_show_is_told_with_its_cautions() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let object = show_json(&plan(), &words);
    no_stranger(&object);
    holds(
        &object,
        &["show", "hash", "tick", "margin", "simulated", "rigs", "cues", "zones", "inputs", "interlocks"],
    );
    let cautions = object["cautions"].to_string();
    for words in ["operational stop", "ISO 13850", "No one rides on", "person on site decide", "not proved"] {
        assert!(cautions.contains(words), "{words}");
    }
    let cue = &object["cues"][0];
    holds(
        cue,
        &["number", "name", "page", "call", "watch", "notes", "gap", "follow", "needs", "duration", "stop_time"],
    );
    // Biagiotti and Melchiorri, section 3.4: h/v + v/a + a/j = 10 + 1 + 1 s.
    assert_eq!(cue["moves"], json!(["heron swing -50.0 → -20.0° in 12.0 s, 0.5 s after the GO"]));
    assert_eq!(
        (&cue["duration"], &cue["stop_time"], &cue["rigs"]),
        (&json!(12.5), &json!(1.25), &json!(["heron"]))
    );
    assert_eq!(object["cues"][1]["needs"], "cue 8 done");
    assert_eq!(object["cues"][3]["follow"], "12 end + 1.5 s");
    assert_eq!(
        object["interlocks"][0],
        json!({ "name": "lift clear of wagon", "guards": ["skiff.travel down"], "otherwise": "stop",
            "needs": "skiff.travel below -3.3 m and input 'cellar gate closed'" })
    );
    assert_eq!(object["rigs"][0]["marks"], json!(["quay-high"]));
    holds(&object["rigs"][0]["axes"][0], &["name", "unit", "travel", "tolerance", "speed", "gravity"]);
    assert_eq!(object["zones"][0]["keep"], "out");
}

#[test]
fn one_cue_is_told_with_its_moves() {
    let show = sample::show();
    let words = Words::new(&show, &sample::client);
    let plan = plan();
    let object = cue_json(CueId(0), plan.cue(CueId(0)), &words);
    assert_eq!((&object["number"], &object["duration"]), (&json!("8"), &json!(12.5)));
    let heron = &object["moves"]["heron"];
    assert_eq!(heron["axes"]["swing"], json!({ "from": -50.0, "to": -20.0, "unit": "deg" }));
    assert_eq!((&heron["delay"], &heron["duration"]), (&json!(0.5), &json!(12.0)));
}
