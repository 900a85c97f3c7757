"""The daemon as a service: what it tells its manager, by sd_notify(3)."""

import os
import signal

import pytest

from road.daemon import Daemon
from road.manager import Manager
from road.thread_halt import halted
from road.waiting import until

WATCHDOG = 0.4


@pytest.fixture
def manager(tmp_path):
    return Manager(tmp_path)


@pytest.fixture
def served(bellwire, bench, manager):
    """A daemon that a manager started, with a watchdog."""
    with Daemon(bellwire, bench, environment=manager.environment(WATCHDOG)) as running:
        manager.until("READY=1")
        yield running


def test_ready_is_told_once_and_every_road_is_open_then(served, manager):
    assert served.status()["loop"]["tick"] > 0
    manager.until("WATCHDOG=1")
    assert manager.hear()[0] == "READY=1", "nothing comes before it"
    assert manager.hear().count("READY=1") == 1


def test_a_show_with_errors_is_never_ready(bellwire, bench, manager):
    (bench / "show.toml").write_text("name = 3\n")
    with pytest.raises(AssertionError):
        Daemon(bellwire, bench, environment=manager.environment(WATCHDOG))
    assert manager.hear() == []


def test_pings_keep_well_within_the_period(served, manager):
    assert manager.count("WATCHDOG=1", 5 * WATCHDOG) >= 8


def test_without_a_watchdog_there_are_no_pings(bellwire, bench, manager):
    with Daemon(bellwire, bench, environment=manager.environment()):
        manager.until("READY=1")
        assert manager.count("WATCHDOG=1", 1.0) == 0


def test_a_process_that_stands_still_does_not_ping(served, manager):
    manager.until("WATCHDOG=1")
    os.kill(served.process.pid, signal.SIGSTOP)
    manager.count("WATCHDOG=1", 0.1)
    assert manager.count("WATCHDOG=1", 3 * WATCHDOG) == 0
    os.kill(served.process.pid, signal.SIGCONT)
    assert manager.count("WATCHDOG=1", 3 * WATCHDOG) > 0


def test_a_tick_loop_that_hangs_does_not_ping_though_all_else_lives(served, manager):
    manager.until("WATCHDOG=1")
    with halted(served.process.pid, "tick"):
        # One ping may still stand for ticks done before.
        manager.count("WATCHDOG=1", WATCHDOG)
        assert manager.count("WATCHDOG=1", 3 * WATCHDOG) == 0
        assert served.get("/show")["show"] == "Bench", "the other threads live"
    assert manager.count("WATCHDOG=1", 3 * WATCHDOG) > 0


def test_the_status_says_how_the_show_stands(served, manager):
    manager.until("STATUS=Bench: disarmed")
    # Every pose must have been read before it can be armed.
    until("armed", lambda: served.command("arm")[0] == 0)
    manager.until("STATUS=Bench: armed")
    assert served.command("stop")[0] == 0
    until("STOPPED in the status", lambda: "STOPPED" in manager.status())


def test_stopping_is_told_before_the_end(served, manager):
    assert served.terminate() == 0
    told = manager.hear()
    assert told.count("STOPPING=1") == 1
    assert "asked to end" in manager.status(), f"the status says why: {manager.status()}"


def test_a_manager_that_reads_nothing_holds_up_neither_the_show_nor_the_end(bellwire, bench, manager):
    with Daemon(bellwire, bench, environment=manager.environment(0.02)) as running:
        until("armed", lambda: running.command("arm")[0] == 0)
        assert running.command("standby", "1")[0] == 0
        assert running.command("go", "1")[0] == 0
        running.until_cue("1", "done")
        assert running.terminate() == 0
    assert 0 < len(manager.hear()) < 100, "it was told as much as its socket holds, and then no more"
