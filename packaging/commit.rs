//! The build script: tells the program which commit it was built from, if the sources are a git checkout.
//!
//! It reads git's files by itself, so that git need not be installed. Only a release carries its commit: in a
//! development build it would have everything compiled again after each commit.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};

const SHOWN: usize = 12;

fn main() {
    println!("cargo::rerun-if-changed=packaging/commit.rs");
    println!("cargo::rerun-if-env-changed=BELLWIRE_COMMIT");
    let release = env::var("PROFILE").is_ok_and(|profile| profile == "release");
    // Whoever builds from an archive may know it though the sources do not.
    let given = env::var("BELLWIRE_COMMIT").ok().filter(|commit| !commit.is_empty());
    let commit = given.or_else(|| if release { checked_out(Path::new(".")) } else { None });
    let version = env::var("CARGO_PKG_VERSION").unwrap_or_default();
    let version = match commit {
        Some(commit) => format!("{version} ({})", commit.chars().take(SHOWN).collect::<String>()),
        None => version,
    };
    println!("cargo::rustc-env=BELLWIRE_VERSION={version}");
}

/// The commit that is checked out here; sources: gitrepository-layout(5), git-worktree(1).
fn checked_out(root: &Path) -> Option<String> {
    let own = own_folder(&root.join(".git"))?;
    let head = read(&own.join("HEAD"))?;
    let Some(name) = head.strip_prefix("ref: ") else { return commit(&head) };
    // The refs of a further worktree are those of the first.
    let shared = read(&own.join("commondir")).map_or(own.clone(), |path| own.join(path));
    read(&shared.join(name)).or_else(|| packed(&shared, name)).and_then(|text| commit(&text))
}

/// `.git` is a folder, or in a further worktree a file that names one.
fn own_folder(git: &Path) -> Option<PathBuf> {
    if git.is_dir() {
        return Some(git.to_owned());
    }
    fs::read_to_string(git).ok()?.trim().strip_prefix("gitdir: ").map(PathBuf::from)
}

fn packed(shared: &Path, name: &str) -> Option<String> {
    let refs = read(&shared.join("packed-refs"))?;
    refs.lines().find_map(|line| line.strip_suffix(name)?.strip_suffix(' ').map(str::to_owned))
}

/// A file of git's, which the next build looks at again.
fn read(path: &Path) -> Option<String> {
    let text = fs::read_to_string(path).ok()?;
    println!("cargo::rerun-if-changed={}", path.display());
    Some(text.trim().to_owned())
}

fn commit(text: &str) -> Option<String> {
    let whole = text.len() >= SHOWN && text.bytes().all(|byte| byte.is_ascii_hexdigit());
    whole.then(|| text.to_owned())
}
