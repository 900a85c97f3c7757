//! Where the journal of a run lies, and how it is called.

use std::env;
use std::path::{Path, PathBuf};

use jiff::{Timestamp, ZonedDateTime};

use crate::daemon::{Journal, journals_in};
use crate::journal::{Header, Recorder, ShowFiles};
use crate::show::{Nanos, Show, Sources};

/// Begins the journal of a run, unless none is wanted.
///
/// # Errors
/// A sentence that says what to do: no folder is known, or the file cannot be made there.
pub fn begin(
    wished: Option<&Path>,
    none: bool,
    show: &Show,
    files: &Sources,
    seed: u64,
) -> Result<Option<Journal>, String> {
    if none {
        return Ok(None);
    }
    let folder = wished.map(Path::to_owned).or_else(default_folder).ok_or(
        "there is no place for the journal, since neither STATE_DIRECTORY nor XDG_STATE_HOME nor HOME is set: \
         name a folder with --journal DIR, or keep none with --no-journal",
    )?;
    let now = ZonedDateTime::now();
    let header = header(&now, seed, false).map_err(|error| format!("no name for this run: {error}"))?;
    let name = file_name(&show.name, &now, &header.run);
    let recorder = Recorder::new(header, ShowFiles::new(&show.name, &show.hash, &files.files));
    let journal = Journal::create(&folder, &name, recorder).map_err(|error| {
        format!(
            "the journal cannot be kept in {}: {error}: name another folder with --journal DIR, or keep none with \
             --no-journal",
            folder.display()
        )
    })?;
    Ok(Some(journal))
}

/// The beginning of a journal that is written now. `rehearsal`: in virtual time.
///
/// # Errors
/// The system has no random numbers.
pub fn header(now: &ZonedDateTime, seed: u64, rehearsal: bool) -> Result<Header, getrandom::Error> {
    let mut run = [0; 16];
    getrandom::fill(&mut run)?;
    Ok(Header {
        run: run.iter().map(|byte| format!("{byte:02x}")).collect(),
        started: Nanos(
            i64::try_from(now.timestamp().duration_since(Timestamp::UNIX_EPOCH).as_nanos()).unwrap_or(0),
        ),
        offset: now.offset().seconds(),
        program: env!("CARGO_PKG_VERSION").to_owned(),
        seed,
        rehearsal,
    })
}

/// What `run` says of it.
pub fn announcement(journal: Option<&Journal>) -> String {
    let Some(journal) = journal else { return "journal none, as asked".to_owned() };
    let folder = journals_in(journal.path().parent().unwrap_or(Path::new(".")));
    // This run's is among them.
    let earlier = match folder.runs.saturating_sub(1) {
        0 => String::new(),
        1 => format!(" (and one earlier run there, {} in all; none is ever deleted)", size(folder.bytes)),
        runs => format!(" (and {runs} earlier runs there, {} in all; none is ever deleted)", size(folder.bytes)),
    };
    format!("journal {}{earlier}", journal.path().display())
}

/// "12.3 MB".
pub fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.1} GB", bytes as f64 / 1e9),
    }
}

/// A service's own state folder, or the user's (XDG Base Directory Specification 0.8).
pub fn default_folder() -> Option<PathBuf> {
    let absolute = |name: &str| env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    // With several, systemd separates them by colons; the first is ours.
    let of_service = env::var("STATE_DIRECTORY").ok().and_then(|paths| {
        let first = PathBuf::from(paths.split(':').next()?);
        first.is_absolute().then(|| first.join("journal"))
    });
    let of_user = || {
        let state = absolute("XDG_STATE_HOME").or_else(|| absolute("HOME").map(|home| home.join(".local/state")));
        state.map(|state| state.join("bellwire/journal"))
    };
    of_service.or_else(of_user)
}

/// `salt-lantern 2026-11-25 193007 3fa9c1.journal`, with hyphens throughout.
fn file_name(show: &str, now: &ZonedDateTime, run: &str) -> String {
    let plain: String =
        show.chars().map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    let words: Vec<&str> = plain.split('-').filter(|word| !word.is_empty()).collect();
    let name: String = words.join("-").chars().take(40).collect();
    format!("{name}-{}-{}.journal", now.strftime("%Y-%m-%d-%H%M%S"), run.get(..6).unwrap_or(run))
}
