//! Pages for people, written as whole files.

use std::fs;
use std::io;
use std::path::Path;

use super::exit::Exit;
use super::output;

/// Writes a page in place of whatever the file held; until it is whole, that stays. What goes wrong is told.
pub fn write_page(path: &Path, page: &str) -> Exit {
    match replace(path, page) {
        Ok(()) => Exit::Done,
        Err(error) => {
            output::message(&format!("error: {} could not be written: {error}\n", path.display()));
            Exit::Refused
        }
    }
}

/// When a page was made, for people.
pub fn made_now() -> String {
    jiff::Timestamp::now().strftime("%Y-%m-%d %H:%M UTC").to_string()
}

fn replace(path: &Path, page: &str) -> io::Result<()> {
    // A pipe or a terminal is written to as it is, and a link keeps pointing to its file.
    let known = fs::metadata(path).ok();
    if known.is_some_and(|known| !known.is_file()) {
        return fs::write(path, page);
    }
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".{}.part", std::process::id()));
    let beside = path.with_file_name(name);
    let done = fs::write(&beside, page).and_then(|()| fs::rename(&beside, &path));
    if done.is_err() {
        let _ = fs::remove_file(&beside);
    }
    done
}
