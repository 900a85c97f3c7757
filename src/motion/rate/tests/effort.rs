//! What a search takes, counted from outside: how often it asks a path anything. So nothing that it does uncounted goes unseen.

use std::cell::Cell;

use super::*;
use crate::motion::rate::Search;

/// Questions to a path that one look may ask.
const A_LOOK: u32 = 4;
/// Those that are asked of each course before the first look and between two tries.
const A_COURSE: u32 = 120;

/// A path that knows how often it was asked.
#[derive(Clone)]
struct Asked<'a> {
    path: Profile,
    times: &'a Cell<u32>,
}

impl Asked<'_> {
    fn path(&self) -> &Profile {
        self.times.set(self.times.get() + 1);
        &self.path
    }
}

impl Path for Asked<'_> {
    fn duration(&self) -> f64 {
        Path::duration(&self.path)
    }

    fn at(&self, time: f64) -> Sample {
        Path::at(self.path(), time)
    }

    fn change_after(&self, time: f64) -> f64 {
        self.path().change_after(time)
    }

    fn change_before(&self, time: f64) -> f64 {
        self.path().change_before(time)
    }
}

fn asked<'a>(courses: &[Course], times: &'a Cell<u32>) -> Vec<Course<Asked<'a>>> {
    times.set(0);
    let asked = |course: &Course| {
        let Course { path, time, run, stop } = *course;
        Course { path: Asked { path, times }, time, run, stop }
    };
    courses.iter().map(asked).collect()
}

const CHANGES: [(f64, f64, Regime); 3] =
    [(1.0, 0.0, Regime::Stopping), (0.0, -0.5, Regime::Running), (0.0, 1.0, Regime::Running)];

/// Moves of any kind, few and many.
fn cases() -> impl Iterator<Item = Vec<Course>> {
    [(1, 60), (2, 60), (3, 60), (6, 20), (16, 12), (64, 6)]
        .into_iter()
        .flat_map(|(count, seeds)| (0..seeds).map(move |seed| moves(seed, count)))
}

#[test]
fn what_must_be_known_at_once_takes_no_more_looks_than_a_tick_has_for_all() {
    let (times, mut most) = (Cell::new(0), 0);
    for courses in cases() {
        for (from, to, regime) in CHANGES {
            for among in [1, 4, 16] {
                let counted = asked(&courses, &times);
                let search = Search::hurried(among, &counted, from, 0.0, to, regime);
                let allowed = search.left();
                assert!(allowed * among as u32 <= 8_000, "{allowed} for each of {among}");
                let found = search.finish(&counted);
                assert!(times.get() <= A_LOOK * allowed + A_COURSE * courses.len() as u32, "{} asked", times.get());
                most = most.max(times.get());
                // It is a change like any other.
                let change = change_at_once(&courses, from, 0.0, to, regime, among);
                assert_eq!(found, change);
                assert!(change.is_none_or(|change| keeps_limits(&courses, &change, regime)));
                assert!(change.is_some() || to != 0.0, "no stop");
            }
        }
    }
    assert!(most > 10_000, "nothing here is hard: {most}");
}

#[test]
fn a_search_goes_on_where_it_stopped_and_takes_few_looks_at_a_time() {
    let times = Cell::new(0);
    let (mut longest, mut steps) = (0, 0);
    for courses in cases() {
        for (from, to, regime) in CHANGES {
            let counted = asked(&courses, &times);
            let mut search = Search::new(&counted, from, 0.0, to, regime);
            let whole = search.left();
            assert!(whole <= if from == 0.0 { 72_000 } else { 40_000 });
            loop {
                times.set(0);
                let before = search.left();
                let over = search.go_on(&counted, 1_000);
                let looks = before - search.left();
                assert!(looks < 1_000 + 8_000, "{looks} looks at a time");
                assert!(times.get() <= A_LOOK * looks + A_COURSE * courses.len() as u32, "{} asked", times.get());
                (longest, steps) = (longest.max(looks), steps + 1);
                if over {
                    break;
                }
            }
            assert_eq!(
                search.found().copied(),
                change_rate(&courses, from, 0.0, to, regime),
                "to its end in one go"
            );
        }
    }
    assert!(longest > 4_000 && steps > 1_000, "nothing here is hard: {longest}, {steps}");
}

/// Of many courses only those are heeded that are ever at a limit; so many cost little more than few, and their stops are as short.
#[test]
fn many_courses_are_stopped_as_soon_as_the_slowest_of_them_alone() {
    let mut close = 0;
    for seed in 0..30 {
        let courses = moves(seed, 24);
        let least = least_time(&courses, Sample { speed: 1.0, ..Sample::default() }, 0.0, Regime::Stopping);
        let change = change_rate(&courses, 1.0, 0.0, 0.0, Regime::Stopping).unwrap();
        assert!(keeps_limits(&courses, &change, Regime::Stopping));
        close += usize::from(change.duration() <= 1.1 * least + 0.02);
    }
    assert!(close >= 20, "{close} of 30");
}
