use std::path::PathBuf;

use super::*;
use crate::engine::{Running, Status};
use crate::rig::{SimFaultKind, SimFaults};
use crate::show::{self, AxisId, RigId, Show};

fn bench() -> Show {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/outside/bench");
    show::read(&folder).show.expect("the bench show reads well")
}

fn read(text: &str) -> ScriptReading {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("faults.toml");
    std::fs::write(&path, text).unwrap();
    read_faults(&path, &bench())
}

/// Line, column, message and fix of the only finding.
fn told(text: &str) -> (u32, u32, String, String) {
    let reading = read(text);
    assert_eq!(reading.script, None, "{text}");
    let [finding] = &reading.findings[..] else { panic!("{text}: {:#?}", reading.findings) };
    let (line, column) = finding.place.map_or((0, 0), |place| reading.sources.line_column(place));
    (line, column, finding.message.clone(), finding.fix.clone().unwrap_or_default())
}

fn script(text: &str) -> FaultScript {
    let reading = read(text);
    reading.script.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}

#[test]
fn reads_every_kind_that_there_is() {
    for kind in SimFaultKind::ALL {
        let axis = if kind.is_of_an_axis() { "axis = \"travel\"\n" } else { "" };
        let size = if kind.size().is_some() { "size = 0.1\n" } else { "" };
        let text = format!("[[fault]]\nrig = \"sloop\"\n{axis}kind = \"{}\"\nat = 1.5\n{size}", kind.word());
        let script = script(&text);
        let [injection] = script.injections() else { panic!("{script:?}") };
        assert_eq!(injection.fault.kind(), kind);
        assert_eq!(injection.fault.size(), kind.size().map(|_| 0.1));
        assert_eq!(injection.when, When::At(Nanos::from_millis(1500)));
    }
}

#[test]
fn the_words_of_the_file_are_the_words_of_the_kinds() {
    let schema = faults_schema();
    let words: Vec<&str> = SimFaultKind::ALL.iter().map(|kind| kind.word()).collect();
    assert_eq!(schema["$defs"]["Fault"]["properties"]["kind"]["enum"], serde_json::json!(words));
    assert_eq!(schema["$defs"]["Fault"]["required"], serde_json::json!(["rig", "kind"]));
    assert!(!schema.to_string().contains("null"));
}

#[test]
fn a_mistake_is_told_with_its_place_and_what_to_do() {
    let fault = |lines: &str| format!("[[fault]]\nrig = \"sloop\"\n{lines}\n");
    let (line, column, message, fix) = told(&fault("kind = \"stuck\"\nat = 1\nsiez = 3"));
    assert_eq!((line, column), (5, 1));
    assert!(message.contains("unknown key `siez`") && fix.contains("`size`"), "{message}: {fix}");

    let (line, _, message, fix) = told("[[fault]]\nrig = \"slop\"\nkind = \"stuck\"\nat = 1\n");
    assert_eq!(
        (line, message.as_str(), fix.as_str()),
        (2, "there is no rig `slop`", "the nearest known name is `sloop`")
    );

    let (line, _, message, fix) = told(&fault("axis = \"travle\"\nkind = \"stuck\"\nat = 1"));
    assert_eq!(line, 3);
    assert!(message.contains("sloop has no axis `travle`") && fix.contains("`travel`"), "{message}: {fix}");

    let (_, _, message, fix) = told(&fault("kind = \"stck\"\nat = 1"));
    assert!(message.contains("\"link-lost\"") && fix.contains("\"stuck\""), "{message}: {fix}");

    let (line, _, message, fix) = told(&fault("kind = \"stuck\"\ncue = \"77\""));
    assert_eq!(line, 4);
    assert!(message.contains("there is no cue `77`") && !fix.is_empty(), "{message}: {fix}");
}

#[test]
fn what_does_not_go_together_is_refused() {
    let fault = |lines: &str| told(&format!("[[fault]]\nrig = \"sloop\"\n{lines}\n")).2;
    for (lines, expected) in [
        ("kind = \"stuck\"", "when"),
        ("kind = \"stuck\"\nat = 1\ncue = \"1\"", "both"),
        ("kind = \"stuck\"\nat = 1\npast = 1", "`past`"),
        ("kind = \"stuck\"\nat = 1\nsize = 1", "has no size"),
        ("kind = \"drift\"\nat = 1", "how much"),
        ("kind = \"drift\"\nat = 1\nsize = 0", "other than 0"),
        ("kind = \"late\"\nat = 1\nsize = 1.5", "at most 1"),
        ("kind = \"wrong-end\"\nat = 1\nsize = -0.1", "above 0"),
        ("kind = \"mute\"\naxis = \"travel\"\nat = 1", "whole rig"),
        ("kind = \"jump\"\nat = 1\nsize = 1\nfor = 2", "over at once"),
        ("kind = \"stuck\"\nat = -1", "86400"),
    ] {
        let message = fault(lines);
        assert!(message.contains(expected), "{lines}: {message}");
    }
    let (.., fix) = told("[[fault]]\nrig = \"pike\"\nkind = \"stuck\"\nat = 1\n");
    assert!(fix.starts_with("add `axis`, one of: "), "{fix}");
}

#[test]
fn a_file_that_is_not_there_or_no_text_is_told() {
    let reading = read_faults(&PathBuf::from("no such file.toml"), &bench());
    assert!(reading.script.is_none());
    assert!(reading.findings[0].message.contains("there is no such file"), "{:?}", reading.findings);
    assert!(told("[[fault]\n").2.contains("not TOML"));
}

fn status_at(show: &Show, tick: u64) -> Status {
    Status { tick, ..Status::at_rest(show) }
}

#[test]
fn a_fault_begins_and_ends_with_its_time() {
    let show = bench();
    let faults = SimFaults::none(&show);
    let tick = show.settings.tick;
    let mut script = script("[[fault]]\nrig = \"sloop\"\nkind = \"mute\"\nat = 1.0\nfor = 0.5\n");
    let mut present = |seconds: f64, less: u64| {
        let at = (Nanos::from_seconds(seconds).0 / tick.0) as u64 - less;
        script.turn(&status_at(&show, at), &faults);
        faults.present().count()
    };
    assert_eq!(
        [present(1.0, 1), present(1.0, 0), present(1.5, 1), present(1.5, 0), present(9.0, 0)],
        [0, 1, 1, 0, 0]
    );
}

#[test]
fn a_fault_begins_with_the_time_of_a_cue() {
    let show = bench();
    let faults = SimFaults::none(&show);
    let number = show.cues[0].number.to_string();
    let mut script =
        script(&format!("[[fault]]\nrig = \"sloop\"\nkind = \"stuck\"\ncue = \"{number}\"\npast = 0.8\n"));
    let mut status = status_at(&show, 5000);
    script.turn(&status, &faults);
    let cue = CueId::new(0);
    let running = Running { cue, state: CueState::Running, time: 0.79, duration: 3.0, rate: 1.0, left: 2.0 };
    status.running.push(running);
    script.turn(&status, &faults);
    assert_eq!(faults.present().count(), 0);
    status.running[0].time = 0.8;
    script.turn(&status, &faults);
    let sloop = show.rig_ids().find(|&rig| show.rig(rig).name == "sloop").unwrap();
    let travel: AxisId = show.rig(sloop).axis_ids().next().unwrap();
    assert_eq!(faults.present().collect::<Vec<_>>(), [SimFault::Stuck(travel)]);
}

#[test]
fn of_two_alike_the_end_of_one_leaves_the_other() {
    let show = bench();
    let faults = SimFaults::none(&show);
    let rig = RigId::new(0);
    let one = |at: i64, lasts: Option<i64>| Injection {
        fault: SimFault::LinkLost(rig),
        when: When::At(Nanos::from_millis(at)),
        lasts: lasts.map(Nanos::from_millis),
        began: None,
        ended: None,
    };
    let mut script = FaultScript::new(vec![one(0, Some(100)), one(50, None)], Nanos::from_millis(1));
    for tick in 1..=200 {
        script.turn(&status_at(&show, tick), &faults);
        assert_eq!(faults.present().count(), 1, "tick {tick}");
    }
}
