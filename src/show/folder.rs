//! The files of a show folder, as bytes and as text.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::decode::{Found, Name};
use super::finding::{Code, Finding, Severity};
use super::source::{Place, Source, Sources};

/// A show's file is a few kilobytes; a larger one is some other file.
const FILE_BYTES_MAX: u64 = 1 << 20;
/// A take of an hour.
const TAKE_BYTES_MAX: u64 = 16 << 20;
/// All takes of a show: a journal keeps them with it.
const TAKES_BYTES_MAX: u64 = 32 << 20;
/// Of rigs, of files of cues, and of takes.
const FILES_MAX: usize = 500;

/// What kind of file, by where it lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    Show,
    /// With the rig's name.
    Rig(String),
    Cues,
    /// With the take's name.
    Take(String),
}

/// A show folder. `kinds` runs beside `sources.files`, in the order of paths.
#[derive(Debug, Default)]
pub struct Folder {
    pub sources: Sources,
    pub kinds: Vec<Kind>,
    /// Whether the file of that index could be read as text at all.
    pub readable: Vec<bool>,
    pub hash: String,
}

/// Reads every file of a show; what cannot be read is reported.
pub fn load(path: &Path, found: &mut Found) -> Folder {
    let mut files: Vec<(String, PathBuf, Kind)> = Vec::new();
    match fs::metadata(path) {
        Ok(metadata) if metadata.is_dir() => {}
        Ok(_) => return nowhere(path, "it is not a folder", found),
        Err(error) => return nowhere(path, &reason(&error), found),
    }
    for name in files_in(path, "cues", "toml", found) {
        files.push((format!("cues/{name}"), path.join("cues").join(&name), Kind::Cues));
    }
    for name in files_in(path, "rigs", "toml", found) {
        let rig = name.strip_suffix(".toml").unwrap_or(&name).to_owned();
        files.push((format!("rigs/{name}"), path.join("rigs").join(&name), Kind::Rig(rig)));
    }
    files.push(("show.toml".into(), path.join("show.toml"), Kind::Show));
    for name in files_in(path, "takes", "csv", found) {
        let take = name.strip_suffix(".csv").unwrap_or(&name).to_owned();
        files.push((format!("takes/{name}"), path.join("takes").join(&name), Kind::Take(take)));
    }
    let mut left = TAKES_BYTES_MAX;
    let read = |(name, path, kind): (String, PathBuf, Kind)| {
        let bytes = match kind {
            Kind::Show | Kind::Rig(_) | Kind::Cues => read_file(&path, FILE_BYTES_MAX),
            Kind::Take(_) => read_file(&path, TAKE_BYTES_MAX.min(left)),
        };
        if let (Kind::Take(_), Ok(bytes)) = (&kind, &bytes) {
            left -= bytes.len() as u64;
        }
        (name, bytes, kind)
    };
    gather(files.into_iter().map(read), found)
}

/// The same show again from its files as they were read, in the order in which they were.
pub fn restore(files: &[Source], found: &mut Found) -> Folder {
    let kind = |path: &str| match path.split_once('/') {
        None => Kind::Show,
        Some(("rigs", name)) => Kind::Rig(name.strip_suffix(".toml").unwrap_or(name).to_owned()),
        Some(("takes", name)) => Kind::Take(name.strip_suffix(".csv").unwrap_or(name).to_owned()),
        Some(_) => Kind::Cues,
    };
    let file = |file: &Source| (file.path.clone(), Ok(file.text.clone().into_bytes()), kind(&file.path));
    gather(files.iter().map(file), found)
}

fn gather(files: impl Iterator<Item = (String, Result<Vec<u8>, String>, Kind)>, found: &mut Found) -> Folder {
    let mut folder = Folder::default();
    let mut hasher = Sha256::new();
    for (index, (name, bytes, kind)) in files.enumerate() {
        let place = Place { file: index as u16, start: 0, end: 0 };
        let bytes = bytes.map_err(|why| {
            let message = format!("{name} cannot be read: {why}");
            let fix = match kind {
                Kind::Show | Kind::Rig(_) | Kind::Cues => {
                    "a show needs show.toml, rigs/NAME.toml and cues/*.toml, each a file that may be read"
                }
                Kind::Take(_) => "record it at fewer samples a second, or move it out of the show",
            };
            found.push(Finding::new(Code::Syntax, message).at(place).fix(fix));
        });
        folder.readable.push(bytes.is_ok());
        let bytes = bytes.unwrap_or_default();
        for part in [name.as_bytes(), &bytes] {
            hasher.update((part.len() as u64).to_be_bytes());
            hasher.update(part);
        }
        let named = match &kind {
            Kind::Rig(rig) => Some(("rig", rig)),
            Kind::Take(take) => Some(("take", take)),
            Kind::Show | Kind::Cues => None,
        };
        if let Some((what, _)) = named.filter(|(_, given)| Name::refused(given)) {
            let message =
                format!("`{name}`: expected a {what}'s name of 1 to 64 characters without spaces and dots");
            found.push(Finding::new(Code::BadValue, message).at(place).fix("rename the file"));
        }
        let (source, is_text) = as_text(name, bytes, place, found);
        folder.readable[index] &= is_text;
        folder.sources.files.push(source);
        folder.kinds.push(kind);
    }
    folder.hash = hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
    folder
}

/// Reads one file that belongs to no show folder; false if it could not be read whole, which is reported.
pub fn load_one(path: &Path, found: &mut Found) -> (Source, bool) {
    let name = path.display().to_string();
    let place = Place::default();
    match read_file(path, FILE_BYTES_MAX) {
        Ok(bytes) => as_text(name, bytes, place, found),
        Err(why) => {
            let message = format!("{name} cannot be read: {why}");
            found.push(Finding::new(Code::Syntax, message).at(place).fix("name a file that may be read"));
            (Source { path: name, text: String::new() }, false)
        }
    }
}

/// False if it is text only up to some byte, which is reported.
fn as_text(name: String, bytes: Vec<u8>, place: Place, found: &mut Found) -> (Source, bool) {
    match String::from_utf8(bytes) {
        Ok(text) => (Source { path: name, text }, true),
        Err(error) => {
            let start = error.utf8_error().valid_up_to() as u32;
            let message = format!("{name} is not UTF-8 text from here on");
            let place = Place { start, end: start + 1, ..place };
            found.push(Finding::new(Code::Syntax, message).at(place).fix("save the file as UTF-8"));
            let text = String::from_utf8_lossy(error.as_bytes()).into_owned();
            (Source { path: name, text }, false)
        }
    }
}

/// The text of one file of the folder that is no part of the show; `None` if it is not there.
///
/// # Errors
/// Why it cannot be read, for people.
pub fn load_beside(show: &Path, name: &str) -> Result<Option<String>, String> {
    let path = show.join(name);
    match fs::symlink_metadata(&path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Ok(_) | Err(_) => {}
    }
    let bytes = read_file(&path, FILE_BYTES_MAX)?;
    String::from_utf8(bytes).map(Some).map_err(|_| "it is not UTF-8 text".into())
}

fn nowhere(path: &Path, why: &str, found: &mut Found) -> Folder {
    let message = format!("the show folder {} cannot be read: {why}", path.display());
    found.push(Finding::new(Code::Syntax, message).fix("name a folder that holds show.toml, rigs/ and cues/"));
    Folder::default()
}

/// Names of the files of a folder of the show that end as they should, sorted; a note for each other file.
fn files_in(show: &Path, folder: &str, ending: &str, found: &mut Found) -> Vec<String> {
    let entries = match fs::read_dir(show.join(folder)) {
        Ok(entries) => entries,
        // A show may have no cues yet, and no takes; that it has no rigs is told elsewhere.
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Vec::new(),
        Err(error) => {
            let message = format!("the folder {folder}/ cannot be read: {}", reason(&error));
            found.push(Finding::new(Code::Syntax, message).fix(format!("a show keeps its {folder} in {folder}/")));
            return Vec::new();
        }
    };
    let mut names = Vec::new();
    let mut ignored = Vec::new();
    for entry in entries.flatten() {
        let path = PathBuf::from(entry.file_name());
        match path.to_str() {
            Some(name) if name.starts_with('.') => {}
            Some(name) if path.extension() == Some(OsStr::new(ending)) => names.push(name.to_owned()),
            Some(_) | None => ignored.push(path.display().to_string()),
        }
    }
    names.sort();
    ignored.sort();
    for name in ignored {
        let message = format!("{folder}/{name} is ignored: only files that end in .{ending} are read here");
        found.push(Finding { severity: Severity::Note, ..Finding::new(Code::Syntax, message) });
    }
    if names.len() > FILES_MAX {
        let message = format!("{folder}/ holds {} files; at most {FILES_MAX} are read", names.len());
        let fix = if ending == "toml" { "several cues may share a file" } else { "move old takes out of the show" };
        found.push(Finding::new(Code::Syntax, message).fix(fix));
        names.truncate(FILES_MAX);
    }
    names
}

fn read_file(path: &Path, most: u64) -> Result<Vec<u8>, String> {
    let metadata = fs::metadata(path).map_err(|error| reason(&error))?;
    // Anything else than a plain file, a pipe for one, could keep us waiting for ever.
    if !metadata.is_file() {
        return Err("it is not a file".into());
    }
    if metadata.len() > most {
        return Err(format!("it has {} bytes, and at most {most} are read", metadata.len()));
    }
    fs::read(path).map_err(|error| reason(&error))
}

fn reason(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".into(),
        io::ErrorKind::PermissionDenied => "it may not be read".into(),
        _ => error.to_string(),
    }
}
