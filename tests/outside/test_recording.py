"""Takes recorded of a running show: primed, begun by the motion itself, kept, played back; and a daemon killed on the way."""

import csv
import json
import subprocess
import time

import numpy
import pytest

from road.daemon import Daemon
from road.rpc import Refused, Rpc
from road.waiting import until


def rows(path):
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def column(table, name):
    return numpy.array([float(row[name]) for row in table])


def run_cue(rpc, daemon, number="1"):
    rpc.call("standby", cues=[number])
    rpc.call("go", cue=number)
    return lambda: daemon.until_cue(number, "done")


def test_a_cue_is_recorded_kept_and_played_back_within_its_tolerance(bellwire, bench, daemon, tmp_path):
    """Cue 1 of the bench takes sloop 1.5 m along in 3 s: a known signal, the double-S, recorded from standstill."""
    take = bench / "takes" / "first.csv"
    with Rpc(daemon.address) as rpc:
        assert daemon.status()["take"]["state"] == "idle"
        rpc.call("prime", rigs=["sloop"], name="first")
        assert daemon.status()["take"] == {"state": "primed", "rigs": ["sloop"], "name": "first", "elapsed": 0.0, "trouble": None}
        time.sleep(0.7)
        assert daemon.status()["take"]["state"] == "primed", "nothing moves yet"
        ended = run_cue(rpc, daemon)
        until("it records", lambda: daemon.status()["take"]["state"] == "recording")
        assert not take.exists(), "it has no name before it is kept"
        ended()
        # As a hand would: it is at rest for a moment, and so the take ends at rest.
        time.sleep(0.5)
        rpc.call("record", on=False)
        assert daemon.status()["take"]["elapsed"] >= 2.9
        assert rpc.call("keep") == {"accepted": True, "take": "first"}
        assert daemon.status()["take"]["state"] == "idle"
    [*_] = table = rows(take)
    times, travel = column(table, "time"), column(table, "sloop.travel")
    assert travel[0] == 0.0 and numpy.all(numpy.diff(times) > 0)
    assert travel[-1] == 1.5
    assert times[numpy.nonzero(travel)[0][0]] == pytest.approx(0.5, abs=0.05), "half a second of rest before it"
    planned = subprocess.run([bellwire, "plan", bench, "1", "--csv", "--every", "0.002"], capture_output=True, text=True).stdout
    plan = list(csv.DictReader(planned.splitlines()))
    path_at, path = column(plan, "time"), column(plan, "sloop.travel position")
    # The same way, later by the standstill before it; a sample comes at most a fiftieth of a second late.
    late = numpy.interp(0.75, travel[travel.argmin() : travel.argmax() + 1], times[travel.argmin() : travel.argmax() + 1])
    late -= numpy.interp(0.75, path, path_at)
    assert numpy.abs(numpy.interp(times - late, path_at, path) - travel).max() < 2e-4
    # What was recorded is played: within the tolerance of every sample, under every limit, from rest to rest.
    told = json.loads(subprocess.run([bellwire, "take", bench, "first", "--json"], capture_output=True, text=True).stdout)
    [rig] = told["take"]["rigs"]
    assert told["findings"] == [] and told["take"]["recorded"] and told["take"]["survey"]
    assert (rig["run_in"], rig["run_out"]) == (0.0, 0.0) and rig["axes"][0]["farthest"] <= rig["axes"][0]["tolerance"]
    print(f"farthest sample {rig['axes'][0]['farthest']:.5f} m, least stretch {rig['least_stretch']:.3f}")


def test_what_may_not_be_asked_now_says_why_and_a_discarded_take_is_gone(bench, daemon):
    def refused(method, says, **params):
        with pytest.raises(Refused) as why:
            rpc.call(method, **params)
        assert says in str(why.value), why.value

    with Rpc(daemon.address) as rpc:
        refused("record", "nothing is primed", on=True)
        refused("keep", "no take has been recorded")
        refused("prime", "there is no rig 'slop'", rigs=["slop"])
        refused("prime", "without spaces, dots and slashes", rigs=["sloop"], name="../x")
        refused("prime", "expected at least one rig", rigs=[])
        rpc.call("prime", rigs=["pike", "sloop"])
        rpc.call("record", on=True)
        until("it records", lambda: daemon.status()["take"]["elapsed"] > 0.3)
        refused("prime", "stop it first", rigs=["sloop"])
        refused("discard", "stop it first")
        rpc.call("record", on=False)
        refused("record", "kept or discarded", on=True)
        rpc.call("discard")
        assert daemon.status()["take"]["state"] == "idle"
        assert list((bench / "takes").iterdir()) == []
        rpc.call("prime", rigs=["pike"])
        rpc.call("record", on=False)
        assert daemon.status()["take"]["state"] == "idle"


def test_a_killed_daemon_loses_less_than_a_second(bellwire, bench):
    with Daemon(bellwire, bench, "--arm") as daemon:
        daemon.until_armed()
        with Rpc(daemon.address) as rpc:
            rpc.call("prime", rigs=["sloop"])
            rpc.call("record", on=True)
            until("two seconds of it", lambda: daemon.status()["take"]["elapsed"] > 2.0)
            elapsed = daemon.status()["take"]["elapsed"]
            daemon.kill()
    left = bench / "takes" / ".recording.csv"
    torn = left.read_bytes()
    left.write_bytes(torn + b"99.0000,0.0")
    with Daemon(bellwire, bench):
        kept = rows(bench / "takes" / "rescued-1.csv")
        assert column(kept, "time")[-1] > elapsed - 1.0
        assert not left.exists()
