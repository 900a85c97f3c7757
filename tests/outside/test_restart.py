"""A start is disarmed and moves nothing, also after the daemon was killed in the middle of a cue."""

import time

from road.daemon import Daemon
from road.osc import Udp
from road.waiting import until


def test_it_starts_disarmed_and_never_moves_because_it_started(bellwire, bench):
    with Daemon(bellwire, bench) as daemon, Udp(daemon.osc) as udp:
        until("poses", lambda: daemon.position("sloop", "travel") is not None)
        before = daemon.status()
        assert before["armed"] is False and before["stopped"] is None
        udp.request("standby", "1")
        assert "arm" in udp.request("go", "1")
        time.sleep(0.5)
        after = daemon.status()
        for rig, status in after["rigs"].items():
            for axis, now in status["axes"].items():
                then = before["rigs"][rig]["axes"][axis]
                assert now["setpoint"] == then["setpoint"] and now["position"] == then["position"]


def test_after_a_kill_nothing_goes_on(bellwire, bench):
    with Daemon(bellwire, bench, "--arm") as daemon, Udp(daemon.osc) as udp:
        daemon.until_armed()
        udp.request("standby", "1")
        udp.request("go", "1")
        until("the sloop moves", lambda: daemon.position("sloop", "travel") > 0.2)
        daemon.kill()
    with Daemon(bellwire, bench) as daemon:
        time.sleep(0.5)
        status = daemon.status()
        assert status["armed"] is False
        assert status["running"] == [] and status["standby"] == []
        assert set(status["cues"].values()) == {"idle"}


def test_it_starts_within_a_second_or_two(bellwire, bench):
    started = time.monotonic()
    with Daemon(bellwire, bench):
        assert time.monotonic() - started < 3.0
