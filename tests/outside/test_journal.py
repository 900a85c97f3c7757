"""The journal of a run: written by the daemon, read by `bellwire journal`, whatever became of the run."""

import json
import random
import resource
import subprocess
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from websockets.exceptions import ConnectionClosed

from road.daemon import Daemon
from road.osc import Udp
from road.rpc import Refused, Rpc
from road.waiting import until

KILLS = 100
AT_ONCE = 4


def report(bellwire, journal, code=0):
    """What `bellwire journal --json` says of a file."""
    done = subprocess.run([bellwire, "journal", "--json", journal], capture_output=True, text=True, timeout=120)
    assert done.returncode == code, f"exit code {done.returncode}: {done.stdout[:2000]} {done.stderr}"
    return json.loads(done.stdout)


def told(bellwire, journal):
    """What it says to people, and its exit code."""
    done = subprocess.run([bellwire, "journal", journal], capture_output=True, text=True, timeout=120)
    return done.stdout, done.returncode


def test_a_run_of_the_demo_show_replays_and_tells_who_did_what(bellwire, demo_show):
    with Daemon(bellwire, demo_show, "--arm") as daemon, Udp(daemon.osc) as udp, Rpc(daemon.address, name="desk") as desk:
        daemon.until_armed()
        assert udp.request("go", "1") != "accepted"
        assert udp.request("standby", "1") == "accepted"
        desk.call("go", cue="1", sent=datetime.now(UTC).isoformat())
        time.sleep(1.0)
        desk.call("hold")
        time.sleep(1.5)
        desk.call("resume")
        time.sleep(0.5)
        desk.call("stop")
        daemon.until_standstill()
        assert daemon.terminate() == 0
        found = report(bellwire, daemon.journal)
        text, code = told(bellwire, daemon.journal)
    assert found["sound"] and found["ended"] and found["show"] == "Salt Lantern"
    assert found["ticks"] == found["replayed"] > 1000
    [run] = found["cues"]
    assert (run["cue"], run["by"], run["end"]) == ("1", "desk", "stopped")
    assert run["planned"] == 8.0 and 2.5 < run["taken"] < 5.0 and 1.0 < run["held"] < 2.0
    delays = run["delays"]
    assert 0 <= delays["network"] < 0.3, "from `sent` to the socket"
    assert 0 <= delays["waited"] < 0.3, "from the socket to the tick"
    assert 0 <= delays["setpoint"] <= 0.01, "from the tick to the first setpoint that moves"
    assert 0.02 < delays["rig"] < 0.3, "the simulated jib lags by 30 ms, and its link takes 4 ms each way"
    [refused] = found["refused"]
    assert "osc 127.0.0.1" in refused["text"] and "standby" in refused["text"]
    [stop, _] = found["stops"]
    assert "desk" in stop["text"] and 0.1 < stop["lasted"] < 5.0
    assert [hold["lasted"] > 1.0 for hold in found["holds"]] == [True]
    assert code == 0
    assert all(len(line) <= 80 for line in text.splitlines()), text
    for words in ["the same to the bit", "House to dark", "STOPPED", "desk", "refused", "stops", "holds"]:
        assert words in text, text


def test_a_preset_has_its_place_in_the_report(bellwire, bench):
    with Daemon(bellwire, bench, "--arm") as daemon:
        daemon.until_armed()
        for words in (["place", "2"], ["preset", "2"], ["go"]):
            assert daemon.command(*words)[0] == 0, words
        time.sleep(1.0)
        assert "running   the preset: running, " in daemon.command("status")[1]
        until("done", lambda: daemon.status()["running"] == [], seconds=30)
        assert daemon.terminate() == 0
        found = report(bellwire, daemon.journal)
        text, code = told(bellwire, daemon.journal)
    [run] = found["cues"]
    assert (run["cue"], run["end"], code) == ("preset", "done", 0)
    assert run["planned"] > 2.0 and abs(run["taken"] - run["planned"]) < 0.1
    assert run["delays"]["rig"] > 0.0 and "to a cue's start" in text


def test_a_killed_run_is_read_to_its_end(bellwire, demo_show):
    with Daemon(bellwire, demo_show, "--arm") as daemon, Rpc(daemon.address) as rpc:
        daemon.until_armed()
        rpc.call("standby", cues=["1"])
        rpc.call("go", cue="1")
        time.sleep(1.0)
        daemon.kill()
        found = report(bellwire, daemon.journal)
        text, _ = told(bellwire, daemon.journal)
    assert found["sound"] and not found["ended"]
    assert [(run["cue"], run["end"]) for run in found["cues"]] == [("1", None)]
    assert "killed" in text


def test_a_journal_that_was_changed_is_found_out(bellwire, bench):
    with Daemon(bellwire, bench) as daemon:
        time.sleep(0.5)
        assert daemon.terminate() == 0
        with open(daemon.journal, "r+b") as journal:
            octets = journal.read()
            middle = len(octets) // 2
            journal.seek(middle)
            journal.write(bytes([octets[middle] ^ 1]))
        text, code = told(bellwire, daemon.journal)
    assert code == 1 and "DAMAGED" in text, text


def test_no_journal_is_kept_where_none_is_wanted(bellwire, bench, tmp_path):
    with Daemon(bellwire, bench, "--no-journal") as daemon:
        assert daemon.journal == "none, as asked"
        assert daemon.status()["journal"] is None
    with Daemon(bellwire, bench, "--journal", tmp_path / "runs") as daemon:
        assert daemon.journal.startswith(str(tmp_path / "runs"))


def test_it_does_not_start_where_no_journal_can_be_kept(bellwire, bench, tmp_path):
    (tmp_path / "file").write_text("")
    done = subprocess.run(
        [bellwire, "run", bench, "--http", "127.0.0.1:0", "--osc", "127.0.0.1:0", "--stop-port", "127.0.0.1:0",
         "--journal", tmp_path / "file"], capture_output=True, text=True, timeout=20)
    assert done.returncode == 1 and "--no-journal" in done.stderr


def limit_files(daemon, size):
    """No file of the daemon may grow beyond this, as on a full disk; None: as far as it likes."""
    limit = resource.RLIM_INFINITY if size is None else size
    resource.prlimit(daemon.process.pid, resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))


def arms(rpc):
    try:
        rpc.call("arm")
    except Refused as refused:
        assert all("standing still" in reason for reason in refused.reasons), refused.reasons
        return False
    return True


def test_a_full_disk_is_an_alarm_and_harms_nothing_that_runs(bellwire, bench):
    with Daemon(bellwire, bench, "--arm") as daemon, Rpc(daemon.address) as rpc:
        daemon.until_armed()
        rpc.call("subscribe", hz=0.1)
        rpc.call("standby", cues=["1"])
        rpc.call("go", cue="1")
        limit_files(daemon, 4096)
        alarm = rpc.until("event", lambda event: event["kind"] == "journal")
        assert alarm["kept"] is False and "ALARM" in alarm["text"]
        journal = daemon.status()["journal"]
        assert journal["kept"] is False and journal["why"]
        begin = time.monotonic()
        rpc.call("hold")
        rpc.call("resume")
        assert time.monotonic() - begin < 0.5, "no answer waits for the disk"
        daemon.until_cue("1", "done")
        rpc.call("disarm")
        with pytest.raises(Refused) as refused:
            rpc.call("arm")
        assert any("journal" in reason for reason in refused.value.reasons)
        limit_files(daemon, None)
        again = rpc.until("event", lambda event: event["kind"] == "journal" and event["kept"])
        assert "again" in again["text"]
        # A simulated rig lags: its cue is done a moment before it is seen at rest, and arming waits for that.
        until("armed", lambda: arms(rpc))
        assert daemon.terminate() == 0
        found = report(bellwire, daemon.journal)
    assert found["sound"] and found["gaps"] == [], "what the disk refused was kept until it took it"
    assert any("ALARM" in fault["text"] for fault in found["faults"])


class Hands(threading.Thread):
    """A client that asks for one thing after another until the daemon is gone, and counts what was answered."""

    ASKED = [("standby", {"cues": ["1"]}), ("go", {}), ("master", {"value": 0.9}), ("hold", {}), ("resume", {}),
             ("input", {"name": "deck clear", "value": True}), ("arm", {}), ("master", {"value": 1.0})]

    def __init__(self, daemon, name, seed):
        super().__init__(daemon=True)
        self.rpc = Rpc(daemon.address, name=name)
        self.name, self.random = name, random.Random(seed)
        self.answered = []

    def run(self):
        try:
            while True:
                method, params = self.random.choice(self.ASKED)
                try:
                    self.rpc.call(method, **params)
                    self.answered.append((method, True))
                except Refused:
                    self.answered.append((method, False))
        except (ConnectionClosed, OSError, TimeoutError):
            pass


def kill_once(bellwire, show, seed):
    """Runs, kills at a random instant with requests under way, and starts again; how many answers there were."""
    chance = random.Random(seed)
    with Daemon(bellwire, show) as daemon:
        hands = [Hands(daemon, f"hand-{number}", seed * 10 + number) for number in range(3)]
        for hand in hands:
            hand.start()
        time.sleep(chance.uniform(0.0, 0.7))
        daemon.kill()
        for hand in hands:
            hand.join(10)
        found = report(bellwire, daemon.journal)
        journal = daemon.journal
    assert found["sound"] and not found["ended"], journal
    for hand in hands:
        kept = [(one["verb"], one["accepted"]) for one in found["requests"] if one["client"] == hand.name.replace("-", " ")]
        assert kept[: len(hand.answered)] == hand.answered, f"seed {seed}, {hand.name}: an answered request is missing"
        assert len(kept) <= len(hand.answered) + 1
    with Daemon(bellwire, show, "--no-journal") as again:
        until("poses", lambda: again.position("sloop", "travel") is not None)
        before = again.status()
        time.sleep(0.1)
        after = again.status()
    assert not before["armed"] and not after["armed"] and after["running"] == [] and after["standby"] == []
    for rig, status in after["rigs"].items():
        for axis, now in status["axes"].items():
            assert now["setpoint"] == before["rigs"][rig]["axes"][axis]["setpoint"], f"{rig}.{axis} moves"
    return sum(len(hand.answered) for hand in hands)


def test_killed_at_random_instants_no_answered_request_is_missing(bellwire, bench):
    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = list(pool.map(lambda seed: kill_once(bellwire, bench, seed), range(KILLS)))
    assert sum(answers) > 20 * KILLS, "the hands got somewhere"
