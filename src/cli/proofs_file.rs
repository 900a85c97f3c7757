//! What `check` proved, kept for the next check of the same folder: a file in the user's cache (XDG Base Directory
//! Specification 0.8). What it holds is believed only from this very program; a daemon believes no file, and proves the
//! show that it runs itself.

use std::env;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use sha2::{Digest, Sha256};

use crate::VERSION;
use crate::proof::Memory;

/// Bytes of the program's and of the content's digest.
const HEAD: usize = 32;
/// A memory of more bytes is not kept.
const BYTES_MAX: usize = 256 << 20;

pub struct ProofsFile {
    /// `None` where nothing can be kept.
    path: Option<PathBuf>,
    program: [u8; HEAD],
}

impl ProofsFile {
    /// Of a show folder.
    pub fn of(show: &Path) -> ProofsFile {
        let program = program();
        let name = |show: &Path| {
            let digest = Sha256::digest(show.as_os_str().as_encoded_bytes());
            digest.iter().take(12).map(|byte| format!("{byte:02x}")).collect::<String>()
        };
        let show = fs::canonicalize(show).ok();
        let path = folder().zip(show).map(|(folder, show)| folder.join(format!("{}.proofs", name(&show))));
        ProofsFile { path: path.filter(|_| program.is_some()), program: program.unwrap_or_default() }
    }

    /// What was proved before; nothing where the file is missing, broken or another program's.
    pub fn read(&self) -> Memory {
        let bytes = self.path.as_ref().and_then(|path| fs::read(path).ok()).unwrap_or_default();
        let content = bytes.split_at_checked(2 * HEAD).and_then(|(head, content)| {
            let sound = head[..HEAD] == self.program && head[HEAD..] == *Sha256::digest(content);
            sound.then_some(content)
        });
        content.and_then(Memory::from_bytes).unwrap_or_default()
    }

    /// Replaces the file as a whole. Where that does not work the next check takes longer, and that is all.
    pub fn write(&self, memory: &Memory) {
        memory.turn();
        let content = memory.to_bytes();
        if let Some(path) = self.path.as_ref().filter(|_| content.len() <= BYTES_MAX)
            && let Err(error) = self.replace(path, &content)
        {
            tracing::debug!("{}: what was proved is not kept: {error}", path.display());
        }
    }

    fn replace(&self, path: &Path, content: &[u8]) -> std::io::Result<()> {
        let folder = path.parent().unwrap_or(Path::new("."));
        fs::create_dir_all(folder)?;
        let beside = path.with_extension(format!("{}.part", std::process::id()));
        let mut file = fs::File::create(&beside)?;
        let written =
            [&self.program[..], &Sha256::digest(content), content].iter().try_for_each(|part| file.write_all(part));
        let done = written.and_then(|()| fs::rename(&beside, path));
        if done.is_err() {
            let _ = fs::remove_file(&beside);
        }
        done
    }
}

fn folder() -> Option<PathBuf> {
    let absolute = |name: &str| env::var_os(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let cache = absolute("XDG_CACHE_HOME").or_else(|| absolute("HOME").map(|home| home.join(".cache")));
    cache.map(|cache| cache.join("bellwire"))
}

/// Tells this build of the program from every other.
fn program() -> Option<[u8; HEAD]> {
    let own = fs::metadata(env::current_exe().ok()?).ok()?;
    let built = own.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
    let words = format!("{VERSION} {} {}", own.len(), built.as_nanos());
    Some(Sha256::digest(words).into())
}
