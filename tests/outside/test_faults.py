"""Rigs made to fail while the show runs, by the command line: what the table of faults says is done, and how it ends."""

import json
import re
import subprocess
import time
import urllib.request

import pytest

from road.daemon import Daemon
from road.osc import Udp
from road.rpc import Refused, Rpc
from road.waiting import until

# The kind, of which rig and by how much; what is found; whether everything stops.
RUNNING = [
    ("link-lost", "sloop", None, "link-lost", True),
    ("mute", "sloop", None, "link-lost", True),
    ("late", "sloop", 0.15, "late-reports", False),
    ("drive", "sloop", None, "drive", True),
    ("stuck", "sloop", None, "stuck", True),
    ("reversed", "sloop", None, "reversed", True),
    ("jump", "sloop", 1.0, "jump", True),
    ("not-a-number", "sloop", None, "not-a-number", True),
    ("wrong-end", "sloop", 2.5, "stuck", True),
]


@pytest.fixture
def daemon(bellwire, bench):
    with Daemon(bellwire, bench, "--arm") as running:
        running.until_armed()
        yield running


@pytest.fixture
def events(daemon):
    """A client that is told of everything: what is over once its rig has no power is seen by nobody else."""
    with Rpc(daemon.address, name="watcher") as rpc:
        rpc.call("subscribe", hz=1)
        yield rpc


def inject(daemon, rig, kind, *more):
    assert daemon.command("fault", rig, kind, *more)[0] == 0, f"{kind} of {rig}"


def fire(daemon, cue):
    code, said, _ = daemon.command("standby", cue)
    assert code == 0 and said.startswith("ready"), said
    assert daemon.command("go", cue)[0] == 0


def found(events, kind):
    """The fault as it was told when it was found."""
    return events.until("event", lambda event: event["kind"] == "fault" and event["what"] == kind, seconds=10)


def is_mended(daemon):
    """After the fault has ended an operator resets, and nothing moves by that."""
    until("a reset", lambda: daemon.command("reset")[0] == 0, seconds=10)
    before = {name: rig["axes"] for name, rig in daemon.status()["rigs"].items()}
    time.sleep(0.3)
    status = daemon.status()
    assert status["stopped"] is None and status["standby"] == []
    assert all(running["state"] == "stopped" for running in status["running"])
    for name, axes in before.items():
        for axis, stood in axes.items():
            assert status["rigs"][name]["axes"][axis]["setpoint"] == stood["setpoint"], f"{name}.{axis} moves"


@pytest.mark.parametrize(("kind", "rig", "size", "expected", "stops"), RUNNING)
def test_a_fault_in_the_middle_of_a_cue(daemon, events, kind, rig, size, expected, stops):
    fire(daemon, "1")
    time.sleep(0.8)
    inject(daemon, rig, kind, *(["--size", str(size)] if size is not None else []))
    fault = found(events, expected)
    assert fault["rig"] == rig and fault["fault"]
    status = daemon.status()
    if kind != "jump":
        assert any(kind in told for told in status["rigs"][rig]["injected"]), status["rigs"][rig]
    assert all(other["injected"] == [] for name, other in status["rigs"].items() if name != rig)
    if stops:
        stopped = until("stopped", lambda: daemon.status()["stopped"])
        assert any(rig in cause for cause in stopped["causes"]), "the stop tells its cause"
    else:
        daemon.until_cue("1", "done")
        assert daemon.status()["stopped"] is None
    inject(daemon, rig, kind, "--off")
    assert daemon.status()["rigs"][rig]["injected"] == []
    if stops:
        daemon.until_standstill()
        is_mended(daemon)


def test_a_rig_that_ignores_the_stop_loses_its_power(daemon, events):
    fire(daemon, "1")
    time.sleep(1.2)
    inject(daemon, "sloop", "ignores-stop")
    assert daemon.command("stop")[0] in (0, 1)
    # Its power goes before it is twice its lag limit away, since the setpoints rest by then.
    assert found(events, "following")["reaction"] == "stop-then-disable"
    until("without power", lambda: daemon.status()["rigs"]["sloop"]["state"] in ("disabled", "fault"))
    inject(daemon, "sloop", "ignores-stop", "--off")
    is_mended(daemon)


def test_an_axis_that_slips_while_it_stands(daemon, events):
    inject(daemon, "sloop", "drift", "--size", "0.1")
    assert found(events, "creeps")["axis"] == "sloop.travel"
    inject(daemon, "sloop", "drift", "--off")
    is_mended(daemon)


def test_a_brake_that_does_not_hold(daemon, events):
    inject(daemon, "lantern", "brake-slip", "--size", "-0.2")
    daemon.command("stop")
    assert found(events, "brake-slip")["rig"] == "lantern"
    inject(daemon, "lantern", "brake-slip", "--off")
    is_mended(daemon)


def test_what_makes_no_fault_is_told(daemon):
    def refused(*words):
        code, _, complained = daemon.command("fault", *words)
        assert code == 1
        return complained

    assert "the nearest is sloop" in refused("slop", "stuck")
    assert "the nearest is stuck" in refused("sloop", "stuk")
    assert "expected link-lost, mute" in refused("sloop", "broken")
    assert "has several: say which" in refused("pike", "stuck")
    assert "expected pan, zoom" in refused("pike", "stuck", "--axis", "tilt")
    assert "leave the axis out" in refused("pike", "mute", "--axis", "pan")
    assert "needs a size: seconds above 0, at most 1" in refused("sloop", "late")
    assert "has no size" in refused("sloop", "stuck", "--size", "1")
    assert "seconds above 0" in refused("sloop", "late", "--size", "2")
    assert all(rig["injected"] == [] for rig in daemon.status()["rigs"].values())


def test_the_status_says_what_is_injected(daemon):
    inject(daemon, "pike", "stuck", "--axis", "zoom")
    assert daemon.status()["rigs"]["pike"]["injected"] == ["stuck of zoom"]
    code, said, _ = daemon.command("status")
    assert code == 0 and "a fault is injected into pike: stuck of zoom" in said
    until("the log", lambda: any("injects a fault into the simulated pike" in line for line in daemon.complained))


def test_osc_makes_nothing_fail(daemon):
    with Udp(daemon.osc) as udp:
        assert "there is no" in udp.request("fault", "sloop", "stuck")


def test_a_number_for_a_name_is_no_fault(daemon):
    with Rpc(daemon.address) as rpc:
        for params in [{}, {"rig": 1, "kind": "stuck", "on": True}, {"rig": "sloop", "kind": "stuck", "on": 1},
                       {"rig": "sloop", "kind": "late", "on": True, "size": "much"},
                       {"rig": "sloop", "kind": "stuck", "on": True, "axes": "travel"}]:
            with pytest.raises(Refused) as error:
                rpc.call("fault", **params)
            assert error.value.code == -32602


def test_whoever_is_no_operator_lets_nothing_fail(bellwire, bench):
    tokens = {}
    for role in ("observer", "caller"):
        made = subprocess.run([bellwire, "access", bench, "add", role, "--role", role], capture_output=True, text=True)
        assert made.returncode == 0, made.stderr
        tokens[role] = re.search(r"[A-Za-z0-9_-]{40,}", made.stdout)[0]
    with Daemon(bellwire, bench) as daemon:
        for role, token in tokens.items():
            with Rpc(daemon.address, token=token) as rpc, pytest.raises(Refused) as error:
                rpc.call("fault", rig="sloop", kind="stuck", on=True)
            assert any("operator" in reason for reason in error.value.reasons), f"{role}: {error.value.reasons}"
        assert daemon.status()["rigs"]["sloop"]["injected"] == []


def test_a_repeated_request_jumps_once(daemon):
    """The encoder stays off by what it has jumped, so a second jump would show."""
    with Rpc(daemon.address, name="desk") as rpc:
        for _ in range(2):
            rpc.call("fault", rig="sloop", kind="jump", size=0.5, on=True, key="once")
            time.sleep(0.2)
    assert daemon.position("sloop", "travel") == pytest.approx(0.5, abs=0.01)


def test_the_journal_tells_who_let_which_rig_fail_and_replays(bellwire, daemon, events):
    with Rpc(daemon.address, name="desk") as desk:
        fire(daemon, "1")
        time.sleep(0.8)
        desk.call("fault", rig="sloop", kind="drift", size=-0.4, on=True)
        told = events.until("event", lambda event: event["kind"] == "injected")
        assert (told["rig"], told["what"], told["size"], told["on"], told["by"]) == ("sloop", "drift", -0.4, True, "desk")
        found(events, "following")
        assert "bellwire_rig_simulated_faults{rig=\"sloop\"} 1" in metrics(daemon)
        desk.call("fault", rig="sloop", kind="drift", on=False)
        daemon.until_standstill()
        is_mended(daemon)
    assert "bellwire_rig_simulated_faults{" not in metrics(daemon)
    assert daemon.terminate() == 0
    done = subprocess.run([bellwire, "journal", "--json", daemon.journal], capture_output=True, text=True, timeout=60)
    kept = json.loads(done.stdout)
    assert done.returncode == 0 and kept["sound"] and kept["replayed"] == kept["ticks"]
    of_desk = [fault["text"] for fault in kept["faults"] if "desk" in fault["text"]]
    assert of_desk == [
        "desk injects a fault into the simulated sloop: drift of travel, -0.4 m/s",
        "desk ends a fault of the simulated sloop: drift of travel",
    ]


def metrics(daemon):
    with urllib.request.urlopen(f"http://{daemon.address}/metrics", timeout=5) as response:
        return response.read().decode()
