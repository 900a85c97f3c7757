"""An edited show, offered to a running daemon and accepted; presets and the list placed anew, from the command line."""

import pytest

from road.daemon import Daemon
from road.rpc import Refused, Rpc
from road.waiting import until

INSERTED = """
[[cue]]
number = "1.5"
name = "Pike looks near"
  [[cue.move]]
  rig = "pike"
  to = { pan = 5.0 }
  time = 2.0
"""


def insert(bench):
    act = bench / "cues" / "act.toml"
    act.write_text(act.read_text() + INSERTED)


def test_an_edit_is_offered_with_its_differences_and_taken_in_on_acceptance(daemon, bench):
    with Rpc(daemon.address) as rpc:
        rpc.call("subscribe", hz=5)
        assert rpc.call("reload") == {"unchanged": True, "edit": None, "access": False}
        insert(bench)
        edit = rpc.call("reload")["edit"]
        assert edit["differences"] == ["cue 1.5 (Pike looks near) is new"]
        assert not edit["restart"] and not edit["disarms"]
        assert "1.5" not in daemon.status()["cues"], "an offer changes nothing"
        assert daemon.status()["edit"]["hash"] == edit["hash"]
        rpc.until("event", lambda event: event["kind"] == "reload" and not event["accepted"])
        assert rpc.call("reload", accept=edit["hash"]) == {"accepted": True}
        rpc.until("event", lambda event: event["kind"] == "reload" and event["accepted"])
        status = daemon.status()
        assert status["cues"]["1.5"] == "idle" and status["hash"] == edit["hash"]
        assert status["edit"] is None and status["armed"]
        # What is known of the new show is known at once, by the same connection.
        rpc.call("standby", cues=["1"])
        rpc.call("go", cue="1")
    daemon.until_cue("1", "done")
    assert [cue["number"] for cue in daemon.get("/show")["cues"]] == ["1", "1.5", "2", "2.5", "12"]


def test_an_edit_waits_until_nothing_runs(daemon, bench):
    insert(bench)
    with Rpc(daemon.address) as rpc:
        edit = rpc.call("reload")["edit"]
        rpc.call("standby", cues=["1"])
        rpc.call("go")
        with pytest.raises(Refused) as refused:
            rpc.call("reload", accept=edit["hash"])
        assert "cue 1 is running" in refused.value.reasons[0]
        daemon.until_cue("1", "done")
        assert rpc.call("reload", accept=edit["hash"][:8]) == {"accepted": True}


def test_files_with_an_error_leave_the_old_show_in_force(daemon, bench):
    act = bench / "cues" / "act.toml"
    act.write_text(act.read_text().replace("travel = 1.5", "travle = 1.5"))
    with Rpc(daemon.address) as rpc:
        with pytest.raises(Refused) as refused:
            rpc.call("reload")
        (reason,) = refused.value.reasons
        assert reason.startswith("cues/act.toml:7:") and "travle" in reason, reason
        with pytest.raises(Refused):
            rpc.call("reload", accept="0" * 64)
        rpc.call("standby", cues=["1"])
        rpc.call("go")
    daemon.until_cue("1", "done")


def test_what_was_not_offered_is_not_taken_in(daemon, bench):
    insert(bench)
    with Rpc(daemon.address) as rpc:
        old = rpc.call("reload")["edit"]["hash"]
        act = bench / "cues" / "act.toml"
        act.write_text(act.read_text().replace("pan = 5.0", "pan = 6.0"))
        rpc.call("reload")
        with pytest.raises(Refused) as refused:
            rpc.call("reload", accept=old)
        assert "changed again" in refused.value.reasons[0]


def test_new_limits_disarm_and_new_axes_need_a_new_start(daemon, bench):
    rig = bench / "rigs" / "sloop.toml"
    text = rig.read_text()
    rig.write_text(text.replace("speed = 1.0", "speed = 1.1", 1))
    code, said, _ = daemon.command("reload")
    assert code == 0 and "sloop.travel: its limits changed" in said and "disarmed" in said, said
    accept = said[said.index("--accept"):].split()[1]
    assert daemon.command("reload", "--accept", accept)[0] == 0
    assert not daemon.status()["armed"]
    assert daemon.command("arm")[0] == 0
    more = '[[axis]]\nname = "sheet"\nunit = "percent"\ntravel = [0.0, 100.0]\nstart = 0.0\nspeed = 20.0\nacceleration = 40.0\njerk = 80.0\n'
    head, marks, tail = rig.read_text().partition("[marks]")
    rig.write_text(head + more + marks + tail)
    code, said, _ = daemon.command("reload")
    assert code == 0 and "start it again" in said, said


def test_a_watched_folder_offers_by_itself_and_accepts_nothing(bellwire, bench):
    with Daemon(bellwire, bench, "--arm", "--watch") as daemon:
        daemon.until_armed()
        insert(bench)
        until("the edit is on offer", lambda: daemon.status()["edit"])
        assert "1.5" not in daemon.status()["cues"]


def test_a_preset_from_the_command_line_and_a_list_placed_after_a_restart(daemon):
    code, said, _ = daemon.command("place", "12")
    assert code == 0, said
    assert [daemon.cue(number) for number in ("1", "2", "2.5", "12")] == ["done", "done", "done", "idle"]
    code, said, complained = daemon.command("preset", "12")
    assert code == 0 and said.startswith("ready") and "sloop from 0.0" in said and "is proved clear" in said, said + complained
    assert [leg["rig"] for leg in daemon.status()["preset"]["rigs"]] == ["sloop", "lantern", "pike"]
    assert daemon.command("go")[0] == 0
    until("it runs", lambda: [one["cue"] for one in daemon.status()["running"]] == ["preset"])
    until("it is done", lambda: not daemon.status()["running"], seconds=40)
    assert abs(daemon.position("sloop", "travel") - 1.5) < 0.02
    assert daemon.status()["preset"] is None
    code, _, complained = daemon.command("preset", "twelve")
    assert code == 2 and "cue number" in complained
