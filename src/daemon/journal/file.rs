//! The file of a run, and the folder where runs lie.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// While the file cannot be written, so much is kept until it can. What comes then is lost.
const PENDING_MAX: usize = 4 << 20;

/// Only ever appended to.
#[derive(Debug)]
pub struct JournalFile {
    file: File,
    path: PathBuf,
    /// Bytes that are written whole.
    good: u64,
    pending: Vec<u8>,
    /// A write failed half-way: what lies behind `good` is cut off first.
    torn: bool,
}

impl JournalFile {
    /// A new file with its beginning; the folder is made if need be.
    ///
    /// # Errors
    /// No such folder can be made, or no file in it, or it cannot be written.
    pub fn create(folder: &Path, name: &str, begin: &[u8]) -> io::Result<JournalFile> {
        fs::create_dir_all(folder)?;
        let path = folder.join(name);
        let file = OpenOptions::new().append(true).create_new(true).open(&path)?;
        let mut this = JournalFile { file, path, good: 0, pending: Vec::new(), torn: false };
        this.append(begin)?;
        Ok(this)
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Another handle, for whoever waits until the disk has it.
    ///
    /// # Errors
    /// The process has too many files open.
    pub fn handle(&self) -> io::Result<File> {
        self.file.try_clone()
    }

    /// Bytes that are written whole.
    pub fn written(&self) -> u64 {
        self.good
    }

    /// Hands the bytes, and what was left from before, to the operating system.
    ///
    /// # Errors
    /// It did not take them; they are kept for the next time.
    pub fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.pending.extend_from_slice(bytes);
        if self.pending.is_empty() {
            return Ok(());
        }
        if self.torn {
            self.file.set_len(self.good)?;
            self.torn = false;
        }
        let written = self.file.write_all(&self.pending);
        self.torn = written.is_err();
        written?;
        self.good += self.pending.len() as u64;
        self.pending.clear();
        Ok(())
    }

    /// No more is kept: what comes now would be lost.
    pub fn is_full(&self) -> bool {
        self.pending.len() >= PENDING_MAX
    }
}

/// What lies in a folder of journals. None is ever deleted by bellwire.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Folder {
    pub runs: usize,
    pub bytes: u64,
}

/// Counts the journals of earlier runs.
pub fn folder(path: &Path) -> Folder {
    let entries = fs::read_dir(path).into_iter().flatten().flatten();
    let journals = entries.filter(|entry| entry.path().extension().is_some_and(|name| name == "journal"));
    journals.fold(Folder::default(), |sum, entry| Folder {
        runs: sum.runs + 1,
        bytes: sum.bytes + entry.metadata().map_or(0, |metadata| metadata.len()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_grows_and_is_never_overwritten() {
        let folder = tempfile::tempdir().expect("a folder");
        let inside = folder.path().join("of/its/own");
        let mut file = JournalFile::create(&inside, "a.journal", b"one ").expect("it is created");
        file.append(b"two").expect("it is written");
        assert_eq!(fs::read(file.path()).expect("it is there"), b"one two");
        assert_eq!(file.written(), 7);
        assert!(JournalFile::create(&inside, "a.journal", b"").is_err());
        assert_eq!(super::folder(&inside), Folder { runs: 1, bytes: 7 });
        assert_eq!(super::folder(Path::new("/nowhere")), Folder::default());
    }

    #[test]
    fn what_a_full_disk_refused_is_kept_until_it_takes_it() {
        let file = OpenOptions::new().append(true).open("/dev/full").expect("every Linux has it");
        let mut full = JournalFile { file, path: "/dev/full".into(), good: 0, pending: Vec::new(), torn: false };
        let error = full.append(b"one ").expect_err("it is full");
        assert_eq!(error.kind(), io::ErrorKind::StorageFull);
        assert!(!full.is_full());
        let folder = tempfile::tempdir().expect("a folder");
        let room = JournalFile::create(folder.path(), "a.journal", b"").expect("it is created");
        // The disk has room again.
        full.file = room.handle().expect("a handle");
        full.append(b"two").expect("it is written");
        assert_eq!(fs::read(room.path()).expect("it is there"), b"one two");
    }
}
