"""A show is run from outside, by each road: standby, GO, hold, resume, return, stop, reset."""

import time

import pytest

from road.ask import on_road
from road.waiting import until


@pytest.fixture(params=["udp", "tcp", "websocket", "command"])
def ask(request, daemon):
    return on_road(request.param, daemon)


def standby(daemon):
    return daemon.status()["standby"][0]


def sloop(daemon):
    return daemon.position("sloop", "travel")


def stands_still(daemon, seconds=0.4):
    before = daemon.status()["rigs"]
    time.sleep(seconds)
    after = daemon.status()["rigs"]
    return all(
        axis["setpoint"] == after[rig]["axes"][name]["setpoint"]
        for rig, status in before.items()
        for name, axis in status["axes"].items()
    )


def test_standby_moves_nothing_and_go_moves(daemon, ask):
    assert ask("standby", "1") == "accepted"
    assert standby(daemon)["cue"] == "1" and standby(daemon)["ready"], standby(daemon)
    assert stands_still(daemon)
    assert ask("go", "1") == "accepted"
    assert daemon.cue("1") == "running"
    until("the sloop moves", lambda: sloop(daemon) > 0.05)
    daemon.until_cue("1", "done")
    assert sloop(daemon) == pytest.approx(1.5, abs=0.02)
    assert daemon.status()["standby"] == []


def test_hold_and_resume(daemon, ask):
    ask("standby", "1")
    ask("go", "1")
    until("the sloop moves", lambda: sloop(daemon) > 0.2)
    assert ask("hold") == "accepted"
    daemon.until_cue("1", "holding")
    until("at rest", lambda: daemon.status()["running"][0]["rate"] == 0.0)
    assert stands_still(daemon)
    held = sloop(daemon)
    assert 0.2 < held < 1.4
    assert ask("resume") == "accepted"
    daemon.until_cue("1", "done")
    assert sloop(daemon) == pytest.approx(1.5, abs=0.02)


def test_return_goes_back_only_on_a_go(daemon, ask):
    ask("standby", "1")
    ask("go", "1")
    until("the sloop moves", lambda: sloop(daemon) > 0.3)
    ask("hold", "1")
    until("at rest", lambda: daemon.status()["running"][0]["rate"] == 0.0)
    assert ask("return", "1") == "accepted"
    assert standby(daemon)["returning"]
    assert stands_still(daemon)
    assert ask("go", "1") == "accepted"
    until("the way back", lambda: daemon.cue("1") == "returning")
    daemon.until_cue("1", "idle")
    assert sloop(daemon) == pytest.approx(0.0, abs=0.02)


def test_stop_latches_and_reset_moves_nothing(daemon, ask):
    ask("standby", "1")
    ask("go", "1")
    until("the sloop moves", lambda: sloop(daemon) > 0.3)
    assert ask("stop") == "accepted"
    daemon.until_standstill()
    assert daemon.cue("1") == "stopped"
    stopped_at = sloop(daemon)
    assert 0.3 < stopped_at < 1.4

    time.sleep(0.6)
    assert "stop" in ask("go", "1").lower()
    assert daemon.command("reset")[0] == 0
    assert daemon.status()["stopped"] is None
    assert stands_still(daemon)

    # It is carried on from where it stopped, by a standby and a GO of its own.
    if not daemon.status()["armed"]:
        assert daemon.command("arm")[0] == 0
    assert ask("standby", "1") == "accepted"
    until("ready", lambda: standby(daemon)["ready"])
    assert standby(daemon)["from"] > 0.5
    assert stands_still(daemon)
    assert ask("go", "1") == "accepted"
    daemon.until_cue("1", "done")
    assert sloop(daemon) == pytest.approx(1.5, abs=0.02)


def test_refusals_say_why(daemon, ask):
    assert ask("go") != "accepted"
    assert "99" in ask("standby", "99")
    ask("standby", "1")
    assert "1" in ask("go", "2")
    assert daemon.status()["running"] == []


def test_a_go_is_consumed_once(daemon, ask):
    ask("standby", "1")
    assert ask("go", "1") == "accepted"
    assert ask("go", "1") != "accepted"
    assert ask("go") != "accepted"
    assert [cue["cue"] for cue in daemon.status()["running"]] == ["1"]


def test_a_follow_starts_by_itself_after_its_wait(daemon, ask):
    ask("standby", "1")
    ask("go", "1")
    daemon.until_cue("1", "done")
    ask("standby", "2")
    assert ask("go", "2") == "accepted"
    daemon.until_cue("2", "done")
    until("the follow waits", lambda: daemon.cue("2.5") in ("waiting", "running"), seconds=1)
    daemon.until_cue("2.5", "done")
    assert daemon.position("pike", "pan") == pytest.approx(40.0, abs=0.5)
    assert daemon.position("pike", "zoom") == pytest.approx(60.0, abs=1.0)


def test_a_cue_asks_for_what_it_needs(daemon, ask):
    ask("standby", "1")
    ask("go", "1")
    daemon.until_cue("1", "done")
    ask("standby", "2")
    ask("go", "2")
    daemon.until_cue("2.5", "done")
    ask("standby", "12")
    assert not standby(daemon)["ready"]
    assert any("deck clear" in reason for reason in standby(daemon)["reasons"])
    assert "deck clear" in ask("go", "12")
    assert daemon.status()["running"] == []
