//! Show folders from outside: what is wrong with them is told, all of it, where it stands; nothing crashes on them.

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::spoilt::{Copy, FILES};
use bellwire::proof::{Alone, Memory, prove_from};
use bellwire::report;
use bellwire::show::{self, Code, Reading, Severity};

/// Code, file, line and column of every finding.
fn told(reading: &Reading) -> Vec<(Code, String)> {
    let place = |place| {
        let (line, column) = reading.sources.line_column(place);
        format!("{}:{line}:{column}", reading.sources.path(place))
    };
    reading.findings.iter().map(|finding| (finding.code, finding.place.map(place).unwrap_or_default())).collect()
}

fn bellwire(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bellwire")).args(args).output().unwrap()
}

#[test]
fn the_demo_show_and_the_cue_book_are_clean() {
    let mut shows = vec![PathBuf::from("demo-show")];
    shows.extend(fs::read_dir("cues").unwrap().map(|entry| entry.unwrap().path()));
    assert!(shows.len() >= 4);
    for show in shows {
        let output = bellwire(&["check", "--deny", "warning", show.to_str().unwrap()]);
        let messages = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.success(), "{}: {messages}", show.display());
        assert!(messages.starts_with("clean"), "{}: {messages}", show.display());
    }
}

/// One mistake each: the file, what is replaced by what, and the code and place that must be told, alone.
#[rustfmt::skip]
const MISTAKES: &[(&str, &str, &str, Code, &str)] = &[
    ("show.toml", "margin = 0.30", "margin = ", Code::Syntax, "show.toml:4:10"),
    ("show.toml", "react = 0.15", "react = 0.15\nraect = 1", Code::UnknownKey, "show.toml:6:1"),
    ("show.toml", "react = 0.15\n", "", Code::BadValue, "show.toml:2:1"),
    ("show.toml", "react = 0.15", "react = 0.15\ntick = 0.05", Code::BadValue, "show.toml:6:8"),
    ("show.toml", "react = 0.15", "react = \"soon\"", Code::BadValue, "show.toml:5:9"),
    ("show.toml", "react = 0.15", "react = nan", Code::BadValue, "show.toml:5:9"),
    ("show.toml", "react = 0.15", "react = -0.15", Code::BadValue, "show.toml:5:9"),
    ("show.toml", "react = 0.15", "react = 5e-324", Code::BadValue, "show.toml:5:9"),
    ("show.toml", "react = 0.15", "react = 99999999999999999999", Code::BadValue, "show.toml:5:9"),
    ("show.toml", "keep = \"out\"", "keep = \"uot\"", Code::BadValue, "show.toml:9:8"),
    ("show.toml", "min = [-6.0, -4.0, -2.5]", "min = [-6.0, -1.0, -2.5]", Code::BadValue, "show.toml:10:7"),
    ("show.toml", "min = [-6.0, -4.0, -2.5]", "min = [-6.0, -4.0]", Code::BadValue, "show.toml:10:15"),
    ("show.toml", "\"proscenium pier\"", "\"orchestra pit\"", Code::DuplicateName, "show.toml:13:8"),
    ("show.toml", "[\"skiff\", \"tide\"]", "[\"skiff\", \"tied\"]", Code::UnknownName, "show.toml:23:18"),
    ("show.toml", "[\"skiff\", \"tide\"]", "[\"skiff\", \"skiff\"]", Code::BadValue, "show.toml:23:18"),
    ("show.toml", "\"emergency-stop chain healthy\"", "\"deck clear\"", Code::DuplicateName, "show.toml:37:8"),
    ("show.toml", "trips = true", "source = \"10.0.0.7:80\"", Code::BadValue, "show.toml:39:10"),
    ("show.toml", "guards = [\"tide.height\"]", "guards = []", Code::BadValue, "show.toml:43:10"),
    ("show.toml", "guards = [\"tide.height\"]", "guards = [\"tide\"]", Code::BadValue, "show.toml:44:13"),
    ("show.toml", "guards = [\"tide.height\"]", "guards = [\"tide.hight\"]", Code::UnknownName, "show.toml:43:11"),
    ("show.toml", "input = \"cellar gate closed\" }", "input = \"cellar gate\" }", Code::UnknownName, "show.toml:49:15"),
    ("show.toml", "below = -3.3", "beneath = -3.3", Code::UnknownKey, "show.toml:50:39"),
    ("show.toml", "above = 3.3 }", "within = [3.3, 1.0] }", Code::BadValue, "show.toml:50:89"),
    ("show.toml", "otherwise = \"stop\"", "otherwise = \"halt\"", Code::BadValue, "show.toml:45:13"),
    ("rigs/heron.toml", "facing = 90.0", "facing = 1e9", Code::BadValue, "rigs/heron.toml:4:10"),
    ("rigs/heron.toml", "facing = 90.0", "on = \"skiff.travle\"", Code::UnknownName, "rigs/heron.toml:4:6"),
    ("rigs/heron.toml", "facing = 90.0", "on = \"heron.swing\"", Code::BadValue, "rigs/heron.toml:4:6"),
    ("rigs/heron.toml", "facing = 90.0", "stop_category = 0", Code::BadValue, "rigs/heron.toml:4:17"),
    ("rigs/heron.toml", "lag = 0.03", "leg = 0.03", Code::UnknownKey, "rigs/heron.toml:5:20"),
    ("rigs/heron.toml", "radius = 0.2", "radius = 0.0", Code::BadValue, "rigs/heron.toml:6:80"),
    ("rigs/heron.toml", "{ capsule =", "{ cone =", Code::UnknownKey, "rigs/heron.toml:6:13"),
    ("rigs/heron.toml", "name = \"zoom\"", "name = \"tilt\"", Code::DuplicateName, "rigs/heron.toml:54:8"),
    ("rigs/heron.toml", "name = \"tilt\"", "name = \"ti.lt\"", Code::BadValue, "rigs/heron.toml:44:8"),
    ("rigs/heron.toml", "unit = \"deg\"", "unit = \"m\"", Code::BadValue, "rigs/heron.toml:16:9"),
    ("rigs/heron.toml", "travel = [-75.0, 10.0]", "travel = [10.0, -75.0]", Code::BadValue, "rigs/heron.toml:11:10"),
    ("rigs/heron.toml", "start = -50.0", "start = -80.0", Code::Travel, "rigs/heron.toml:12:9"),
    ("rigs/heron.toml", "speed = 9.0", "speed = 0.0", Code::BadValue, "rigs/heron.toml:13:9"),
    ("rigs/heron.toml", "speed = 9.0", "speed = 1e-5", Code::BadValue, "rigs/heron.toml:13:9"),
    ("rigs/heron.toml", "jerk = 9.0", "jerk = 9.0\nstop_jerk = 8.0", Code::BadValue, "rigs/heron.toml:16:13"),
    ("rigs/heron.toml", "jerk = 9.0", "jerk = 9.0\nshare = 1.5", Code::BadValue, "rigs/heron.toml:16:9"),
    ("rigs/heron.toml", "jerk = 9.0", "jerk = 9.0\ngravity = true", Code::BadValue, "rigs/heron.toml:8:1"),
    ("rigs/heron.toml", "turn = [0.0, -1.0, 0.0]", "turn = [0.0, 0.0, 0.0]", Code::BadValue, "rigs/heron.toml:26:18"),
    ("rigs/heron.toml", "turn = \"z\"", "spin = \"z\"", Code::UnknownKey, "rigs/heron.toml:16:11"),
    ("rigs/heron.toml", "boom = 28.0", "boom = 48.0", Code::Travel, "rigs/heron.toml:82:38"),
    ("rigs/heron.toml", "boom = 28.0", "bom = 28.0", Code::UnknownName, "rigs/heron.toml:82:31"),
    ("cues/act1.toml", "number = \"1\"", "number = 1", Code::BadValue, "cues/act1.toml:4:10"),
    ("cues/act1.toml", "number = \"3\"", "number = \"03\"", Code::BadValue, "cues/act1.toml:29:10"),
    ("cues/act1.toml", "number = \"3\"", "number = \"4\"", Code::DuplicateName, "cues/act1.toml:42:10"),
    ("cues/act1.toml", "rig = \"heron\"", "rig = \"hern\"", Code::UnknownName, "cues/act1.toml:11:7"),
    ("cues/act1.toml", "to = \"house-high\"", "to = \"house-hihg\"", Code::UnknownName, "cues/act1.toml:12:6"),
    ("cues/act1.toml", "to = \"house-high\"", "to = {}", Code::BadValue, "cues/act1.toml:12:6"),
    ("cues/act1.toml", "to = \"house-high\"", "to = { swing = 11 }", Code::Travel, "cues/act1.toml:12:16"),
    ("cues/act1.toml", "to = \"house-high\"", "to = \"wings\"\nvia = [\"wing\"]", Code::UnknownName, "cues/act1.toml:13:8"),
    ("cues/act1.toml", "to = \"house-high\"", "to = { swing = 3 }\nvia = [\"wings\"]", Code::BadValue, "cues/act1.toml:13:8"),
    ("cues/act1.toml", "to = \"house-high\"", "to = \"wings\"\nenter = 2.0", Code::BadValue, "cues/act1.toml:13:9"),
    ("cues/act1.toml", "to = \"house-high\"\ntime = 8.0", "take = \"crossing\"", Code::UnknownName, "takes/crossing.csv:2:6"),
    ("cues/act2.toml", "take = \"crossing\"", "take = \"crosing\"", Code::UnknownName, "cues/act2.toml:15:8"),
    ("cues/act2.toml", "take = \"crossing\"", "take = \"crossing\"\ntime = 24.0", Code::BadValue, "cues/act2.toml:16:8"),
    ("cues/act2.toml", "take = \"crossing\"", "take = \"crossing\"\nby = true", Code::BadValue, "cues/act2.toml:14:7"),
    ("cues/act2.toml", "take = \"crossing\"", "take = \"crossing\"\nstretch = 0.01", Code::BadValue, "cues/act2.toml:16:11"),
    ("cues/act2.toml", "take = \"crossing\"", "take = \"crossing\"\nenter = 23.8", Code::BadValue, "cues/act2.toml:16:9"),
    ("cues/act2.toml", "take = \"crossing\"", "take = \"crossing\"\nto = \"dock\"", Code::BadValue, "cues/act2.toml:13:1"),
    ("takes/crossing.csv", "time,travel,pan", "time,travel,pna", Code::UnknownName, "takes/crossing.csv:2:13"),
    ("takes/crossing.csv", "time,travel,pan", "time,heron.tilt,heron.pan", Code::BadValue, "cues/act2.toml:15:8"),
    ("takes/crossing.csv", "0.019,2.4002", "0.019,NaN", Code::BadValue, "takes/crossing.csv:4:7"),
    ("cues/act1.toml", "to = \"house-high\"\n", "", Code::BadValue, "cues/act1.toml:10:1"),
    ("cues/act1.toml", "time = 8.0", "time = -8.0", Code::BadValue, "cues/act1.toml:13:8"),
    ("cues/act1.toml", "time = 8.0", "time = 8.0\nby = true", Code::BadValue, "cues/act1.toml:12:6"),
    ("cues/act1.toml", "cue = \"1\", from", "cue = \"0\", from", Code::Follow, "cues/act1.toml:21:17"),
    ("cues/act1.toml", "from = \"end\"", "from = \"edn\"", Code::BadValue, "cues/act1.toml:21:29"),
    ("cues/act1.toml", "{ cue = \"8\", state", "{ cue = \"88\", state", Code::UnknownName, "cues/act1.toml:116:17"),
    ("cues/act1.toml", "state = \"done\"", "state = \"over\"", Code::BadValue, "cues/act1.toml:101:30"),
    ("cues/act1.toml", "watch =", "watches =", Code::UnknownKey, "cues/act1.toml:8:1"),
];

#[test]
fn each_mistake_is_told_alone_and_where_it_stands() {
    let mut wrong = String::new();
    for (file, from, to, code, place) in MISTAKES {
        let reading = Copy::new().edit(file, from, to).read();
        let told = told(&reading);
        if reading.show.is_some() || told != [(*code, (*place).to_owned())] {
            let messages: Vec<&str> = reading.findings.iter().map(|finding| finding.message.as_str()).collect();
            wrong += &format!("{to:?} in {file}: expected {code:?} at {place}, told {told:?} {messages:?}\n");
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn all_mistakes_of_a_show_are_told_in_one_run() {
    let reading = Copy::new()
        .edit("show.toml", "margin = 0.04", "margin = ")
        .edit("show.toml", "input = \"cellar gate closed\" }", "input = \"cellar gate\" }")
        .edit("rigs/heron.toml", "speed = 7.0", "sped = 7.0")
        .edit("rigs/tide.toml", "stop_category = 1\n", "")
        .edit("rigs/tide.toml", "start = 0.0", "start = 0.1")
        .edit("cues/act1.toml", "to = \"harbour\"", "to = \"harbor\"")
        .edit("cues/act1.toml", "number = \"7\"", "number = 7")
        .read();
    let place = |place: &str| place.to_owned();
    // show.toml could not be read whole: the input may stand in the torn part, so that nothing is said of it.
    let expected = [
        (Code::UnknownName, place("cues/act1.toml:38:6")),
        (Code::BadValue, place("cues/act1.toml:81:10")),
        (Code::UnknownKey, place("rigs/heron.toml:23:1")),
        (Code::BadValue, place("rigs/tide.toml:6:1")),
        (Code::Travel, place("rigs/tide.toml:10:9")),
        (Code::Syntax, place("show.toml:24:10")),
    ];
    assert_eq!(told(&reading), expected);
}

#[test]
fn a_finding_is_shown_with_its_line_what_was_expected_and_what_to_do() {
    let reading = Copy::new().edit("rigs/heron.toml", "speed = 9.0", "sped = 9.0").read();
    let text = report::render_findings(&reading.findings, &reading.sources, false);
    let expected = "\
error[unknown-key]: unknown key `sped` in an axis
  --> rigs/heron.toml:13:1
   |
13 | sped = 9.0
   | ^^^^
   |
   = help: the nearest known key is `speed`; known here: name, unit, travel, surveyed, winding, start, speed, acceleration, jerk, \
stop_acceleration, stop_jerk, share, glide, tolerance, lag_limit, gravity, joint, bodies

";
    assert_eq!(text, expected);

    let reading = Copy::new().edit("cues/act1.toml", "number = \"3\"", "number = \"4\"").read();
    let text = report::render_findings(&reading.findings, &reading.sources, false);
    let expected = "\
error[duplicate-name]: there are two cues `4`: expected one
  --> cues/act1.toml:42:10
   |
29 | number = \"4\"
   |          --- the first is here
...
42 | number = \"4\"
   |          ^^^
   |
   = help: keep one; give the other another name or number, or remove it

";
    assert_eq!(text, expected);
    let coloured = report::render_findings(&reading.findings, &reading.sources, true);
    assert!(coloured.contains('\u{1b}') && !text.contains('\u{1b}'));
}

#[test]
fn a_folder_that_is_none_and_files_that_cannot_be_read_are_told() {
    let reading = show::read(Path::new("nowhere"));
    assert_eq!(told(&reading), [(Code::Syntax, String::new())]);

    let copy = Copy::new();
    fs::remove_file(copy.path("show.toml")).unwrap();
    fs::write(copy.path("rigs/zeta.toml"), b"kind = \"caf\xe9\"").unwrap();
    fs::write(copy.path("rigs/notes.txt"), "bolts").unwrap();
    fs::write(copy.path("cues/huge.toml"), vec![b'#'; (1 << 20) + 1]).unwrap();
    fs::create_dir(copy.path("cues/folder.toml")).unwrap();
    let reading = copy.read();
    let place = |place: &str| (Code::Syntax, place.to_owned());
    let expected = [
        place(""),
        place("cues/folder.toml:1:1"),
        place("cues/huge.toml:1:1"),
        place("rigs/zeta.toml:1:12"),
        place("show.toml:1:1"),
    ];
    assert_eq!(told(&reading), expected);
    assert_eq!(reading.findings[0].severity, Severity::Note);
    assert_eq!(
        reading.findings[0].message,
        "rigs/notes.txt is ignored: only files that end in .toml are read here"
    );
}

#[test]
fn a_condition_within_conditions_without_end_is_told() {
    let deep = |depth: usize| {
        let condition = format!("{}{{ input = \"deck clear\" }}{}", "{ not = ".repeat(depth), " }".repeat(depth));
        Copy::new().edit("cues/act1.toml", "{ cue = \"8\", state = \"done\" }", &condition).read()
    };
    assert!(deep(16).show.is_some());
    assert_eq!(told(&deep(17))[0].0, Code::BadValue);
    // Deeper than the TOML reader itself goes.
    assert_eq!(told(&deep(5_000))[0].0, Code::Syntax);
}

#[test]
fn the_same_files_have_the_same_hash_and_others_another() {
    let (copy, other) = (Copy::new(), Copy::new().edit("show.toml", "No one", "Nobody"));
    assert_eq!(copy.read().hash, show::read(Path::new("demo-show")).hash);
    assert_ne!(copy.read().hash, other.read().hash);
    fs::rename(copy.path("cues/act1.toml"), copy.path("cues/quay.toml")).unwrap();
    assert_ne!(copy.read().hash, show::read(Path::new("demo-show")).hash);
}

#[test]
fn json_is_one_document_whatever_the_files_hold() {
    let copy = Copy::new().edit("rigs/heron.toml", "[[axis]]", "[[axis]");
    for folder in [copy.0.to_str().unwrap(), "nowhere", "demo-show"] {
        let output = bellwire(&["check", "--json", folder]);
        assert_eq!(output.status.code(), Some(i32::from(folder != "demo-show")));
        let document: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let keys: Vec<&String> = document.as_object().unwrap().keys().collect();
        assert_eq!(keys, ["show", "hash", "rigs", "axes", "cues", "findings", "not_seen"]);
        assert!(output.stderr.is_empty());
    }
}

#[test]
fn a_plan_is_a_table_that_ends_where_the_cue_ends() {
    let output = bellwire(&["plan", "demo-show", "1", "--csv", "--every", "0.5"]);
    assert!(output.status.success());
    let table = String::from_utf8(output.stdout).unwrap();
    let rows: Vec<&str> = table.lines().collect();
    let columns = "time,heron.swing position,heron.swing speed,heron.swing acceleration,\
                   heron.boom position,heron.boom speed,heron.boom acceleration";
    assert_eq!(rows[0], columns);
    assert_eq!(rows[1], "0,-50,0,0,0,0,0");
    assert_eq!(rows.len(), 18);
    assert_eq!(rows[17], "8,-20,0,0,28,0,0");
    // Half the time, half the way: the profile is symmetric.
    let middle: Vec<f64> = rows[9].split(',').map(|cell| cell.parse().unwrap()).collect();
    assert_eq!((middle[0], middle[1], middle[4]), (4.0, -35.0, 14.0));

    let unknown = bellwire(&["plan", "demo-show", "1.5"]);
    assert_eq!(unknown.status.code(), Some(1));
    assert_eq!(bellwire(&["plan", "demo-show", "one"]).status.code(), Some(2));
}

/// SplitMix64 (Steele, Lea and Flood 2014): small, and the same everywhere.
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % limit as u64) as usize
    }
}

/// Writes a damaged file, then reads it and reports: findings or a show, and never a panic. What still is a show is
/// proved too if there is a memory of what was proved for the damages before it; that takes far longer than reading it.
fn survive(copy: &Copy, file: &str, bytes: &[u8], memory: Option<&Memory>, what: &str) {
    fs::write(copy.path(file), bytes).unwrap();
    let outcome = catch_unwind(AssertUnwindSafe(|| {
        let reading = copy.read();
        let proof = reading.show.as_ref().zip(memory).map(|(show, memory)| prove_from(show, &Alone, memory));
        let errors = reading.findings.iter().any(|finding| finding.severity == Severity::Error);
        assert_eq!(errors, reading.show.is_none());
        assert!(
            reading.findings.iter().all(|finding| finding.severity != Severity::Error || finding.place.is_some())
        );
        report::render_findings(&reading.findings, &reading.sources, false);
        report::check_json(&reading, proof.as_ref(), &reading.findings)
    }));
    assert!(outcome.is_ok(), "{file} with {what}");
}

/// Every byte of every file: one bit of it flipped, and the file cut before it. Each core takes the next file.
#[test]
fn no_flipped_and_no_cut_byte_crashes_the_check() {
    let next = std::sync::atomic::AtomicUsize::new(0);
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                while let Some(file) = FILES.get(next.fetch_add(1, std::sync::atomic::Ordering::Relaxed)) {
                    flip_and_cut(file);
                }
            });
        }
    });
}

fn flip_and_cut(file: &str) {
    let seed = 20_261_125;
    let mut random = Random(seed);
    let copy = Copy::new().with_short_take();
    let memory = Memory::default();
    let whole = fs::read(copy.path(file)).unwrap();
    for position in 0..whole.len() {
        let bit = random.below(8);
        let mut bytes = whole.clone();
        bytes[position] ^= 1 << bit;
        let what = format!("bit {bit} of byte {position} flipped, seed {seed}");
        survive(&copy, file, &bytes, (position % 8 == 0).then_some(&memory), &what);
        survive(&copy, file, &whole[..position], Some(&memory), &format!("cut before byte {position}"));
    }
}

/// Stretches swapped, doubled and dropped, as after a bad merge or a bad disk.
#[test]
fn no_shuffled_file_crashes_the_check() {
    let seed = 7_119;
    let mut random = Random(seed);
    let copy = Copy::new().with_short_take();
    let memory = Memory::default();
    for case in 0..2_000 {
        let file = FILES[random.below(FILES.len())];
        let whole = fs::read(copy.path(file)).unwrap();
        let mut cuts = [(); 4].map(|()| random.below(whole.len()));
        cuts.sort_unstable();
        let [a, b, c, d] = cuts;
        let parts = [&whole[..a], &whole[a..b], &whole[b..c], &whole[c..d], &whole[d..]];
        let order: [usize; 5] = match random.below(3) {
            0 => [0, 3, 2, 1, 4],
            1 => [0, 1, 1, 3, 4],
            _ => [0, 2, 4, 4, 4],
        };
        let bytes = order.map(|part| parts[part]).concat();
        survive(&copy, file, &bytes, Some(&memory), &format!("case {case} of seed {seed}"));
        fs::write(copy.path(file), whole).unwrap();
    }
}
