//! The file of a take under way: only ever appended to, then given its name, or gone.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use rustix::fs::{CWD, FlockOperation, RenameFlags, flock, renameat_with};

use crate::show::{Place, is_name, read_take, whole_lines};

/// In `takes/`; no reader of a show looks at names that begin with a dot.
const UNDER_WAY: &str = ".recording.csv";

pub struct Tape {
    file: File,
    path: PathBuf,
    /// Bytes that are written whole.
    good: u64,
}

impl Tape {
    /// A new file with its head; the folder is made if need be.
    ///
    /// # Errors
    /// It cannot be made, or another daemon is recording into it.
    pub fn begin(folder: &Path, head: &str) -> io::Result<Tape> {
        fs::create_dir_all(folder)?;
        let path = folder.join(UNDER_WAY);
        let file = OpenOptions::new().create(true).append(true).open(&path)?;
        flock(&file, FlockOperation::NonBlockingLockExclusive)?;
        file.set_len(0)?;
        let mut tape = Tape { file, path, good: 0 };
        tape.write(head)?;
        Ok(tape)
    }

    /// Another handle, for whoever waits until the disk has it.
    pub fn handle(&self) -> Option<File> {
        self.file.try_clone().ok()
    }

    /// Whole lines.
    ///
    /// # Errors
    /// The disk refuses them; what it had before stays whole.
    pub fn write(&mut self, lines: &str) -> io::Result<()> {
        let written = self.file.write_all(lines.as_bytes());
        if written.is_err() {
            let _ = self.file.set_len(self.good);
        } else {
            self.good += lines.len() as u64;
        }
        written
    }

    /// Gives it its name, once the disk has it. No take is overwritten.
    ///
    /// # Errors
    /// No such name may be given, or the disk refuses; then it is as it was.
    pub fn keep(&mut self, folder: &Path, name: &str) -> Result<(), String> {
        free(folder, name)?;
        self.file.sync_all().and_then(|()| name_it(&self.path, &file_of(folder, name))).map_err(|error| {
            format!("take {name} could not be kept: {error}; it waits still, to be kept or discarded")
        })
    }

    pub fn discard(self) -> Result<(), String> {
        fs::remove_file(&self.path)
            .map_err(|error| format!("{} could not be removed: {error}", self.path.display()))
    }
}

fn file_of(folder: &Path, name: &str) -> PathBuf {
    folder.join(format!("{name}.csv"))
}

fn name_it(path: &Path, named: &Path) -> io::Result<()> {
    renameat_with(CWD, path, CWD, named, RenameFlags::NOREPLACE)?;
    File::open(named.parent().unwrap_or(Path::new(".")))?.sync_all()
}

/// Whether a take may get this name.
///
/// # Errors
/// It is none, or there is such a take; for people.
pub fn free(folder: &Path, name: &str) -> Result<(), String> {
    if !is_name(name) {
        return Err(format!("'{name}': expected a name of 1 to 64 characters without spaces, dots and slashes"));
    }
    match file_of(folder, name).exists() {
        true => Err(format!("there is a take {name} already: choose another name")),
        false => Ok(()),
    }
}

/// "take-1", or the first like it that is free.
pub fn next_name(folder: &Path) -> String {
    numbered(folder, "take")
}

fn numbered(folder: &Path, stem: &str) -> String {
    let names = (1..).map(|number: u32| format!("{stem}-{number}"));
    let mut free = names.filter(|name| !file_of(folder, name).exists());
    free.next().unwrap_or_else(|| stem.to_owned())
}

/// Keeps what an earlier run was recording when it ended, up to its last whole line, under a name of its own; says where.
/// Nothing, if there is none, too little of it, or another daemon is recording it just now.
///
/// # Errors
/// It cannot be read, or not be kept.
pub fn rescue(folder: &Path) -> io::Result<Option<PathBuf>> {
    let path = folder.join(UNDER_WAY);
    let mut file = match OpenOptions::new().read(true).write(true).open(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        opened => opened?,
    };
    if flock(&file, FlockOperation::NonBlockingLockExclusive).is_err() {
        return Ok(None);
    }
    let text = io::read_to_string(&mut file)?;
    let whole = whole_lines(&text);
    if !read_take("", whole, Place::default()).1.is_empty() {
        fs::remove_file(&path)?;
        return Ok(None);
    }
    file.set_len(whole.len() as u64)?;
    file.sync_all()?;
    let kept = file_of(folder, &numbered(folder, "rescued"));
    name_it(&path, &kept)?;
    Ok(Some(kept))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(count: usize) -> String {
        (0..count).map(|k| format!("{:.3},{k}\n", k as f64 * 0.02)).collect()
    }

    #[test]
    fn a_take_gets_its_name_once_and_a_given_up_one_goes() {
        let folder = tempfile::tempdir().unwrap();
        let folder = folder.path().join("takes");
        for (name, kept) in [("walk", true), ("walk", false), ("a/b", false), ("a.b", false), ("run", true)] {
            let mut tape = Tape::begin(&folder, "time,a\n").unwrap();
            tape.write(&lines(20)).unwrap();
            assert_eq!(tape.keep(&folder, name).is_ok(), kept, "{name}");
            if !kept {
                tape.discard().unwrap();
            }
        }
        let mut names: Vec<_> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        names.sort();
        assert_eq!(names, ["run.csv", "walk.csv"]);
        assert_eq!(fs::read_to_string(folder.join("walk.csv")).unwrap(), format!("time,a\n{}", lines(20)));
    }

    #[test]
    fn what_was_cut_off_is_kept_up_to_its_last_line_under_a_name_of_its_own() {
        let folder = tempfile::tempdir().unwrap();
        for (number, torn) in ["0.400,2", "", "0.4"].into_iter().enumerate() {
            let mut tape = Tape::begin(folder.path(), "time,a\n").unwrap();
            tape.write(&(lines(20) + torn)).unwrap();
            assert_eq!(rescue(folder.path()).unwrap(), None, "it is being recorded");
            drop(tape);
            let kept = rescue(folder.path()).unwrap().expect("it is kept");
            assert_eq!(kept, folder.path().join(format!("rescued-{}.csv", number + 1)));
            assert_eq!(fs::read_to_string(kept).unwrap(), format!("time,a\n{}", lines(20)));
        }
        drop(Tape::begin(folder.path(), "time,a\n0.0,1\n").unwrap());
        assert_eq!(rescue(folder.path()).unwrap(), None, "too little to be a take");
        assert!(!folder.path().join(UNDER_WAY).exists());
    }

    #[test]
    fn a_disk_that_is_full_leaves_what_it_has_whole() {
        let file = OpenOptions::new().append(true).open("/dev/full").unwrap();
        let mut full = Tape { file, path: "/dev/full".into(), good: 0 };
        assert_eq!(full.write("1,2\n").unwrap_err().kind(), io::ErrorKind::StorageFull);
        assert_eq!(full.good, 0);
    }
}
