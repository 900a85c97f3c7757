//! The file of a take under way: only ever appended to, then given its name, or gone.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::PathBuf;

use rustix::fs::{FlockOperation, flock};

use super::folder::Folder;
use crate::show::{Place, Take, read_take, whole_lines};

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
    pub fn begin(folder: &Folder, head: &str) -> io::Result<Tape> {
        folder.make()?;
        let path = folder.under_way();
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
    pub fn keep(&mut self, folder: &Folder, name: &str) -> Result<(), String> {
        folder.free(name)?;
        self.file.sync_all().and_then(|()| folder.name_it(&self.path, name)).map_err(|error| {
            format!("take {name} could not be kept: {error}; it waits still, to be kept or discarded")
        })
    }

    pub fn discard(self) -> Result<(), String> {
        fs::remove_file(&self.path)
            .map_err(|error| format!("{} could not be removed: {error}", self.path.display()))
    }
}

/// What an earlier run was recording when it ended, up to its last whole line: as it is read, and ready to be kept or discarded.
/// Nothing, if there is none, too little of it, or another daemon is recording it just now.
///
/// # Errors
/// It cannot be read.
pub fn left(folder: &Folder) -> io::Result<Option<(Tape, Take)>> {
    let path = folder.under_way();
    let mut file = match OpenOptions::new().read(true).append(true).open(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        opened => opened?,
    };
    if flock(&file, FlockOperation::NonBlockingLockExclusive).is_err() {
        return Ok(None);
    }
    let text = io::read_to_string(&mut file)?;
    let whole = whole_lines(&text);
    let (take, findings) = read_take("", whole, Place::default());
    if !findings.is_empty() {
        fs::remove_file(&path)?;
        return Ok(None);
    }
    file.set_len(whole.len() as u64)?;
    file.sync_all()?;
    Ok(Some((Tape { file, path, good: whole.len() as u64 }, take)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(count: usize) -> String {
        (0..count).map(|k| format!("{:.3},{k}\n", k as f64 * 0.02)).collect()
    }

    #[test]
    fn a_take_gets_its_name_once_and_a_given_up_one_goes() {
        let show = tempfile::tempdir().unwrap();
        let folder = Folder::of(show.path());
        for (name, kept) in [("walk", true), ("walk", false), ("a/b", false), ("a.b", false), ("run", true)] {
            let mut tape = Tape::begin(&folder, "time,a\n").unwrap();
            tape.write(&lines(20)).unwrap();
            assert_eq!(tape.keep(&folder, name).is_ok(), kept, "{name}");
            if !kept {
                tape.discard().unwrap();
            }
        }
        let mut names: Vec<_> =
            fs::read_dir(show.path().join("takes")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        names.sort();
        assert_eq!(names, ["run.csv", "walk.csv"]);
        assert_eq!(fs::read_to_string(folder.file_of("walk")).unwrap(), format!("time,a\n{}", lines(20)));
    }

    #[test]
    fn what_was_cut_off_waits_up_to_its_last_line_to_be_kept_or_discarded() {
        let show = tempfile::tempdir().unwrap();
        let folder = Folder::of(show.path());
        let found = |folder: &Folder| left(folder).unwrap();
        for (number, torn) in ["0.400,2", "", "0.4"].into_iter().enumerate() {
            let mut tape = Tape::begin(&folder, "time,a\n").unwrap();
            tape.write(&(lines(20) + torn)).unwrap();
            assert!(found(&folder).is_none(), "it is being recorded");
            drop(tape);
            let (mut tape, take) = found(&folder).expect("it is there");
            assert_eq!((take.times.len(), take.columns[0].name.as_str()), (20, "a"));
            let name = folder.next_name();
            assert_eq!(name, format!("take-{}", number + 1));
            tape.keep(&folder, &name).unwrap();
            assert_eq!(fs::read_to_string(folder.file_of(&name)).unwrap(), format!("time,a\n{}", lines(20)));
        }
        drop(Tape::begin(&folder, &("time,a\n".to_owned() + &lines(20))).unwrap());
        found(&folder).expect("it is there").0.discard().unwrap();
        assert!(!folder.under_way().exists());
        drop(Tape::begin(&folder, "time,a\n0.0,1\n").unwrap());
        assert!(found(&folder).is_none(), "too little to be a take");
        assert!(!folder.under_way().exists());
        assert_eq!(folder.names().unwrap(), ["take-1", "take-2", "take-3"]);
    }

    #[test]
    fn a_disk_that_is_full_leaves_what_it_has_whole() {
        let file = OpenOptions::new().append(true).open("/dev/full").unwrap();
        let mut full = Tape { file, path: "/dev/full".into(), good: 0 };
        assert_eq!(full.write("1,2\n").unwrap_err().kind(), io::ErrorKind::StorageFull);
        assert_eq!(full.good, 0);
    }
}
