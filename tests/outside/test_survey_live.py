"""A survey of a running daemon's rig: over the WebSocket as the panel does, by the command line's verbs, and by keys at a terminal."""

import os
import pty
import re
import subprocess
import threading
import time

import pytest

from road.daemon import Daemon
from road.rpc import Refused, Rpc
from road.waiting import until


@pytest.fixture
def rpc(daemon):
    with Rpc(daemon.address, name="surveyor") as rpc:
        yield rpc


def hold(rpc, method, seconds, over=lambda: False, **params):
    """Says it again and again, as a button that is held does, until it is over; then that it is not."""
    end = time.monotonic() + seconds
    off = {"on": False} if method == "run" else {"value": 0.0}
    rpc.call(method, **{**params, **off})
    # The newest alone counts: what comes in the same tick would hide that it was at zero.
    time.sleep(0.03)
    while time.monotonic() < end and not over():
        # What the head's interlock needs, as a sensor says it.
        rpc.call("input", name="deck clear", value=True)
        rpc.call(method, **params)
        time.sleep(0.03)
    rpc.call(method, **{**params, **off})


def rest(daemon, rig="sloop", axis="travel"):
    until("at rest", lambda: daemon.status()["rigs"][rig]["axes"][axis]["state"] == "standstill")


def tried(daemon, rpc, rig, axis, seconds=60, **params):
    rpc.call("trial", rig=rig, axis=axis, **params)
    trial = lambda: daemon.status()["rigs"][rig]["hand"]["trial"]
    hold(rpc, "run", seconds, lambda: trial()["found"] is not None and trial()["done"] == trial()["of"], rig=rig, axis=axis, on=True)
    assert trial()["found"], trial()
    return trial()["found"]


def test_an_axis_is_jogged_to_its_ends_and_its_travel_is_written_offered_and_taken_in(daemon, bench, rpc):
    rig = bench / "rigs" / "sloop.toml"
    rig.write_text("# by hand\n" + rig.read_text().replace("travel = [", "travel = [ # low, then high\n  "))
    before = rig.read_text()
    rpc.call("survey", rig="sloop")
    fastest = 0.0
    for value, point, seconds in [(-1.0, "low", 0.7), (1.0, "high", 3.0)]:
        hold(rpc, "stick", seconds, rig="sloop", axis="travel", value=value)
        fastest = max(fastest, abs(daemon.status()["rigs"]["sloop"]["axes"]["travel"]["speed"]))
        rest(daemon)
        at = rpc.call("teach", rig="sloop", axis="travel", point=point)
        assert at["accepted"] and at["note"] is None
    assert 0.05 < fastest < 0.11, "a survey goes at a tenth of the speed"
    taught = daemon.status()["rigs"]["sloop"]["taught"]["travel"]
    assert -0.1 < taught["low"] < -0.04 and taught["high"] > 0.1
    # So short a way leaves nothing between two stops from top speed.
    assert taught["travel"] is None and "nothing is left" in taught["why"]
    with pytest.raises(Refused, match="nothing is left"):
        rpc.call("write_survey", rig="sloop")
    assert rig.read_text() == before
    rpc.call("forget", rig="sloop")
    assert daemon.status()["rigs"]["sloop"]["taught"] is None
    # One end alone moves that end.
    rpc.call("teach", rig="sloop", axis="travel", point="home")
    hold(rpc, "stick", 1.0, rig="sloop", axis="travel", value=1.0)
    rest(daemon)
    high = rpc.call("teach", rig="sloop", axis="travel", point="high")["position"]
    proposed = rpc.answer(rpc.send("propose", rig="sloop"), seconds=60)["result"]
    [axis] = proposed["axes"]
    assert not proposed["written"] and rig.read_text() == before
    assert axis["travel"][0] == -3.0 and high - axis["stops_within"] - 1e-3 <= axis["travel"][1] <= high - axis["stops_within"]
    wrote = rpc.answer(rpc.send("write_survey", rig="sloop"), seconds=60)["result"]
    assert wrote["written"] and wrote["unproved"] == ["1", "12"]
    text = rig.read_text()
    was = re.search(r"travel = \[ # low, then high\n  (-3.0), (3.0)\]", before)
    expected = before[: was.start(2)] + str(axis["travel"][1]) + before[was.end(2):]
    assert re.sub(r"start = \S+", "start =", text) == re.sub(r"start = \S+", "start =", expected)
    # Cues that go to where it goes no longer are listed, and the show from before stays in force.
    assert wrote["findings"] and wrote["errors"] and wrote["edit"] is None
    assert {finding["code"] for finding in wrote["findings"]} <= {"travel", "start-pose", "take"}
    rig.write_text(before)


def take_in(daemon, rpc, edit):
    """Accepts an edit at rest, once nothing is in hand, and arms again."""
    until("in nobody's hands", lambda: all(rig["owner"] is None for rig in daemon.status()["rigs"].values()))
    rpc.call("reload", accept=edit["hash"])
    until("in force", lambda: daemon.status()["hash"] == edit["hash"])
    rpc.call("arm")


def surveyed(daemon, rig="pike"):
    return {axis: told["surveyed"] for axis, told in daemon.status()["rigs"][rig]["axes"].items()}


def test_a_survey_of_all_axes_is_cleared_made_anew_by_jogging_and_a_cue_goes_by_it(bellwire, bench):
    # Short ways and stiff drives, so that a tenth of the speed gets from end to end in two seconds.
    rig = bench / "rigs" / "pike.toml"
    text = rig.read_text()
    for was, stiff in [("acceleration = 60.0\njerk = 300.0", "acceleration = 600.0\njerk = 6000.0"),
                       ("acceleration = 120.0\njerk = 600.0", "acceleration = 600.0\njerk = 6000.0"),
                       ("far = { pan = 40.0, zoom = 60.0 }", "far = { pan = 4.0, zoom = 6.0 }")]:
        assert text.count(was) == 1
        text = text.replace(was, stiff)
    rig.write_text(text)
    with Daemon(bellwire, bench, "--arm") as daemon, Rpc(daemon.address, name="surveyor") as rpc:
        daemon.until_armed()
        answer = lambda method, **params: rpc.answer(rpc.send(method, **params), seconds=60)["result"]
        cleared = answer("clear_survey", rig="pike")
        assert (cleared["unproved"], {finding["code"] for finding in cleared["findings"]}) == (["2.5"], {"unsurveyed"})
        take_in(daemon, rpc, cleared["edit"])
        assert surveyed(daemon) == {"pan": False, "zoom": False}
        # Its lens begins at what was an end: the provisional travel leaves room for a stop beyond.
        take_in(daemon, rpc, answer("clear_survey", rig="pike", axis="zoom", travel=[-20.0, 110.0])["edit"])
        refused = rpc.call("standby", cues=["2.5"], skip=True)
        assert not refused["ready"] and any("not surveyed" in reason for reason in refused["reasons"])

        rpc.call("survey", rig="pike")
        ends = {}
        for axis, least, most in [("pan", -3.0, 8.0), ("zoom", -4.0, 11.0)]:
            for point, value, there in [("low", -1.0, lambda at: at < least), ("high", 1.0, lambda at: at > most)]:
                hold(rpc, "stick", 10.0, lambda: there(daemon.position("pike", axis)), rig="pike", axis=axis, value=value)
                rest(daemon, "pike", axis)
                ends[axis, point] = rpc.call("teach", rig="pike", axis=axis, point=point)["position"]
        wrote = answer("write_survey", rig="pike")
        assert (wrote["written"], wrote["unproved"], wrote["findings"]) == (True, ["2.5"], [])
        for told in wrote["axes"]:
            low, high = (ends[told["axis"].removeprefix("pike."), point] for point in ("low", "high"))
            way = told["stops_within"]
            # Written to a tenth of its unit, or finer.
            assert told["travel"] == [pytest.approx(low + way, abs=0.1), pytest.approx(high - way, abs=0.1)]
            assert low + way <= told["travel"][0] + 1e-9 and told["travel"][1] <= high - way + 1e-9
        # It stands at the ends that were taught, outside what is left of the way between them: brought inside first.
        rpc.call("give_back", rig="pike")
        until("in nobody's hands", lambda: daemon.status()["rigs"]["pike"]["owner"] is None)
        with pytest.raises(Refused, match="outside its travel of .* bring it inside by hand first"):
            rpc.call("reload", accept=wrote["edit"]["hash"])
        assert daemon.status()["armed"] and daemon.status()["stopped"] is None, "the show from before goes on"
        rpc.call("survey", rig="pike")
        for axis in ("pan", "zoom"):
            hold(rpc, "stick", 5.0, lambda: daemon.position("pike", axis) < 2.0, rig="pike", axis=axis, value=-1.0)
            rest(daemon, "pike", axis)
        rpc.call("give_back", rig="pike")
        take_in(daemon, rpc, wrote["edit"])
        assert surveyed(daemon) == {"pan": True, "zoom": True} and rig.read_text().count("surveyed = true") == 2

        # A cue that moves both axes goes, to where its mark is.
        rpc.call("input", name="deck clear", value=True)
        rpc.call("survey", rig="pike")
        for axis in ("pan", "zoom"):
            tried(daemon, rpc, "pike", axis, trial="home")
        rpc.call("give_back", rig="pike")
        until("in nobody's hands", lambda: daemon.status()["rigs"]["pike"]["owner"] is None)
        rpc.call("standby", cues=["2"], skip=True)
        until("ready", lambda: daemon.status()["standby"][0]["ready"])
        rpc.call("go", cue="2")
        daemon.until_cue("2.5", "done", 15.0)
        assert daemon.position("pike", "pan") == pytest.approx(4.0, abs=0.5)
        assert daemon.position("pike", "zoom") == pytest.approx(6.0, abs=1.0)


def test_a_survey_is_cleared_widened_and_made_anew(daemon, bench, rpc):
    answer = lambda method, **params: rpc.answer(rpc.send(method, **params), seconds=60)
    wrote = answer("clear_survey", rig="sloop", axis="travel", travel=[-3.2, 3.1])["result"]
    assert "surveyed = false" in (bench / "rigs" / "sloop.toml").read_text()
    assert {finding["code"] for finding in wrote["findings"]} == {"unsurveyed"} and wrote["unproved"] == ["1", "12"]
    assert wrote["edit"]["disarms"]
    assert "axis sloop.travel: travel -3 to 3 becomes -3.2 to 3.1" in wrote["edit"]["differences"]
    # In hand it is not taken in.
    rpc.call("survey", rig="sloop")
    with pytest.raises(Refused, match="in the hands of"):
        rpc.call("reload", accept=wrote["edit"]["hash"])
    rpc.call("give_back", rig="sloop")
    until("in nobody's hands", lambda: daemon.status()["rigs"]["sloop"]["owner"] is None)
    rpc.call("reload", accept=wrote["edit"]["hash"])
    until("in force", lambda: daemon.status()["rigs"]["sloop"]["axes"]["travel"]["surveyed"] is False)
    rpc.call("arm")
    # Nothing but a jog moves it.
    number = next(iter(daemon.status()["cues"]))
    ready = rpc.call("standby", cues=[number])
    rpc.call("hand", rig="sloop")
    hold(rpc, "stick", 0.5, rig="sloop", axis="travel", value=1.0)
    assert daemon.position("sloop", "travel") == 0.0
    assert any("not surveyed" in reason for reason in ready["reasons"]) == ("sloop" in str(daemon.get("/cue/" + number)["moves"]))
    rpc.call("survey", rig="sloop")
    hold(rpc, "stick", 1.0, rig="sloop", axis="travel", value=1.0)
    rest(daemon)
    assert daemon.position("sloop", "travel") > 0.05
    rpc.call("teach", rig="sloop", axis="travel", point="low")
    with pytest.raises(Refused, match="only its lower end is set"):
        rpc.call("propose", rig="sloop")


@pytest.mark.parametrize("fault, rig, axis, sign", [
    (None, "sloop", "travel", "agrees"),
    ("reversed", "sloop", "travel", "reversed"),
    ("stuck", "sloop", "travel", "did-not-move"),
    ("crossed", "pike", "pan", "swapped"),
])
def test_the_sign_is_checked_and_what_is_wrong_is_named(daemon, rpc, fault, rig, axis, sign):
    rpc.call("survey", rig=rig)
    if rig == "pike":
        # So far from its end that its zoom has room on both sides.
        hold(rpc, "stick", 3.0, rig=rig, axis="zoom", value=1.0)
        rest(daemon, rig, "zoom")
    if fault:
        rpc.call("fault", rig=rig, axis=axis, kind=fault, on=True)
    rpc.call("subscribe", hz=1)
    found = tried(daemon, rpc, rig, axis, trial="sign")
    assert found["sign"] == sign, found
    assert daemon.status()["stopped"] is None, "a check of the sign is no fault"
    if sign == "swapped":
        assert found["other"]["axis"] == "pike.zoom" and "SWAPPED" in found["text"]
    told = rpc.until("event", lambda event: event["kind"] == "hand" and event.get("what") == "tried")
    assert told["sign"] == sign and told["text"] == found["text"]


def test_play_shows_as_the_reversal_value(bellwire, bench):
    rig = bench / "rigs" / "sloop.toml"
    rig.write_text(rig.read_text().replace('kind = "wagon"\n', 'kind = "wagon"\ndriver = { sim = { backlash = 0.008 } }\n'))
    with Daemon(bellwire, bench, "--arm") as daemon, Rpc(daemon.address) as rpc:
        daemon.until_armed()
        rpc.call("survey", rig="sloop")
        found = tried(daemon, rpc, "sloop", "travel", trial="repeat", times=2, at=0.1)
        assert found["reversal"] == pytest.approx(-0.008, abs=2e-4)
        assert found["bidirectional"] == pytest.approx(0.008, abs=5e-4) and found["within"]
        home = tried(daemon, rpc, "sloop", "travel", trial="home")
        assert home["measured"] == pytest.approx(0.0, abs=0.005)


def verbs(daemon, bench, rig, *done):
    words = [word for verb in done for word in ("--do", verb)]
    command = [daemon.program, "survey", bench, rig, "--to", daemon.address, *words]
    ran = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=120)
    return ran.returncode, ran.stdout, ran.stderr


def test_a_script_surveys_by_verbs_and_gives_the_rig_back(daemon, bench):
    code, out, err = verbs(
        daemon, bench, "sloop", "jog travel 1 1.5", "set travel low", "sign travel", "home travel", "forget", "propose",
    )
    assert code == 1 and "nothing of sloop was taught" in err
    stands, at, sign, home = out.splitlines()
    assert re.match(r"sloop.travel stands at 0\.1", stands) and at.startswith("it is set at 0.1")
    assert "command and measurement agree" in sign and "is at its home 0.0 m" in home
    until("given back", lambda: daemon.status()["rigs"]["sloop"]["owner"] is None)
    code, out, _ = verbs(daemon, bench, "sloop", "clear travel -3.5,3.5")
    assert code == 0 and "is NOT surveyed" in out and "bellwire reload --accept" in out
    for wrong, says, expected in [
        (["jog mast 1 1"], "it has travel", 1),
        (["trial travel"], "expected jog AXIS SHARE SECONDS", 2),
        (["repeat travel at 2.99"], "cannot be approached", 1),
    ]:
        code, _, err = verbs(daemon, bench, "sloop", *wrong)
        assert (code, says in err) == (expected, True), err


class Keys:
    """`bellwire survey` at a terminal of its own."""

    def __init__(self, daemon, bench, rig):
        self.screen, inner = pty.openpty()
        self.shown = ""
        command = [daemon.program, "survey", bench, rig, "--to", daemon.address]
        self.process = subprocess.Popen(command, stdin=inner, stdout=inner, stderr=subprocess.PIPE, text=True)
        os.close(inner)
        threading.Thread(target=self._look, daemon=True).start()

    def _look(self):
        try:
            while True:
                self.shown += os.read(self.screen, 4096).decode(errors="replace")
        except OSError:
            pass  # The other end is gone.

    def press(self, keys):
        os.write(self.screen, keys)

    def hold(self, key, seconds, every=0.03):
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.press(key)
            time.sleep(every)

    def until(self, text, seconds=8):
        until(f"the screen says {text}", lambda: re.search(text, self.shown), seconds)


def test_by_keys_an_axis_goes_while_its_key_repeats_and_stops_after_the_last(daemon, bench):
    keys = Keys(daemon, bench, "sloop")
    try:
        keys.until("does not report releases")
        speed = lambda: abs(daemon.status()["rigs"]["sloop"]["axes"]["travel"]["speed"])
        keys.hold(b"\x1b[C", 1.0)
        assert speed() > 0.05
        until("it stops by itself", lambda: speed() < 1e-3, seconds=2)
        at = daemon.position("sloop", "travel")
        assert 0.02 < at < 0.2
        rest(daemon)
        keys.press(b"2")
        keys.until(r"it is set at 0\.")
        keys.hold(b"d", 6.0)
        keys.until(r"command\s+and\s+measurement\s+agree")
        keys.hold(b"\x1b[D", 0.5)
        keys.press(b"\x1b")
        until("stopped", lambda: daemon.status()["stopped"])
        keys.press(b"q")
        assert keys.process.wait(timeout=10) == 0, keys.process.stderr.read()
        until("given back", lambda: daemon.status()["rigs"]["sloop"]["owner"] is None)
    finally:
        keys.process.kill()


def test_where_a_terminal_reports_releases_one_ends_the_motion(daemon, bench):
    keys = Keys(daemon, bench, "sloop")
    try:
        keys.until("q: give the rig back")
        keys.press(b"\x1b[?11u\x1b[1;1:1C")
        speed = lambda: abs(daemon.status()["rigs"]["sloop"]["axes"]["travel"]["speed"])
        until("it goes without repeats", lambda: speed() > 0.05, seconds=0.9)
        keys.press(b"\x1b[1;1:3C")
        until("it stops", lambda: speed() < 1e-3, seconds=1.5)
        keys.press(b"\x1b[113;1:1u")
        assert keys.process.wait(timeout=10) == 0, keys.process.stderr.read()
    finally:
        keys.process.kill()
