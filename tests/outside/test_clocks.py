"""Late, repeated, reordered and wrongly dated triggers: what fires, how often, and what is said of the rest.

A cue of the bench show starts at most once in each of these stories.
"""

import datetime
import time

import pytest
from pythonosc.osc_message_builder import build_msg

from road.osc import Tcp, Udp, slip
from road.relay import Relay
from road.rpc import Refused, Rpc
from road.waiting import until


def stamp(ago=0.0):
    """RFC 3339, so many seconds ago."""
    then = datetime.datetime.now(datetime.timezone.utc) - datetime.timedelta(seconds=ago)
    return then.isoformat().replace("+00:00", "Z")


def reasons(rpc, method, **params):
    """None is accepted."""
    try:
        rpc.call(method, **params)
    except Refused as refused:
        return "; ".join(refused.reasons)
    return None


@pytest.fixture
def starts(daemon):
    """How often a cue has begun to run, by the daemon's own events."""
    with Rpc(daemon.address) as watcher:
        watcher.call("subscribe", hz=0.1)
        seen = []

        def count(cue):
            while True:
                try:
                    seen.append(watcher.receive(0.3))
                except TimeoutError:
                    break
            events = [message["params"] for message in [*watcher.heard, *seen] if message.get("method") == "event"]
            return sum(event["kind"] == "go" and event.get("cue") == cue for event in events)

        yield count


# The time that a request says it was sent.


@pytest.mark.parametrize(
    ("ago", "said"),
    [(0.0, None), (0.1, None), (0.5, "sent"), (2.0, "sent"), (3600.0, "sent"), (86400.0 * 365, "sent"), (-2.0, "future"), (-3600.0, "future")],
)
def test_a_trigger_is_as_old_as_it_says(daemon, ago, said):
    """An hour is what a clock is off that was set to another zone, or not for winter."""
    with Rpc(daemon.address) as rpc:
        rpc.call("standby", cues=["1"])
        found = reasons(rpc, "go", cue="1", sent=stamp(ago))
        assert (found is None) if said is None else (said in found), found
    assert daemon.cue("1") == ("running" if said is None else "standby")


def test_a_stalled_link_that_bursts_fires_nothing_that_is_dated(daemon, starts):
    with Relay(daemon.http) as relay, Rpc(f"127.0.0.1:{relay.port}") as rpc:
        rpc.call("standby", cues=["1"])
        relay.stall()
        asked = [rpc.send("go", cue="1", sent=stamp()) for _ in range(5)]
        time.sleep(0.8)
        relay.flow()
        for identity in asked:
            [reason] = rpc.answer(identity)["error"]["data"]["reasons"]
            assert "sent" in reason and "limit" in reason
        assert daemon.cue("1") == "standby"
        assert reasons(rpc, "go", cue="1", sent=stamp()) is None, "the link is well again"
    assert starts("1") == 1


def test_a_go_that_stood_still_within_its_frame_is_refused(daemon, starts):
    go = slip(build_msg("/bellwire/go", ["1"]).dgram)
    with Tcp(daemon.osc) as tcp:
        assert tcp.request("standby", "1") == "accepted"
        tcp.raw(go[:9])
        time.sleep(0.7)
        tcp.raw(go[9:])
        verb, cue, said = tcp.until("/bellwire/answer")
        assert (verb, cue) == ("go", "1") and "sent" in said
        tcp.raw(go)
        assert tcp.until("/bellwire/answer")[2] == "accepted"
    assert starts("1") == 1


def test_a_stop_that_stood_still_is_taken_however_old(daemon):
    stop = slip(build_msg("/bellwire/stop", []).dgram)
    with Relay(daemon.osc) as relay, Tcp(relay.port) as tcp:
        tcp.request("standby", "1")
        relay.stall()
        tcp.raw(stop)
        time.sleep(0.8)
        assert daemon.status()["stopped"] is None
        relay.flow()
        until("stopped", lambda: daemon.status()["stopped"])


# Datagrams that come twice, in bursts, or in another order.

STANDBY, GO = ("standby", "1"), ("go", "1")

STORIES = {
    "once": ([STANDBY, GO], 1),
    "the GO twice": ([STANDBY, GO, GO], 1),
    "the GO two hundred times": ([STANDBY] + [GO] * 200, 1),
    "everything twice": ([STANDBY, STANDBY, GO, GO], 1),
    "the pair again": ([STANDBY, GO, STANDBY, GO], 1),
    "the GO before its standby": ([GO, STANDBY], 0),
    "a bare GO before its standby": ([("go",), STANDBY], 0),
    "a burst of bare GOs": ([STANDBY] + [("go",)] * 50, 1),
    "a GO that was meant for the cue before": ([("standby", "2"), GO], 0),
    "the stop overtakes the GO": ([STANDBY, ("stop",), GO], 0),
    "the standby of another cue slips in between": ([STANDBY, ("standby", "2"), GO], 0),
}


@pytest.mark.parametrize("story", STORIES)
def test_no_order_of_datagrams_fires_a_cue_twice(daemon, starts, story):
    messages, fired = STORIES[story]
    with Udp(daemon.osc) as udp:
        for verb, *words in messages:
            udp.ask(f"/bellwire/{verb}", *words)
        answers = [udp.until("/bellwire/answer") for _ in messages]
    assert [answer[0] for answer in answers].count("go") == [verb for verb, *_ in messages].count("go")
    assert sum(verb == "go" and said == "accepted" for verb, _, said in answers) == fired
    assert starts("1") == fired and starts("2") == 0


def test_last_nights_datagrams_fire_nothing_once_the_rig_stands_elsewhere(daemon, starts):
    with Udp(daemon.osc) as udp:
        assert udp.request(*STANDBY) == "accepted" and udp.request(*GO) == "accepted"
        daemon.until_cue("1", "done")
        assert udp.request(*STANDBY) == "accepted"
        assert "sloop.travel" in udp.request(*GO), "its start pose is wrong now"
    assert starts("1") == 1


# Keys.


def test_a_repeat_of_a_key_gets_the_first_answer_whatever_happened_since(daemon, starts):
    with Rpc(daemon.address) as rpc:
        rpc.call("standby", cues=["1"])
        first = rpc.call("go", cue="1", key="the one")
        for _ in range(20):
            assert rpc.call("go", cue="1", key="the one") == first
        rpc.call("stop")
        assert rpc.call("go", cue="1", key="the one") == first, "told again, and not done again"
        assert "stop" in reasons(rpc, "go", cue="1", key="another")
        assert "stop" in reasons(rpc, "go", cue="1", key="another"), "a refusal is remembered as well"
    assert starts("1") == 1


def test_a_client_that_comes_back_repeats_its_key_in_vain(daemon, starts):
    """It lost its link before the answer came, and asks again."""
    with Rpc(daemon.address, name="desk") as rpc:
        rpc.call("standby", cues=["1"])
        rpc.send("go", cue="1", key="unanswered")
        until("running", lambda: daemon.cue("1") == "running")
    with Rpc(daemon.address, name="desk") as rpc:
        assert rpc.call("go", cue="1", key="unanswered") == {"accepted": True}
    assert starts("1") == 1


# The machine's own clock.


def test_the_status_tells_whether_the_clock_was_set(daemon):
    clock = daemon.status()["clock"]
    assert clock == {"steps": 0, "last": None}
