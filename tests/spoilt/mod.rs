//! Copies of the demo show, to be spoilt.

#![allow(dead_code, reason = "each test file uses its own part")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use bellwire::show::{self, Reading};

/// Of the demo show.
pub const FILES: [&str; 13] = [
    "show.toml",
    "cues/act1.toml",
    "cues/act2.toml",
    "cues/act3.toml",
    "cues/act4.toml",
    "cues/inserts.toml",
    "rigs/gull.toml",
    "rigs/heron.toml",
    "rigs/millwheel.toml",
    "rigs/minnow.toml",
    "rigs/skiff.toml",
    "rigs/tide.toml",
    TAKE,
];

pub const TAKE: &str = "takes/crossing.csv";

/// A copy of the demo show to spoil.
pub struct Copy(pub PathBuf);

impl Copy {
    pub fn new() -> Copy {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("show-{}-{number}", std::process::id()));
        for sub in ["cues", "rigs", "takes"] {
            fs::create_dir_all(folder.join(sub)).unwrap();
        }
        for file in FILES {
            fs::copy(Path::new("demo-show").join(file), folder.join(file)).unwrap();
        }
        Copy(folder)
    }

    pub fn path(&self, file: &str) -> PathBuf {
        self.0.join(file)
    }

    /// With a take of a few samples, for those who read it thousands of times.
    pub fn with_short_take(self) -> Copy {
        let sample = |k: u32| {
            let along = f64::from(k) / 14.0;
            format!("{:.3},{:.4},{:.2}\n", 7.0 * along, 2.4 - 2.0 * along, 35.0 - 60.0 * along)
        };
        let samples: String = (0..15).map(sample).collect();
        fs::write(self.path(TAKE), format!("time,travel,pan\n{samples}")).unwrap();
        self
    }

    /// Replaces the first `from` of a file.
    pub fn edit(self, file: &str, from: &str, to: &str) -> Copy {
        let text = fs::read_to_string(self.path(file)).unwrap();
        assert!(text.contains(from), "{file} has no {from:?}");
        fs::write(self.path(file), text.replacen(from, to, 1)).unwrap();
        self
    }

    /// Lays the files of a trap over it.
    pub fn with_trap(self, trap: &str) -> Copy {
        let folder = Path::new("demo-show/traps").join(trap);
        for part in ["", "rigs", "cues", "takes"] {
            for file in fs::read_dir(folder.join(part)).into_iter().flatten().map(|entry| entry.unwrap().path()) {
                if file.extension().is_some_and(|ending| ending == "toml" || ending == "csv") {
                    fs::copy(&file, self.path(part).join(file.file_name().unwrap())).unwrap();
                }
            }
        }
        self
    }

    pub fn read(&self) -> Reading {
        show::read(&self.0)
    }
}

impl Drop for Copy {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}
