//! Journals of the virtual hall, by the file format that the daemon writes: they replay to the bit, they show what is not
//! as it was, and no byte that is cut off or flipped brings the reader down.

use crate::hall;
use crate::hall::Hall;
use bellwire::engine::*;
use bellwire::journal::{
    Entry, Gap, Header, Lost, Recorder, ShowFiles, Told, Trouble, Turned, Verdict, What, read, replay,
};
use bellwire::rig::SimFault;
use bellwire::show::{self, InputId};
use proptest::prelude::*;

/// A short evening of the demo show: armed, a cue, a hold, a lost link, a reset.
fn evening() -> Vec<u8> {
    let folder = hall::folder("demo-show");
    let mut hall = Hall::open(hall::read(&folder));
    hall.record(&folder);
    hall.sensors = (0..hall.show.inputs.len()).map(|index| (InputId::new(index), true)).collect();
    hall.arm();
    hall.fire("1");
    hall.run(1.0);
    assert_eq!(hall.ask(Verb::Hold { cue: None }), Ok(Accepted::Done));
    hall.run(1.5);
    assert_eq!(hall.ask(Verb::Resume { cue: None }), Ok(Accepted::Done));
    hall.run(0.5);
    hall.faults.inject(SimFault::LinkLost(hall.rig("gull")));
    hall.run(1.5);
    hall.faults.heal();
    hall.run(0.5);
    hall.ask(Verb::Reset).expect("everything is well again");
    hall.journal()
}

fn verdict(bytes: &[u8]) -> Verdict {
    replay(bytes, |_| {}).expect("a journal")
}

/// Every tick of a journal.
fn ticks(bytes: &[u8]) -> Vec<Entry> {
    let mut entries = Vec::new();
    let all = read(bytes, |told| {
        if let Told::Tick(entry) = told {
            entries.push(entry.clone());
        }
    });
    assert_eq!(all, Ok(()));
    entries
}

/// The same journal again, but for what `change` does to its ticks; a tick that it refuses becomes a gap.
fn forged(bytes: &[u8], change: impl Fn(&mut Entry) -> bool) -> Vec<u8> {
    let (mut header, mut show): (Option<Header>, Option<ShowFiles>) = (None, None);
    let _ = read(bytes, |told| match told {
        Told::Begun(found) => header = Some(found.clone()),
        Told::Show(found) => show = Some(found.clone()),
        _ => {}
    });
    let mut recorder = Recorder::new(header.expect("a header"), show.expect("a show"));
    for mut entry in ticks(bytes) {
        let tick = entry.tick;
        if change(&mut entry) {
            let Entry { answers, events, digest, .. } = &entry;
            recorder.turn(&Turned { tick, input: entry.input(), waited: &[], answers, events, digest: *digest });
        } else {
            recorder.gap(Gap { first: tick, last: tick, why: "the disk is full".into() });
        }
    }
    recorder.end();
    recorder.take()
}

#[test]
fn an_evening_replays_to_the_bit_from_its_file_alone() {
    let bytes = evening();
    let found = verdict(&bytes);
    assert!(found.is_sound() && found.ended, "{found:?}");
    assert_eq!(found.replayed, ticks(&bytes).len() as u64);
    assert!(found.ticks > 2500);
    // What is written twice is the same.
    assert_eq!(verdict(&forged(&bytes, |_| true)), found);
}

#[test]
fn the_first_tick_that_differs_is_named() {
    let bytes = evening();
    let of = |tick: u64, change: fn(&mut Entry)| {
        let forged = forged(&bytes, |entry| {
            if entry.tick == tick {
                change(entry);
            }
            true
        });
        let found = verdict(&forged);
        assert!(!found.is_sound());
        found.difference.map(|difference| (difference.tick, difference.what))
    };
    // An output that was another.
    let (tick, what) = of(1234, |entry| entry.digest ^= 1).expect("a difference");
    assert!(tick == 1234 && matches!(what, What::Setpoints { .. }), "{tick} {what:?}");
    let told = ticks(&bytes).iter().find(|entry| !entry.events.is_empty()).expect("an event").tick;
    assert_eq!(of(told, |entry| entry.events.clear()), Some((told, What::Events)));
    let asked = ticks(&bytes).iter().find(|entry| !entry.answers.is_empty()).expect("an answer").tick;
    assert_eq!(of(asked, |entry| entry.answers[0].id.0 += 1), Some((asked, What::Answers)));
    // An input that was another: a stop that nobody asked for.
    let stopped = of(700, |entry| entry.stop.generations[0] += 1).expect("a difference");
    assert_eq!(stopped.0, 700);
}

#[test]
fn a_gap_is_told_and_nothing_after_it_is_taken_for_proved() {
    let bytes = forged(&evening(), |entry| entry.tick != 2000);
    let found = verdict(&bytes);
    assert!(!found.is_sound() && found.ended);
    assert_eq!(found.gaps, [Gap { first: 2000, last: 2000, why: "the disk is full".into() }]);
    assert_eq!(found.lost, Some((2000, Lost::Missing)));
    assert_eq!(found.replayed, 1999);
    assert_eq!(found.ticks, ticks(&bytes).len() as u64, "what follows the gap can still be read");
    assert!(found.ticks > 2400);
}

#[test]
fn cut_at_any_byte_it_is_read_up_to_there() {
    let bytes = evening();
    let whole = verdict(&bytes).ticks;
    let mut last = 0;
    // Every byte of the last records, and some of those before.
    let ends = (20..bytes.len()).filter(|end| end % 997 == 0 || end + 600 > bytes.len());
    for end in ends {
        let mut ticks = 0;
        let mut torn = 0;
        let read = read(&bytes[..end], |told| match told {
            Told::Tick(_) => ticks += 1,
            Told::Trouble(Trouble::Torn { .. }) => torn += 1,
            Told::Trouble(trouble) => panic!("{end}: {trouble:?}"),
            _ => {}
        });
        assert_eq!(read, Ok(()));
        assert!(ticks >= last && ticks <= whole && torn <= 1, "{end}");
        last = ticks;
    }
    let cut = verdict(&bytes[..bytes.len() - 3]);
    assert!(cut.is_sound() && !cut.ended, "a torn last record is survived: {cut:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_byte_that_is_not_as_it_was_is_found(at in 0..100_000_usize, flip in 1..=255_u8) {
        thread_local! {
            static BYTES: Vec<u8> = evening();
        }
        let mut bytes = BYTES.with(Clone::clone);
        let at = at % bytes.len();
        bytes[at] ^= flip;
        match replay(&bytes, |_| {}) {
            Err(_) => prop_assert!(at < 19, "only the first line makes it no journal"),
            Ok(found) => {
                let placed = |trouble: &Trouble| match *trouble {
                    Trouble::Torn { at: from } => from <= at,
                    Trouble::Damaged { at: from, until } => (from..until).contains(&at),
                    Trouble::Missing { .. } | Trouble::Strange { .. } => false,
                };
                prop_assert!(found.troubles.iter().any(placed), "{at}: {:?}", found.troubles);
                // A length in the very last record that was made longer looks like a crash.
                let torn = found.troubles.iter().any(|trouble| matches!(trouble, Trouble::Torn { .. }));
                prop_assert!(!found.is_sound() || torn);
            }
        }
    }
}

/// A minute at rest of the drill, its encoders noisy as written, or as still as a good one is; bytes a tick.
fn bytes_a_tick_at_rest(noisy: bool) -> f64 {
    let folder = tempfile::tempdir().unwrap();
    for file in show::read(&hall::folder("tests/drill")).sources.files {
        let path = folder.path().join(&file.path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        let text = if noisy { file.text } else { file.text.replace("noise = 0.0005", "noise = 0.0") };
        std::fs::write(path, text).unwrap();
    }
    let mut hall = Hall::open(hall::read(folder.path()));
    hall.record(folder.path());
    hall.run(1.0);
    let recorder = hall.recorder.as_mut().unwrap();
    recorder.flush();
    recorder.take();
    hall.run(60.0);
    hall.journal().len() as f64 / (60.0 / hall.show.settings.tick.seconds())
}

#[test]
fn what_does_not_change_costs_nothing() {
    let (still, noisy) = (bytes_a_tick_at_rest(false), bytes_a_tick_at_rest(true));
    println!("a tick at rest takes {still:.3} bytes, with noisy encoders {noisy:.1}");
    assert!(still < 0.25, "{still} bytes a tick, though nothing changes");
    assert!(noisy < 12.0, "{noisy} bytes a tick for the noise of a few encoders");
}
