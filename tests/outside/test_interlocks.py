"""Interlocks refuse, hold and stop, and say why; nothing resumes by itself."""

import threading
import time
from contextlib import contextmanager

import pytest

from road.daemon import Daemon
from road.osc import Udp
from road.waiting import until

CUE = """
[[cue]]
number = "1"
name = "The one under test"
  [[cue.move]]
  rig = "{rig}"
  to = {{ {axis} = {to} }}
  time = {time}
"""


@pytest.fixture
def staged(bellwire, bench):
    """Starts a daemon whose only cue is the one asked for."""

    @contextmanager
    def stage(**cue):
        (bench / "cues" / "act.toml").write_text(CUE.format(**cue))
        with Daemon(bellwire, bench, "--arm") as daemon, Udp(daemon.osc) as udp:
            daemon.until_armed()
            yield daemon, udp

    return stage


@contextmanager
def kept_true(daemon, name):
    """A sensor that reports ten times a second."""
    end = threading.Event()

    def report():
        with Udp(daemon.osc) as udp:
            while not end.wait(0.1):
                udp.ask("/bellwire/input", name, True)

    sensor = threading.Thread(target=report)
    sensor.start()
    try:
        until("seen", lambda: daemon.status()["inputs"][name]["truth"] is True)
        yield
    finally:
        end.set()
        sensor.join()


def test_refuse_at_the_start(staged):
    with staged(rig="pike", axis="pan", to=-40.0, time=2.0) as (daemon, udp):
        udp.request("standby", "1")
        assert not daemon.status()["standby"][0]["ready"]
        assert "deck clear for the head" in udp.request("go", "1")
        udp.request("input", "deck clear", False)
        assert "deck clear for the head" in udp.request("go", "1")
        udp.request("input", "deck clear", True)
        until("true", lambda: daemon.status()["interlocks"]["deck clear for the head"] is True)
        udp.request("standby", "1")
        time.sleep(0.6)
        assert udp.request("go", "1") == "accepted"
        # `refuse` guards the start alone.
        udp.request("input", "deck clear", False)
        daemon.until_cue("1", "done")


def test_the_other_direction_is_free(staged):
    with staged(rig="pike", axis="pan", to=40.0, time=2.0) as (daemon, udp):
        udp.request("standby", "1")
        assert udp.request("go", "1") == "accepted"
        daemon.until_cue("1", "done")


def test_hold_when_a_sensor_falls_silent(staged):
    with staged(rig="sloop", axis="travel", to=-2.0, time=5.0) as (daemon, udp):
        with kept_true(daemon, "gate closed"):
            udp.request("standby", "1")
            assert udp.request("go", "1") == "accepted"
            until("the sloop moves", lambda: daemon.position("sloop", "travel") < -0.3)
        daemon.until_cue("1", "holding", seconds=3)
        until("at rest", lambda: daemon.status()["running"][0]["rate"] == 0.0)
        assert daemon.status()["stopped"] is None
        assert "gate" in udp.request("resume", "1")
        with kept_true(daemon, "gate closed"):
            held = daemon.position("sloop", "travel")
            time.sleep(0.5)
            assert daemon.cue("1") == "holding", "it does not resume by itself"
            assert daemon.position("sloop", "travel") == pytest.approx(held, abs=0.001)
            assert udp.request("resume", "1") == "accepted"
            daemon.until_cue("1", "done")


def test_stop_and_the_cause_that_keeps_it(staged):
    with staged(rig="lantern", axis="height", to=5.9, time=4.0) as (daemon, udp):
        udp.request("input", "hatch shut", True)
        udp.request("standby", "1")
        assert udp.request("go", "1") == "accepted"
        until("the lantern rises", lambda: daemon.position("lantern", "height") > 5.1)
        udp.request("input", "hatch shut", False)
        daemon.until_standstill()
        assert "hatch for the lantern" in str(daemon.status()["stopped"])
        assert daemon.cue("1") == "stopped"
        code, _, complaint = daemon.command("reset")
        assert code == 1 and "hatch for the lantern" in complaint
        udp.request("input", "hatch shut", True)
        until("true", lambda: daemon.status()["interlocks"]["hatch for the lantern"] is True)
        assert daemon.status()["stopped"], "a latched stop needs its reset"
        assert daemon.command("reset")[0] == 0
