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
        primed = {"state": "primed", "unfinished": False, "rigs": ["sloop"], "name": "first", "elapsed": 0.0, "trouble": None}
        assert daemon.status()["take"] == primed
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
        lines = '  [[cue.move]]\n  rig = "sloop"\n  take = "first"\n'
        assert rpc.call("keep") == {"accepted": True, "take": "first", "lines": lines}
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
    # And really, from its first pose: where the cue had it at that time, whatever we say of it ourselves.
    with Rpc(daemon.address) as rpc:
        assert not rpc.call("play", take="first")["ready"], "it stands at the take's end"
        until("the preset is proved", lambda: daemon.status()["standby"][0]["preset"])
        assert rpc.call("preset", cue="take")["ready"]
        rpc.call("go")
        until("it is there", lambda: not daemon.status()["running"] and not daemon.status()["standby"], 20.0)
        until("it stands", lambda: rpc.call("play", take="first")["ready"])
        rpc.call("subscribe", hz=30)
        rpc.call("go", cue="take")
        played, runs = [], True
        while runs or not played:
            status = rpc.until("status")
            runs = status["running"]
            played += [(run["time"], status["rigs"]["sloop"]["axes"]["travel"]["setpoint"]) for run in runs]
    at, setpoint = numpy.array(played).T
    assert len(played) > 60 and at[0] < 0.5 and at[-1] > times[-1] - 0.2
    off = numpy.abs(setpoint - numpy.interp(at - late, path_at, path))
    print(f"played back: farthest from the cue {off.max():.5f} m at {at[off.argmax()]:.2f} s, of {len(played)} looked at")
    assert off.max() <= rig["axes"][0]["tolerance"]


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
    with Daemon(bellwire, bench) as daemon:
        found = daemon.status()["take"]
        assert (found["state"], found["unfinished"], found["rigs"]) == ("stopped", True, ["sloop"])
        assert found["elapsed"] > elapsed - 1.0
        with Rpc(daemon.address) as rpc:
            with pytest.raises(Refused, match="kept or discarded"):
                rpc.call("prime", rigs=["pike"])
            assert rpc.call("keep", name="saved")["take"] == "saved"
            assert daemon.status()["take"]["state"] == "idle"
            rpc.call("prime", rigs=["pike"])
        kept = rows(bench / "takes" / "saved.csv")
        assert column(kept, "time")[-1] > elapsed - 1.0
        assert not left.exists()
    left.write_bytes(torn)
    with Daemon(bellwire, bench) as daemon, Rpc(daemon.address) as rpc:
        assert daemon.status()["take"]["unfinished"]
        rpc.call("discard")
        assert not daemon.status()["take"]["unfinished"]
        assert [path.name for path in (bench / "takes").iterdir()] == ["saved.csv"]


def test_a_request_that_is_repeated_under_its_key_has_no_second_effect(bench, daemon):
    with Rpc(daemon.address) as rpc, Rpc(daemon.address) as other:
        rpc.call("prime", rigs=["sloop"], key="a")
        rpc.call("record", on=True, key="b")
        until("it records", lambda: daemon.status()["take"]["elapsed"] > 0.3)
        rpc.call("record", on=False, key="c")
        first = rpc.call("keep", key="d")
        assert rpc.call("keep", key="d") == first
        # The next take: what is repeated of the one before touches nothing of it.
        rpc.call("prime", rigs=["pike"], key="e")
        rpc.call("record", on=True, key="f")
        until("it records", lambda: daemon.status()["take"]["elapsed"] > 0.3)
        rpc.call("record", on=False, key="c")
        assert daemon.status()["take"]["state"] == "recording", "the stop of the take before is not done again"
        rpc.call("prime", rigs=["sloop"], key="a")
        assert daemon.status()["take"]["rigs"] == ["pike"]
        other.call("record", on=False, key="c")
        assert daemon.status()["take"]["state"] == "stopped", "another client's key is another's"
        assert rpc.call("keep", key="d") == first
        assert daemon.status()["take"]["state"] == "stopped", "it is not kept by the repeat of another keep"
        with pytest.raises(Refused, match="already"):
            rpc.call("keep", name=first["take"], key="g")
        rpc.call("keep", name="free")
        with pytest.raises(Refused, match="already"):
            rpc.call("keep", name=first["take"], key="g")
    assert sorted(path.name for path in (bench / "takes").iterdir()) == ["free.csv", f"{first['take']}.csv"]


def walk(bench, name, way, seconds, head=""):
    """From 0 on by `way` m with the least jerk, half a second of rest at both ends: peak 1.875 D/T (Flash and Hogan, 1985)."""
    lines = [head + "time,sloop.travel"]
    for k in range(int((seconds + 1.0) * 50) + 1):
        x = min(max((k * 0.02 - 0.5) / seconds, 0.0), 1.0)
        lines.append(f"{k * 0.02:.3f},{way * x**3 * (10 - 15 * x + 6 * x * x):.6f}")
    (bench / "takes").mkdir(exist_ok=True)
    (bench / "takes" / f"{name}.csv").write_text("\n".join(lines) + "\n")


def test_a_take_that_was_kept_just_now_is_listed_looked_at_and_trimmed(bench, daemon):
    walk(bench, "quick", 2.4, 4.0)
    survey = '#: axes."sloop.travel" = { unit = "m", travel = [-2.0, 3.0], joint = { slide = "x", at = [0.0, 0.0, 0.0] } }\n'
    walk(bench, "other", 1.0, 4.0, survey)
    (bench / "takes" / "torn.csv").write_text("time,sloop.travel\n0.0,x\n")
    listed = {take["name"]: take for take in daemon.get("/takes")["takes"]}
    assert list(listed) == ["other", "quick", "torn"]
    assert listed["quick"]["rigs"] == ["sloop"] and listed["quick"]["length"] == pytest.approx(5.0)
    assert listed["quick"]["differences"] == [] and listed["quick"]["trouble"] == []
    assert listed["other"]["differences"] == ["sloop.travel: its travel was -2 m to 3 m and is -3 m to 3 m"]
    assert "takes/torn.csv:2:5" in listed["torn"]["trouble"][0]
    told = daemon.get("/take/quick")
    assert told["least_stretch"] == pytest.approx(1.875 * 2.4 / 4.0, abs=0.005)
    assert max(told["drawn"]["asks"]) == pytest.approx(told["least_stretch"], abs=2e-3)
    assert told["rigs"][0]["tightest"]["limit"] == "speed" and told["rigs"][0]["tightest"]["at"] == pytest.approx(2.5, abs=0.1)
    assert "asks too much of sloop.travel" in told["against"][0]
    left = daemon.get("/take/quick?from=0&to=2")
    assert (left["whole"], left["length"]) == (pytest.approx(5.0), pytest.approx(2.0))
    with Rpc(daemon.address) as rpc:
        with pytest.raises(Refused, match="there is a take other already"):
            rpc.call("trim", take="quick", **{"from": 0.0, "to": 2.0}, name="other")
        with pytest.raises(Refused, match="expected a beginning and a later end"):
            rpc.call("trim", take="quick", **{"from": 0.0, "to": 9.0}, name="part")
        rpc.call("trim", take="quick", **{"from": 0.0, "to": 2.0}, name="part")
    text = (bench / "takes" / "part.csv").read_text()
    assert text.startswith("# 0 s to 2 s of quick\ntime,sloop.travel\n0.000,0.000000\n")
    assert len(text.splitlines()) == 2 + 101


def test_a_take_is_played_back_at_once_and_its_run_replays(bellwire, bench):
    walk(bench, "walk", 1.2, 3.0)
    walk(bench, "quick", 2.4, 4.0)
    survey = '#: axes."sloop.travel" = { unit = "m", travel = [-2.0, 3.0], joint = { slide = "x", at = [0.0, 0.0, 0.0] } }\n'
    walk(bench, "other", 1.0, 4.0, survey)
    with Daemon(bellwire, bench, "--arm") as daemon:
        daemon.until_armed()
        with Rpc(daemon.address) as rpc:
            before = daemon.status()
            with pytest.raises(Refused, match="its travel was -2 m to 3 m and is -3 m to 3 m"):
                rpc.call("play", take="other")
            with pytest.raises(Refused, match="there is no take nobody"):
                rpc.call("play", take="nobody")
            answer = rpc.answer(rpc.send("play", take="quick"))
            least = answer["error"]["data"]["stretch"]
            assert least == pytest.approx(1.125, abs=0.005) and "asks too much" in answer["error"]["data"]["reasons"][0]
            assert rpc.call("play", take="walk") == {"accepted": True, "ready": True, "reasons": []}
            status = daemon.status()
            assert status["hash"] == before["hash"], "no show was loaded for it"
            assert status["standby"][0]["cue"] == "take" and status["playback"]["take"] == "walk"
            rpc.call("go", cue="take", key="g")
            until("it runs", lambda: daemon.status()["running"])
            with pytest.raises(Refused, match="the take"):
                rpc.call("play", take="walk")
            until("it is done", lambda: not daemon.status()["running"], 10.0)
            assert daemon.status()["rigs"]["sloop"]["axes"]["travel"]["setpoint"] == pytest.approx(1.2, abs=0.005)
            # Now its first pose is elsewhere: a preset leads there, then it can be played again.
            again = rpc.call("play", take="quick", stretch=least)
            assert not again["ready"] and "sloop.travel" in again["reasons"][0]
            rpc.call("input", name="gate closed", value=True)
            until("the preset is proved", lambda: daemon.status()["standby"][0]["preset"])
            assert rpc.call("preset", cue="take")["ready"]
            rpc.call("go")
            until("it is there", lambda: not daemon.status()["running"] and not daemon.status()["standby"], 20.0)
            until("it stands", lambda: rpc.call("play", take="quick", stretch=least)["ready"])
            assert daemon.status()["playback"] == {
                "take": "quick",
                "stretch": pytest.approx(least, rel=0.01),
                "duration": pytest.approx(5.0 * least, abs=0.3),
                "cautions": [],
            }
            rpc.call("go", cue="take")
            until("it is done", lambda: daemon.status()["rigs"]["sloop"]["axes"]["travel"]["setpoint"] > 2.39, 12.0)
        assert daemon.terminate() == 0
        replayed = subprocess.run([bellwire, "journal", "--json", daemon.journal], capture_output=True, text=True)
        told = json.loads(replayed.stdout)
        assert replayed.returncode == 0 and told["sound"] and told["ticks"] == told["replayed"], replayed.stderr
        assert [run["cue"] for run in told["cues"]] == ["take", "preset", "take"]
