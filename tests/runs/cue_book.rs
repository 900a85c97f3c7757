//! The cue book: every show of cues/ is clean, runs from top to bottom and has a README whose commands work. What each
//! page claims is shown here for the first three and in `cue_pages.rs` for the others.

use std::io::{BufRead, BufReader};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;

use crate::hall::{Hall, folder, read};
use bellwire::engine::{ClientId, Reason, Verb};
use bellwire::proof::prove;
use bellwire::rehearsal::{Options, rehearse};
use bellwire::show::{self, CueState, Severity};
use bellwire::wire::words::Words;

/// s; what a cue may take longer than its plan, for the tick in which it ends.
const GRACE: f64 = 0.05;

fn pages() -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder("cues")).unwrap().map(|entry| entry.unwrap().path());
    let mut pages: Vec<PathBuf> = entries.collect();
    pages.sort();
    assert!(pages.len() >= 20, "{pages:?}");
    pages
}

fn title(page: &Path) -> String {
    page.file_name().unwrap().to_string_lossy().into_owned()
}

#[test]
fn every_page_is_clean() {
    for page in pages() {
        let reading = show::read(&page);
        let proof = reading.show.as_ref().map(prove);
        let proved = proof.iter().flat_map(|proof| &proof.findings);
        let loud: Vec<_> =
            reading.findings.iter().chain(proved).filter(|found| found.severity != Severity::Note).collect();
        assert!(loud.is_empty(), "{}: {loud:#?}", title(&page));
        assert!(!reading.show.unwrap().cues.is_empty(), "{}", title(&page));
    }
}

#[test]
fn every_page_rehearses_clean_and_ends_where_it_was_planned_to() {
    for page in pages() {
        let show = Arc::new(read(&page));
        let plan = Arc::new(prove(&show).plan);
        let options = Options { gaps: false, ..Options::default() };
        let rehearsal = rehearse(&show, &plan, &options, &mut |_| ControlFlow::Continue(()));
        let outcomes = rehearsal.cues.iter().map(|record| record.outcome.word()).collect::<Vec<_>>();
        assert!(rehearsal.is_clean(), "{}: {outcomes:?}", title(&page));
        for record in &rehearsal.cues {
            let late = record.taken().unwrap() - record.planned;
            assert!((-1e-9..GRACE).contains(&late), "{}, cue {:?}: {late} s late", title(&page), record.cue);
        }
        let last = plan.cues.last().unwrap();
        for (axis, (track, planned)) in show.axes.iter().zip(rehearsal.tracks.iter().zip(&last.end)) {
            // An axis that no cue moved stands where it was measured when the show was armed.
            let off = (track.points.last().unwrap().position - planned).abs();
            assert!(off <= axis.tolerance, "{}: {} is off by {off}", title(&page), axis.name);
        }
    }
}

#[test]
fn a_straight_move_takes_its_axes_in_proportion_and_a_delay_parts_them() {
    let mut hall = Hall::open(read(&folder("cues/straight-move")));
    hall.arm();
    hall.fire("1");
    hall.run(2.0);
    let along = (hall.setpoint("otter.travel") - 0.2) / 2.0;
    assert!(along > 0.05 && along < 0.5, "{along}");
    // It began where the rig was measured, a fraction of a millimetre and of a degree from its start pose.
    assert!((hall.setpoint("otter.pan") - 25.0 * along).abs() < 0.02);
    hall.run_until("1", CueState::Done, 6.0);

    hall.fire("2");
    hall.run(2.4);
    assert!(hall.setpoint("otter.travel") > 2.3);
    assert_eq!(hall.setpoint("otter.pan"), 25.0, "its delay is not over");
}

#[test]
fn a_follow_waits_while_its_leader_is_held() {
    let mut hall = Hall::open(read(&folder("cues/follow")));
    hall.arm();
    hall.fire("1");
    hall.run(4.0);
    let cue = Some(hall.cue("1"));
    hall.ask(Verb::Hold { cue }).unwrap();
    hall.run(6.0);
    assert_eq!(hall.state("2"), CueState::Waiting, "it waits on cue 1's own time, which is held");
    hall.ask(Verb::Resume { cue }).unwrap();
    hall.run_until("2", CueState::Running, 3.0);
}

#[test]
fn the_interlock_refuses_with_its_reason_and_gives_way_once_the_cellar_speaks() {
    let mut hall = Hall::open(read(&folder("cues/interlock")));
    hall.arm();
    hall.fire("1");
    hall.run_until("1", CueState::Done, 10.0);
    hall.run(1.0);

    let reasons = hall.standby("2");
    assert!(matches!(*reasons, [Reason::Interlock { .. }]), "{reasons:?}");
    let refusal = hall.go("2").expect_err("nobody has spoken for the lift");
    let nobody = |_: ClientId| String::new();
    let words = Words::new(&hall.show, &nobody).seeing(&hall.status);
    assert_eq!(
        words.refusal(&refusal),
        ["interlock 'hatch open above the lift': input 'lift clear of people' is unknown (never heard)"]
    );
    assert!(!hall.setpoints_move());

    hall.let_sensors_speak();
    hall.run(0.2);
    hall.fire("2");
    hall.run_until("2", CueState::Done, 15.0 + GRACE);
    assert_eq!(hall.setpoint("riser.height"), 0.0);
}

#[test]
fn the_interlock_stops_the_lift_when_the_cellar_falls_silent() {
    let mut hall = Hall::open(read(&folder("cues/interlock")));
    hall.let_sensors_speak();
    hall.arm();
    hall.fire("1");
    hall.run_until("1", CueState::Done, 10.0);
    hall.fire("2");
    hall.run(5.0);
    hall.sensors.clear();
    // The input is believed for its 1 s, then the lift brakes.
    hall.run(1.0 + hall.plan.cue(hall.cue("2")).stop_time + GRACE);
    assert!(hall.status.stopped.is_some());
    assert_eq!(hall.state("2"), CueState::Stopped);
    hall.run_to_standstill();
    hall.let_sensors_speak();
    hall.run(1.0);
    assert!(!hall.setpoints_move(), "the word's return resumes nothing");
}

#[test]
fn every_readme_names_commands_that_work() {
    for page in pages() {
        let readme = std::fs::read_to_string(page.join("README.md")).unwrap();
        let commands: Vec<&str> =
            readme.lines().filter_map(|line| line.strip_prefix("cargo run --release -- ")).collect();
        let opens = format!("run cues/{}", title(&page));
        assert!(commands.iter().any(|command| command.starts_with(&opens)), "{}: {commands:?}", title(&page));
        for command in commands {
            assert!(works(command), "{}: {command}", title(&page));
        }
    }
}

/// Whether the program takes the command: one for a running daemon finds none, but is understood.
fn works(command: &str) -> bool {
    let words = parted(command);
    let program = || {
        let mut program = Command::new(env!("CARGO_BIN_EXE_bellwire"));
        program.current_dir(env!("CARGO_MANIFEST_DIR")).args(&words).stdout(Stdio::piped()).stderr(Stdio::null());
        program
    };
    match words[0].as_str() {
        "run" => becomes_ready(program().args(["--http", "127.0.0.1:0", "--osc", "127.0.0.1:0", "--no-journal"])),
        "check" | "plan" | "rehearse" | "take" => program().status().unwrap().success(),
        _ => program().args(["--to", "127.0.0.1:9"]).status().unwrap().code() == Some(3),
    }
}

fn becomes_ready(program: &mut Command) -> bool {
    let mut daemon = program.args(["--stop-port", "127.0.0.1:0"]).spawn().unwrap();
    let said = BufReader::new(daemon.stdout.take().unwrap()).lines();
    let ready = said.map_while(Result::ok).any(|line| line == "ready");
    daemon.kill().unwrap();
    daemon.wait().unwrap();
    ready
}

/// The words of a line, as a shell takes them apart; double quotes are all that the cue book uses.
fn parted(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (index, part) in line.split('"').enumerate() {
        match index % 2 {
            0 => words.extend(part.split_whitespace().map(str::to_owned)),
            _ => words.push(part.to_owned()),
        }
    }
    words
}
