//! `takes/` of a show: which names there are, and what is put there.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use rustix::fs::{CWD, RenameFlags, renameat_with};

use crate::show::is_name;

/// In `takes/`; no reader of a show looks at names that begin with a dot.
const UNDER_WAY: &str = ".recording.csv";

#[derive(Clone, Debug)]
pub struct Folder(PathBuf);

impl Folder {
    pub fn of(show: &Path) -> Folder {
        Folder(show.join("takes"))
    }

    pub fn file_of(&self, name: &str) -> PathBuf {
        self.0.join(format!("{name}.csv"))
    }

    /// Where a take is written that has no name yet.
    pub fn under_way(&self) -> PathBuf {
        self.0.join(UNDER_WAY)
    }

    pub fn make(&self) -> io::Result<()> {
        fs::create_dir_all(&self.0)
    }

    /// Of every take, in order; none, if the folder is not there.
    ///
    /// # Errors
    /// It cannot be read, for people.
    pub fn names(&self) -> Result<Vec<String>, String> {
        let entries = match fs::read_dir(&self.0) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(format!("{} could not be read: {error}", self.0.display())),
            Ok(entries) => entries,
        };
        let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
        let mut names: Vec<String> = names.filter_map(|name| Some(name.strip_suffix(".csv")?.to_owned())).collect();
        names.retain(|name| is_name(name));
        names.sort();
        Ok(names)
    }

    /// Whether a take may get this name.
    ///
    /// # Errors
    /// It is none, or there is such a take; for people.
    pub fn free(&self, name: &str) -> Result<(), String> {
        if !is_name(name) {
            return Err(format!(
                "'{name}': expected a name of 1 to 64 characters without spaces, dots and slashes"
            ));
        }
        match self.file_of(name).exists() {
            true => Err(format!("there is a take {name} already: choose another name")),
            false => Ok(()),
        }
    }

    /// "take-1", or the first like it that is free.
    pub fn next_name(&self) -> String {
        let names = (1..).map(|number: u32| format!("take-{number}"));
        let mut free = names.filter(|name| !self.file_of(name).exists());
        free.next().unwrap_or_default()
    }

    /// Gives a file of it the name of a take. Nothing is overwritten, and the disk has it then.
    pub fn name_it(&self, path: &Path, name: &str) -> io::Result<()> {
        renameat_with(CWD, path, CWD, self.file_of(name), RenameFlags::NOREPLACE)?;
        File::open(&self.0)?.sync_all()
    }

    /// Puts a whole take there.
    ///
    /// # Errors
    /// As [`Folder::free`], or the disk refuses it; for people.
    pub fn add(&self, name: &str, text: &str) -> Result<(), String> {
        self.free(name)?;
        // The name begins with a dot: no reader of a show looks at it, should we be killed here.
        let fresh = self.0.join(format!(".{name}.{}.new", std::process::id()));
        let write = || -> io::Result<()> {
            let mut file = File::create(&fresh)?;
            file.write_all(text.as_bytes())?;
            file.sync_all()?;
            self.name_it(&fresh, name)
        };
        write().map_err(|error| {
            let _ = fs::remove_file(&fresh);
            format!("take {name} could not be written: {error}; nothing was changed")
        })
    }
}
