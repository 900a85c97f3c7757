"""What the program says of itself, and where the build script finds the commit without git."""

import os
import re
import subprocess

import pytest

from conftest import ROOT

COMMIT = "0123456789abcdef0123456789abcdef01234567"
SHOWN = f"({COMMIT[:12]})"


def test_version(bellwire):
    done = subprocess.run([bellwire, "--version"], capture_output=True, text=True, timeout=20)
    version = re.search(r'^version = "(.*)"$', (ROOT / "Cargo.toml").read_text(), re.MULTILINE)[1]
    assert re.fullmatch(rf"bellwire {re.escape(version)}( \([0-9a-f]{{12}}\))?\n", done.stdout)


@pytest.fixture(scope="module")
def script(tmp_path_factory):
    """The build script, as a program of its own."""
    program = tmp_path_factory.mktemp("script") / "commit"
    command = ["rustc", "--edition=2024", "-o", program, ROOT / "packaging" / "commit.rs"]
    subprocess.run(command, check=True, timeout=60)
    return program


def told(script, folder, **environment):
    """The version that it tells the compiler."""
    environment = os.environ | {"PROFILE": "release", "CARGO_PKG_VERSION": "1.2.3", "BELLWIRE_COMMIT": ""} | environment
    done = subprocess.run([script], cwd=folder, env=environment, capture_output=True, text=True, check=True, timeout=20)
    return re.search(r"^cargo::rustc-env=BELLWIRE_VERSION=(.*)$", done.stdout, re.MULTILINE)[1]


def write(folder, files):
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return folder


ON_A_BRANCH = {".git/HEAD": "ref: refs/heads/main\n", ".git/refs/heads/main": f"{COMMIT}\n"}

# Layouts as gitrepository-layout(5) and git-worktree(1) have them.
LAYOUTS = {
    "a branch": ON_A_BRANCH,
    "no branch": {".git/HEAD": f"{COMMIT}\n"},
    "packed": {
        ".git/HEAD": "ref: refs/heads/main\n",
        ".git/packed-refs": f"# pack-refs with: peeled\n{'f' * 40} refs/heads/not/refs/heads/main\n{COMMIT} refs/heads/main\n",
    },
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_release_carries_the_commit(script, tmp_path, layout):
    assert told(script, write(tmp_path, LAYOUTS[layout])) == f"1.2.3 {SHOWN}"


def test_a_further_worktree(script, tmp_path):
    write(tmp_path / "first", {
        ".git/worktrees/second/HEAD": "ref: refs/heads/side\n",
        ".git/worktrees/second/commondir": "../..\n",
        ".git/refs/heads/side": f"{COMMIT}\n",
    })
    second = write(tmp_path / "second", {".git": f"gitdir: {tmp_path}/first/.git/worktrees/second\n"})
    assert told(script, second) == f"1.2.3 {SHOWN}"


def test_sources_without_git(script, tmp_path):
    assert told(script, tmp_path) == "1.2.3"
    assert told(script, tmp_path, BELLWIRE_COMMIT=COMMIT) == f"1.2.3 {SHOWN}"


@pytest.mark.parametrize("head", ["", "ref: refs/heads/gone\n", "not a commit\n"])
def test_what_cannot_be_read_is_left_out(script, tmp_path, head):
    assert told(script, write(tmp_path, {".git/HEAD": head})) == "1.2.3"


def test_a_development_build_does_not_change_with_each_commit(script, tmp_path):
    assert told(script, write(tmp_path, ON_A_BRANCH), PROFILE="debug") == "1.2.3"
