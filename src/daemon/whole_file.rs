//! Files of a show, written so that nobody ever reads half of one.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use rustix::fs::{CWD, RenameFlags, renameat_with};

/// Puts a text in the place of what the file held, or makes it: beside it first, onto the disk, then under its name. Whatever
/// goes wrong, the file is what it was.
///
/// # Errors
/// It could not be written.
pub fn replace(path: &Path, text: &str) -> io::Result<()> {
    // A link keeps pointing to its file.
    let path = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    beside(&path, text, |fresh| fs::rename(fresh, &path))
}

/// The same of a file that must not be there yet.
///
/// # Errors
/// There is such a file, or it could not be written.
pub fn create(path: &Path, text: &str) -> io::Result<()> {
    beside(path, text, |fresh| Ok(renameat_with(CWD, fresh, CWD, path, RenameFlags::NOREPLACE)?))
}

/// The name begins with a dot: no reader of a show looks at it, should we be killed here.
fn beside(path: &Path, text: &str, put: impl FnOnce(&Path) -> io::Result<()>) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let fresh = folder.join(format!(".{name}.{}.new", std::process::id()));
    let write = || -> io::Result<()> {
        let mut file = File::create(&fresh)?;
        if let Ok(metadata) = fs::metadata(path) {
            file.set_permissions(metadata.permissions())?;
        }
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        put(&fresh)?;
        File::open(folder)?.sync_all()
    };
    write().inspect_err(|_| {
        let _ = fs::remove_file(&fresh);
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_replaced_whole_or_made_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        create(&path, "one").unwrap();
        assert_eq!(create(&path, "two").unwrap_err().kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&path).unwrap(), "one");
        replace(&path, "three").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "three");
        // Nothing is left beside it.
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        assert!(replace(&folder.path().join("nowhere/a.csv"), "x").is_err());
    }
}
