"""The command-line client: exit codes 0 accepted, 1 refused, 2 wrong usage, 3 not reached."""

import json
import subprocess

import pytest

from road.waiting import until


def test_accepted(daemon):
    assert daemon.command("standby", "1")[0] == 0
    assert daemon.command("go", "1")[0] == 0
    assert daemon.cue("1") == "running"


def test_refused_with_the_reasons_on_standard_error(daemon):
    code, said, complaint = daemon.command("go", "1")
    assert code == 1 and said == "" and complaint.strip()


def test_a_standby_that_is_not_ready_says_why(daemon):
    code, said, complaint = daemon.command("standby", "2")
    assert code == 0
    assert "1" in said + complaint


def test_several_cues_on_standby(daemon):
    assert daemon.command("standby", "1", "2")[0] == 0
    assert [entry["cue"] for entry in daemon.status()["standby"]] == ["1", "2"]


@pytest.mark.parametrize("words", [["go", "one"], ["go", "01"], ["master"], ["master", "fast"], ["standby"], ["gone"]])
def test_wrong_usage(daemon, words):
    assert daemon.command(*words)[0] == 2


def test_not_reached(bellwire):
    # Port 9 (discard) is not served here.
    done = subprocess.run([bellwire, "status", "--to", "127.0.0.1:9"], capture_output=True, text=True, timeout=20)
    assert done.returncode == 3
    assert "127.0.0.1:9" in done.stderr and done.stdout == ""


def test_status(daemon):
    code, said, _ = daemon.command("status")
    assert code == 0 and said


def test_arm_disarm_and_master(daemon):
    assert daemon.command("disarm")[0] == 0
    until("disarmed", lambda: not daemon.status()["armed"])
    assert daemon.command("arm")[0] == 0
    daemon.until_armed()
    assert daemon.command("master", "0.5")[0] == 0
    until("half", lambda: daemon.status()["master"] == 0.5)
    assert daemon.command("master", "2")[0] in (1, 2)
    assert daemon.status()["master"] == 0.5


def test_stop_and_reset(daemon):
    assert daemon.command("stop")[0] == 0
    daemon.until_standstill()
    assert daemon.command("stop")[0] == 0
    assert daemon.command("go", "1")[0] == 1
    assert daemon.command("reset")[0] == 0
    assert daemon.status()["stopped"] is None


def run(bellwire, *words):
    return subprocess.run([bellwire, *words], capture_output=True, text=True, timeout=30, stdin=subprocess.DEVNULL)


def test_a_show_with_errors_does_not_run(bellwire, bench):
    rig = bench / "rigs" / "sloop.toml"
    rig.write_text(rig.read_text().replace("speed = 1.0", "sped = 1.0"))
    done = run(bellwire, "run", bench, "--http", "127.0.0.1:0", "--osc", "127.0.0.1:0", "--stop-port", "127.0.0.1:0")
    assert done.returncode == 1
    assert "sloop.toml" in done.stderr and "speed" in done.stderr


def test_only_loopback_without_access(bellwire, bench):
    done = run(bellwire, "run", bench, "--http", "0.0.0.0:0")
    assert done.returncode in (1, 2)
    assert "access.toml" in done.stderr


def test_completions(bellwire):
    for shell in ("bash", "zsh", "fish"):
        done = run(bellwire, "completions", shell)
        assert done.returncode == 0 and "standby" in done.stdout


def test_termination_stops_first_and_ends_well(daemon):
    daemon.command("standby", "1")
    daemon.command("go", "1")
    until("the sloop moves", lambda: daemon.position("sloop", "travel") > 0.2)
    assert daemon.terminate() == 0


def test_one_document_of_json(bellwire, bench):
    good = run(bellwire, "check", bench, "--json")
    assert good.returncode == 0
    assert json.loads(good.stdout)["show"] == "Bench"
    (bench / "show.toml").write_text("[show\n")
    bad = run(bellwire, "check", bench, "--json")
    assert bad.returncode == 1
    assert [finding["code"] for finding in json.loads(bad.stdout)["findings"]] == ["syntax"]
