//! What journals tell of a rehearsal: which cues ran to their end, on what, how fast and in one go or not.

use crate::hall;
use crate::hall::Hall;
use crate::hall::carts::{EAST, WEST, cue, east, west};
use crate::hall::real::Real;
use bellwire::engine::*;
use bellwire::journal::{Gap, Header, Ran, Recorder, Runs, ShowFiles, Told, Turned, read, runs};
use bellwire::proof::{Fingerprint, timelines};
use bellwire::show::CueState;

/// A recorded evening of two carts, of which `real` are not simulated; what is simulated is not in the room.
fn evening(real: &[&str], play: impl FnOnce(&mut Hall)) -> (Hall, Vec<u8>) {
    evening_with(WEST, real, play)
}

fn evening_with(west_cart: &str, real: &[&str], play: impl FnOnce(&mut Hall)) -> (Hall, Vec<u8>) {
    let folder = tempfile::tempdir().unwrap();
    let both = "move = [{ rig = \"east\", to = { travel = 0.0 }, time = 3.0 }, { rig = \"west\", to = { travel = 0.0 }, time = 3.0 }]";
    let cues = [cue("1", &east(1.0, 3.0)), cue("2", &west(1.0, 3.0)), cue("3", both)].concat();
    let absent = |file: &str| file.replacen("[[axis]]", "absent = true\n[[axis]]", 1);
    let files = [
        ("show.toml", "[show]\nname = \"Carts\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n".to_owned()),
        ("cues/all.toml", cues),
        ("rigs/east.toml", absent(EAST)),
        ("rigs/west.toml", absent(west_cart)),
    ];
    for (path, text) in files {
        let path = folder.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    let show = hall::read(folder.path());
    let is_real: Vec<bool> = show.rigs.iter().map(|rig| real.contains(&rig.name.as_str())).collect();
    let mut hall = Hall::driven_by(show, |rig, driver| match is_real[rig.index()] {
        true => Box::new(Real(driver)),
        false => driver,
    });
    hall.record(folder.path());
    hall.arm();
    play(&mut hall);
    let bytes = hall.journal();
    (hall, bytes)
}

fn told(bytes: &[u8]) -> Runs {
    runs(bytes).expect("a journal")
}

fn ran(real: &[&str], play: impl FnOnce(&mut Hall)) -> Vec<Ran> {
    ran_with(WEST, real, play)
}

fn ran_with(west_cart: &str, real: &[&str], play: impl FnOnce(&mut Hall)) -> Vec<Ran> {
    let found = told(&evening_with(west_cart, real, play).1);
    assert!(!found.broken && !found.unread_show && found.shows == ["Carts"]);
    found.ran
}

fn to_its_end(hall: &mut Hall, number: &str) {
    hall.fire(number);
    hall.run_until(number, CueState::Done, 8.0);
}

fn master(hall: &mut Hall, value: f64) {
    hall.ask(Verb::Master { value }).expect("a master");
}

#[test]
fn a_cue_on_real_rigs_at_full_speed_in_one_go_is_rehearsed_whole() {
    let (hall, bytes) =
        evening(&["east", "west"], |hall| ["1", "2", "3"].iter().for_each(|cue| to_its_end(hall, cue)));
    let found = told(&bytes).ran;
    assert_eq!(found.iter().map(|ran| ran.number.as_str()).collect::<Vec<_>>(), ["1", "2", "3"]);
    assert!(found.iter().all(Ran::is_whole), "{found:?}");
    let plans = timelines(&hall.show);
    for (id, ran) in hall.show.cue_ids().zip(&found) {
        assert_eq!(ran.fingerprint, Fingerprint::of(&hall.show, id, &plans[id.index()]));
    }
    assert!(found[0].at < found[1].at && found[0].at.seconds() > 0.3);
}

#[test]
fn simulated_rigs_are_told_by_their_names() {
    let found = ran(&["east"], |hall| to_its_end(hall, "1"));
    assert!(found[0].is_whole(), "the rig that stands by is no part of it: {found:?}");
    let found = ran(&[], |hall| ["1", "2", "3"].iter().for_each(|cue| to_its_end(hall, cue)));
    let simulated: Vec<_> = found.iter().map(|ran| (ran.simulated.join(" "), ran.rigs)).collect();
    assert_eq!(simulated, [("east".into(), 1), ("west".into(), 1), ("east west".into(), 2)]);
    assert!(!found.iter().any(Ran::is_whole));
}

#[test]
fn the_least_speed_counts() {
    let found = ran(&["east", "west"], |hall| {
        master(hall, 0.5);
        hall.fire("1");
        hall.run(1.0);
        master(hall, 1.0);
        hall.run_until("1", CueState::Done, 8.0);
        hall.fire("2");
        hall.run(1.0);
        master(hall, 0.25);
        hall.run(0.2);
        master(hall, 1.0);
        hall.run_until("2", CueState::Done, 8.0);
        to_its_end(hall, "3");
    });
    assert_eq!(found.iter().map(|ran| ran.pace).collect::<Vec<_>>(), [0.5, 0.25, 1.0]);
}

#[test]
fn a_cue_that_starts_while_the_rate_still_rises_was_slower() {
    // Behind the other on its rail, which it could run into: so it shares the rate of the one that runs.
    let behind = WEST.replace("at = [0.0, 4.0, 0.0]", "at = [-1.2, 0.0, 0.0]");
    let found = ran_with(&behind, &["east", "west"], |hall| {
        master(hall, 0.1);
        hall.fire("1");
        // In the midst of the way, at its highest speed.
        hall.run(15.0);
        // That takes its time to rise.
        master(hall, 1.0);
        let cue = hall.cue("2");
        hall.ask(Verb::Standby { cues: [cue].into_iter().collect(), skip: false }).expect("a standby");
        hall.go("2").expect("a GO");
        hall.run_until("2", CueState::Done, 8.0);
    });
    let second = found.iter().find(|ran| ran.number == "2").expect("it ran");
    assert!(second.pace > 0.3 && second.pace < 0.98, "{second:?}");
}

#[test]
fn a_hold_or_a_stop_on_the_way_is_told() {
    let found = ran(&["east", "west"], |hall| {
        hall.fire("1");
        hall.run(1.0);
        hall.ask(Verb::Hold { cue: None }).expect("a hold");
        hall.run(1.0);
        hall.ask(Verb::Resume { cue: None }).expect("a resume");
        hall.run_until("1", CueState::Done, 8.0);
        hall.fire("2");
        hall.run(1.0);
        hall.press_stop();
        hall.run(2.0);
        hall.ask(Verb::Reset).expect("a reset");
        assert_eq!(hall.state("2"), CueState::Stopped);
        to_its_end(hall, "2");
        to_its_end(hall, "3");
    });
    let interrupted: Vec<_> = found.iter().map(|ran| (ran.number.as_str(), ran.interrupted, ran.pace)).collect();
    assert_eq!(interrupted, [("1", true, 1.0), ("2", true, 1.0), ("3", false, 1.0)]);
}

#[test]
fn what_did_not_come_to_its_end_is_not_counted() {
    assert_eq!(ran(&[], |hall| hall.fire("1")), []);
    let placed = ran(&[], |hall| {
        let cue = hall.cue("3");
        hall.ask(Verb::Place { cue }).expect("a place");
        hall.run(0.5);
    });
    assert_eq!(placed, [], "set as if it had run");
    let stopped = ran(&[], |hall| {
        hall.fire("1");
        hall.run(1.0);
        hall.press_stop();
        hall.run(2.0);
    });
    assert_eq!(stopped, []);
}

/// The same journal without one tick.
fn with_a_gap(bytes: &[u8], at: u64) -> Vec<u8> {
    let (mut header, mut show, mut ticks): (Option<Header>, Option<ShowFiles>, Vec<_>) = (None, None, Vec::new());
    read(bytes, |told| match told {
        Told::Begun(found) => header = Some(found.clone()),
        Told::Show(found) => show = Some(found.clone()),
        Told::Tick(entry) => ticks.push(entry.clone()),
        _ => {}
    })
    .expect("a journal");
    let mut recorder = Recorder::new(header.unwrap(), show.unwrap());
    for entry in ticks {
        let (tick, digest) = (entry.tick, entry.digest);
        if tick == at {
            recorder.gap(Gap { first: tick, last: tick, why: "the disk is full".into() });
        } else {
            let (answers, events) = (&entry.answers, &entry.events);
            recorder.turn(&Turned { tick, input: entry.input(), waited: &[], answers, events, digest });
        }
    }
    recorder.end();
    recorder.take()
}

#[test]
fn a_cue_during_which_ticks_are_missing_is_not_counted() {
    let mut middle = 0;
    let (_, bytes) = evening(&[], |hall| {
        hall.fire("1");
        hall.run(1.0);
        middle = hall.status.tick;
        hall.run_until("1", CueState::Done, 8.0);
        to_its_end(hall, "2");
    });
    assert_eq!(told(&bytes).ran.len(), 2);
    let found = told(&with_a_gap(&bytes, middle));
    assert!(found.broken);
    assert_eq!(found.ran.iter().map(|ran| ran.number.as_str()).collect::<Vec<_>>(), ["2"]);
}

#[test]
fn no_bytes_bring_the_reader_down() {
    let (_, bytes) = evening(&[], |hall| to_its_end(hall, "1"));
    assert!(runs(b"a diary\n").is_err() && runs(b"").is_err());
    let whole = told(&bytes);
    for end in (0..bytes.len()).step_by(101) {
        if let Ok(cut) = runs(&bytes[..end]) {
            assert!(cut.ran.len() <= whole.ran.len() && !cut.broken, "cut at {end}: a crash is no damage");
        }
    }
}
