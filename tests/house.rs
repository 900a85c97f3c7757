//! The shape of the house: who may import whom, what stays pure, how large a room may grow.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// From the top down: a folder imports only from those above it.
const FOLDERS: [&str; 12] = [
    "show",
    "motion",
    "stage",
    "proof",
    "engine",
    "rig",
    "wire",
    "journal",
    "rehearsal",
    "report",
    "daemon",
    "cli",
];

const FILE_LINES: usize = 450;
const FUNCTION_LINES: usize = 70;

/// Larger files, each with its reason.
const LARGE_FILES: [(&str, &str); 0] = [];

/// Longer functions, each with its reason.
const LONG_FUNCTIONS: [(&str, &str); 1] = [("src/wire/words/reason.rs", "one arm a reason, each a sentence")];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files(folder: &Path, extension: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let path = entry.path();
        if path.is_dir() {
            found.extend(files(&path, extension));
        } else if path.extension().is_some_and(|ext| ext == extension) {
            found.push(path);
        }
    }
    found.sort();
    found
}

fn name(path: &Path) -> String {
    path.strip_prefix(root()).unwrap().to_string_lossy().replace('\\', "/")
}

/// What runs in the product: comments and test modules left out.
fn code(path: &Path) -> String {
    let text = std::fs::read_to_string(path).unwrap();
    let product = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
    let lines = product.lines().filter(|line| !line.trim_start().starts_with("//"));
    lines.collect::<Vec<_>>().join("\n")
}

fn is_test(path: &Path) -> bool {
    let name = name(path);
    name.ends_with("/tests.rs")
        || name.contains("/tests/")
        || name.ends_with("/fixture.rs")
        || name.ends_with("/random.rs")
}

fn sources(folder: &str) -> Vec<PathBuf> {
    files(&root().join("src").join(folder), "rs").into_iter().filter(|path| !is_test(path)).collect()
}

/// The rooms that a text names as `crate::room`, also within `crate::{...}`.
fn imports(text: &str) -> Vec<&str> {
    let single =
        text.split("crate::").skip(1).map(|rest| rest.split(|c: char| !c.is_ascii_lowercase()).next().unwrap());
    let grouped = text.split("crate::{").skip(1).flat_map(|rest| {
        let inside = rest.split("};").next().unwrap();
        inside.split([',', '{', '}', '\n']).map(|part| part.trim().split("::").next().unwrap())
    });
    single.chain(grouped).filter(|room| FOLDERS.contains(room)).collect()
}

#[test]
fn a_folder_imports_only_from_those_above_it() {
    let rank: BTreeMap<&str, usize> = FOLDERS.iter().enumerate().map(|(rank, folder)| (*folder, rank)).collect();
    let mut wrong = Vec::new();
    let mut seen = 0;
    for folder in FOLDERS {
        for path in sources(folder) {
            let text = code(&path);
            for room in imports(&text) {
                seen += 1;
                if rank[room] > rank[folder] {
                    wrong.push(format!("{} imports {room}", name(&path)));
                }
            }
        }
    }
    assert!(seen > 100, "only {seen} imports were seen");
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Words that a pure room may not hold, with what they would bring in.
const IMPURE: [(&str, &str); 14] = [
    ("std::time", "a clock"),
    ("Instant", "a clock"),
    ("SystemTime", "a clock"),
    ("Timestamp::now", "a clock"),
    ("std::thread", "threads"),
    ("tokio", "a runtime"),
    ("std::net::Udp", "sockets"),
    ("std::net::Tcp", "sockets"),
    ("std::env", "the environment"),
    ("rand::", "entropy"),
    ("RandomState", "entropy"),
    ("HashMap", "an order that differs from run to run"),
    ("HashSet", "an order that differs from run to run"),
    ("println!", "output"),
];

#[test]
fn only_the_daemon_and_the_command_line_touch_the_world() {
    let mut wrong = Vec::new();
    for folder in &FOLDERS[..FOLDERS.len() - 2] {
        for path in sources(folder) {
            let text = code(&path);
            for (word, brings) in IMPURE {
                if text.contains(word) {
                    wrong.push(format!("{} holds `{word}`: {brings}", name(&path)));
                }
            }
            // Only the reader of show folders opens files.
            if text.contains("std::fs") && name(&path) != "src/show/folder.rs" {
                wrong.push(format!("{} opens files", name(&path)));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Who reads the wall clock, and what for.
const WALL_CLOCK: [(&str, &str); 3] = [
    ("src/daemon/age.rs", "the age of a request that is dated"),
    ("src/daemon/journal/pen.rs", "the date of a record"),
    ("src/daemon/log/line.rs", "the date of a line"),
];

/// What anybody may set must move nothing.
#[test]
fn the_wall_clock_is_read_for_ages_and_dates_alone() {
    let readers: Vec<String> = files(&root().join("src"), "rs")
        .into_iter()
        .filter(|path| code(path).contains("clock::wall()"))
        .map(|path| name(&path))
        .collect();
    assert_eq!(readers, WALL_CLOCK.map(|(file, _)| file));
}

/// In the engine and under it floating point keeps to + − × ÷ √ and to `libm`, whose results do not depend on the
/// machine; boxes that grow have no place in a tick.
#[test]
fn the_engine_computes_the_same_on_every_machine() {
    let functions =
        ["sin", "cos", "tan", "atan2", "asin", "acos", "exp", "ln", "log10", "powf", "powi", "cbrt", "hypot"];
    let mut wrong = Vec::new();
    for folder in ["motion", "engine"] {
        for path in sources(folder) {
            let text = code(&path);
            for function in functions {
                if text.contains(&format!(".{function}(")) {
                    wrong.push(format!("{} calls .{function}()", name(&path)));
                }
            }
            for word in ["mul_add", "thread_local", "static mut", "Mutex", "Atomic"] {
                if text.contains(word) {
                    wrong.push(format!("{} holds {word}", name(&path)));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn no_file_and_no_function_outgrows_a_reader() {
    let mut wrong = Vec::new();
    let panel = ["js", "css", "html"].into_iter().flat_map(|ext| files(&root().join("web-panel"), ext));
    for path in files(&root().join("src"), "rs").into_iter().chain(panel) {
        let text = std::fs::read_to_string(&path).unwrap();
        let allowed = LARGE_FILES.iter().any(|(file, _)| *file == name(&path));
        if text.lines().count() > FILE_LINES && !allowed {
            wrong.push(format!("{} has {} lines", name(&path), text.lines().count()));
        }
        let sentences = LONG_FUNCTIONS.iter().any(|(file, _)| *file == name(&path));
        if path.extension().is_some_and(|ext| ext == "rs") && !is_test(&path) && !sentences {
            wrong.extend(long_functions(&name(&path), &text));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// A function ends, as the formatter leaves it, with a brace as deep as its beginning.
fn long_functions(file: &str, text: &str) -> Vec<String> {
    let lines: Vec<&str> = text.lines().collect();
    let mut long = Vec::new();
    for (begin, line) in lines.iter().enumerate() {
        let code = line.trim_start();
        let indent = line.len() - code.len();
        let opens = ["fn ", "pub fn ", "pub(super) fn ", "pub(crate) fn ", "async fn ", "pub async fn "];
        if !opens.iter().any(|open| code.starts_with(open)) || code.ends_with(';') {
            continue;
        }
        let closing = format!("{}}}", " ".repeat(indent));
        let end = lines[begin..].iter().position(|line| *line == closing).unwrap_or(0);
        if end > FUNCTION_LINES {
            long.push(format!("{file}:{}: a function of {end} lines", begin + 1));
        }
    }
    long
}

#[test]
fn the_top_level_is_what_it_should_be() {
    let expected = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE",
        "README.md",
        "benches",
        "cues",
        "demo-show",
        "packaging",
        "src",
        "tests",
        "web-panel",
    ];
    let found: Vec<String> = std::fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| !name.starts_with('.') && name != "target" && name != "node_modules")
        .collect();
    for name in &found {
        assert!(expected.contains(&name.as_str()), "{name} does not belong at the top");
    }
    for name in expected {
        assert!(found.iter().any(|found| found == name), "{name} is missing");
    }
}

#[test]
fn no_room_has_a_name_that_says_nothing() {
    let empty = ["core", "utils", "util", "common", "helpers", "helper", "manager", "misc"];
    for path in files(&root().join("src"), "rs") {
        let stem = path.file_stem().unwrap().to_string_lossy().into_owned();
        assert!(!empty.contains(&stem.as_str()), "{}", name(&path));
    }
}
