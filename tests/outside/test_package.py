"""The manual pages, and the Debian package as someone finds it who installs it."""

import os
import re
import shutil
import stat
import subprocess
from pathlib import Path

import pytest

from conftest import ROOT
from road.daemon import ANY_PORT
from road.manager import Manager

SERVICE = "usr/lib/systemd/system/bellwire.service"


def done(*command, **options):
    ran = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, **options)
    assert ran.returncode == 0, f"{command}: {ran.stdout}{ran.stderr}"
    return ran.stdout


@pytest.fixture(scope="module")
def package(bellwire, tmp_path_factory):
    """The package of the program under test."""
    folder = tmp_path_factory.mktemp("package")
    return done(ROOT / "packaging" / "build-deb", bellwire, folder).strip()


@pytest.fixture(scope="module")
def installed(package, tmp_path_factory):
    """Its files, as they would lie under the root."""
    root = tmp_path_factory.mktemp("root")
    done("dpkg-deb", "--extract", package, root)
    return root


def test_a_page_for_every_command(bellwire, tmp_path):
    done(bellwire, "man", tmp_path / "pages")
    pages = {page.name: page.read_text() for page in (tmp_path / "pages").iterdir()}
    commands = re.findall(r"^  ([a-z]+) ", done(bellwire, "--help"), re.MULTILINE)
    assert {"run", "check", "go", "man"} <= set(commands)
    for command in commands:
        page = pages[f"bellwire-{command}.1"]
        assert page.lstrip("\n").startswith(".ie") and f".TH bellwire-{command} 1" in page and ".SH SYNOPSIS" in page
        assert '.SH "EXIT STATUS"' in page and '.SH "SEE ALSO"' in page
    assert ".SH FILES" in pages["bellwire.1"]
    assert "watch" in pages["bellwire-run.1"] and "operational stop" in pages["bellwire.1"]


def test_a_folder_that_cannot_be_made_is_named(bellwire, tmp_path):
    (tmp_path / "file").write_text("")
    ran = subprocess.run([bellwire, "man", tmp_path / "file"], capture_output=True, text=True, timeout=20)
    assert ran.returncode == 1 and str(tmp_path / "file") in ran.stderr and ran.stdout == ""


def test_what_the_package_says_of_itself(package, bellwire):
    version = done(bellwire, "--version").split()[1]
    field = lambda name: done("dpkg-deb", "--field", package, name).strip()
    assert field("Package") == "bellwire" and field("Version") == version
    assert field("Architecture") == done("dpkg", "--print-architecture").strip()
    assert re.match(r"libc6 \(>= 2\.\d+\), ", field("Depends"))
    assert field("Description").splitlines()[0] in (ROOT / "Cargo.toml").read_text()


def test_what_is_in_it(package):
    lines = done("dpkg-deb", "--contents", package).splitlines()
    assert all("root/root" in line for line in lines)
    files = {line.split()[5].removeprefix("./") for line in lines}
    assert {
        "usr/bin/bellwire", SERVICE, "etc/default/bellwire", "etc/bellwire/",
        "usr/share/man/man1/bellwire.1.gz", "usr/share/man/man1/bellwire-run.1.gz",
        "usr/share/bash-completion/completions/bellwire", "usr/share/zsh/vendor-completions/_bellwire",
        "usr/share/fish/vendor_completions.d/bellwire.fish",
        "usr/share/doc/bellwire/README.md", "usr/share/doc/bellwire/copyright",
        "usr/share/doc/bellwire/demo-show/show.toml",
    } <= files


def test_nothing_may_be_written_by_others_and_only_programs_run(installed):
    for path in installed.rglob("*"):
        mode = path.stat().st_mode
        assert not mode & (stat.S_IWGRP | stat.S_IWOTH), path
        assert path.is_dir() or bool(mode & stat.S_IXUSR) == (path.parent.name == "bin"), path


def test_the_program_in_it_runs_and_the_demo_show_is_sound(installed, bellwire):
    program = installed / "usr" / "bin" / "bellwire"
    assert done(program, "--version") == done(bellwire, "--version")
    done(program, "check", installed / "usr/share/doc/bellwire/demo-show")


@pytest.mark.parametrize("shell", ["bash", "sh"])
def test_scripts_in_the_package_parse(package, installed, tmp_path, shell):
    """The completions are bash's, the maintainer's scripts are plain shell."""
    done("dpkg-deb", "--control", package, tmp_path / "control")
    scripts = {
        "bash": [installed / "usr/share/bash-completion/completions/bellwire"],
        "sh": [tmp_path / "control" / name for name in ("postinst", "prerm", "postrm")],
    }[shell]
    for script in scripts:
        done(shell, "-n", script)


def test_systemd_understands_every_word_of_the_unit(installed, tmp_path):
    root = shutil.copytree(installed, tmp_path / "root")
    # What the unit orders itself after, as systemd's own package has it.
    for pattern in ("*.target", "*.slice"):
        for unit in Path("/usr/lib/systemd/system").glob(pattern):
            shutil.copy(unit, root / "usr/lib/systemd/system", follow_symlinks=False)
    ran = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", f"--root={root}", "bellwire.service"],
        capture_output=True, text=True, timeout=60,
    )
    # A key that it does not know it only complains of.
    assert ran.returncode == 0 and ran.stderr == ""


def test_systemd_finds_the_service_well_shut_in(installed):
    """Exposure in tenths, 100 for a service without any restriction."""
    done("systemd-analyze", "security", "--offline=yes", "--threshold=20", "--no-pager", installed / SERVICE)


def settings(unit):
    """The unit's settings, each with all its values."""
    found = {}
    for line in unit.read_text().splitlines():
        if "=" in line and not line.startswith("#"):
            key, _, value = line.partition("=")
            found.setdefault(key, []).append(value)
    return found


def test_the_unit_is_one_of_the_notify_kind_that_a_restart_leaves_disarmed(installed):
    unit = settings(installed / SERVICE)
    assert unit["Type"] == ["notify"] and float(unit["WatchdogSec"][0]) > 1.0
    assert unit["StateDirectory"] == unit["ConfigurationDirectory"] == ["bellwire"]
    assert unit["Restart"] == ["on-abnormal"]
    assert not any("--arm" in line for line in unit["ExecStart"]), "it comes back disarmed"
    assert {"CAP_SYS_NICE", "CAP_IPC_LOCK"} == set(unit["AmbientCapabilities"][0].split())


def test_the_command_of_the_unit_gets_ready_on_the_show_under_etc(installed, demo_show, tmp_path):
    """As systemd would run it: the unit's own command, its folders, its notify socket."""
    shutil.copytree(demo_show, tmp_path / "etc" / "bellwire" / "show")
    (command,) = settings(installed / SERVICE)["ExecStart"]
    words = command.replace("%E", str(tmp_path / "etc")).split()
    assert words.pop() == "$BELLWIRE_OPTIONS"
    assert (installed / words[0].lstrip("/")).is_file(), "the unit runs the program of the package"
    manager, state = Manager(tmp_path), tmp_path / "state"
    state.mkdir()
    environment = os.environ | manager.environment(3.0) | {"STATE_DIRECTORY": str(state)}
    process = subprocess.Popen(
        [installed / words[0].lstrip("/"), *words[1:], *ANY_PORT], env=environment,
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )
    try:
        manager.until("READY=1", seconds=30)
        manager.until("STATUS=Salt Lantern: disarmed")
        process.terminate()
        assert process.wait(timeout=30) == 0
    finally:
        process.kill()
    assert any(path.is_file() for path in state.rglob("*")), "the journal lies in the folder of the service"
