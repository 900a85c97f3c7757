"""OSC over UDP, by the python-osc package."""

import time

import pytest
from pythonosc.osc_bundle_builder import IMMEDIATELY, OscBundleBuilder
from pythonosc.osc_message_builder import build_msg

from road.daemon import Daemon
from road.osc import Udp
from road.rpc import Refused, Rpc
from road.waiting import until


@pytest.fixture
def udp(daemon):
    with Udp(daemon.osc) as road:
        yield road


@pytest.mark.parametrize("number", [1, 1.0, True])
def test_a_cue_number_is_a_text(daemon, udp, number):
    answer = udp.request("standby", number)
    assert "string" in answer or "text" in answer, answer
    assert daemon.status()["standby"] == []


@pytest.mark.parametrize("verb", ["arm", "disarm", "reset", "master", "reload"])
def test_an_operators_verbs_are_not_taken_over_osc(daemon, udp, verb):
    before = daemon.rejected()
    udp.ask(f"/bellwire/{verb}", *([0.5] if verb == "master" else []))
    until("a counter rises", lambda: daemon.rejected() > before)
    assert daemon.status()["armed"] and daemon.status()["master"] == 1.0


@pytest.mark.parametrize("address", ["/bellwire/*", "/bellwire/{go,hold}", "/bellwire/g?", "/bellwire/[g]o", "//go"])
def test_patterns_fire_nothing(daemon, udp, address):
    udp.request("standby", "1")
    before = daemon.rejected()
    udp.ask(address, "1")
    until("a counter rises", lambda: daemon.rejected() > before)
    assert daemon.status()["running"] == []


@pytest.mark.parametrize("address", ["/", "/bellwire", "/bellwire/", "/bellwire/gone", "/bellwire/go/1", "/lantern/go"])
def test_an_unknown_address_is_counted(daemon, udp, address):
    before = daemon.rejected()
    udp.ask(address, "1")
    until("a counter rises", lambda: daemon.rejected() > before)


def bundle_of(when, *messages):
    bundle = OscBundleBuilder(when)
    for message in messages:
        bundle.add_content(message)
    return bundle.build().dgram


def test_a_bundle_for_now_is_taken_in_order(daemon, udp):
    udp.raw(bundle_of(IMMEDIATELY, build_msg("/bellwire/standby", ["1"]), build_msg("/bellwire/go", ["1"])))
    daemon.until_cue("1", "running")


@pytest.mark.parametrize("ahead", [-3600.0, 2.0, 3600.0])
def test_a_bundle_for_another_time_is_refused(daemon, udp, ahead):
    udp.request("standby", "1")
    before = daemon.rejected()
    udp.raw(bundle_of(time.time() + ahead, build_msg("/bellwire/go", ["1"])))
    until("a counter rises", lambda: daemon.rejected() > before)
    time.sleep(2.2 if 0 < ahead < 10 else 0.0)
    assert daemon.cue("1") == "standby"


def test_a_watcher_sees_what_happens(daemon, udp):
    udp.ask("/bellwire/watch", 10, 30)
    assert udp.until("/bellwire/watching") == [10, 30]
    udp.ask("/bellwire/standby", "1")
    udp.until("/bellwire/standby", lambda cue, ready: cue == "1" and ready is True)
    udp.ask("/bellwire/go", "1")
    udp.until("/bellwire/cue", lambda cue, state: (cue, state) == ("1", "running"))
    udp.until("/bellwire/axis", lambda rig, axis, position: (rig, axis) == ("sloop", "travel") and position > 0.1)
    udp.ask("/bellwire/stop")
    udp.until("/bellwire/stopped", lambda stopped: stopped is True)
    udp.until("/bellwire/standstill", lambda standstill: standstill is True)
    udp.ask("/bellwire/unwatch")
    time.sleep(0.3)
    while udp.next(0.2):
        pass
    assert daemon.command("reset")[0] == 0
    assert udp.next(1.0) is None


def test_a_watch_ends_with_its_lease(daemon, udp):
    udp.ask("/bellwire/watch", 20, 1)
    udp.until("/bellwire/watching")
    time.sleep(1.5)
    while udp.next(0.2):
        pass
    assert daemon.command("standby", "1")[0] == 0
    assert udp.next(0.5) is None


def test_an_input_comes_as_any_of_its_types(daemon, udp):
    for value, truth in [(True, True), (False, False), (1, True), (0, False), (1.0, True), (0.0, False)]:
        assert udp.request("input", "deck clear", value) == "accepted"
        until(f"{value!r} is {truth}", lambda: daemon.status()["inputs"]["deck clear"]["value"] is truth)
    assert "deck clear" in udp.request("input", "deck clera", True), "an unknown name brings the nearest known one"


@pytest.mark.parametrize(("source", "believed"), [("127.0.0.1", True), ("10.0.0.7", False)])
def test_an_input_is_believed_from_its_source_alone(bellwire, bench, source, believed):
    show = bench / "show.toml"
    show.write_text(show.read_text().replace('name = "hatch shut"', f'name = "hatch shut"\nsource = "{source}"'))
    with Daemon(bellwire, bench) as daemon, Udp(daemon.osc) as udp:
        before = daemon.rejected()
        answer = udp.request("input", "hatch shut", True)
        if believed:
            assert answer == "accepted"
            until("true", lambda: daemon.status()["inputs"]["hatch shut"]["value"] is True)
        else:
            assert source in answer
            assert daemon.status()["inputs"]["hatch shut"]["value"] is None
            assert daemon.rejected() > before


def test_every_request_is_answered_once(daemon, udp):
    for count in range(50):
        udp.ask("/bellwire/standby", "1" if count % 2 else "none")
    answers = 0
    while message := udp.next(0.5):
        answers += message.address == "/bellwire/answer"
    assert answers == 50


def test_a_stick_over_osc_drives_the_rig_that_an_operator_put_in_its_hands(daemon, udp):
    rig, axis = "sloop", "travel"
    heard = "osc 127.0.0.1"
    with Rpc(daemon.address) as operator:
        with pytest.raises(Refused, match="no client"):
            operator.call("hand", rig=rig, sticks="osc")
        operator.call("hand", rig=rig, sticks=heard, dead_band=0.0)
    # Whoever took it keeps no lease and may go; the sticks are another's.
    hand = daemon.status()["rigs"][rig]["hand"]
    assert (hand["sticks"], hand["near"], hand["let_go"]) == (heard, None, False)
    began = daemon.position(rig, axis)
    for _ in range(10):
        udp.ask("/bellwire/stick", rig, axis, 0.4)
        time.sleep(0.02)
    assert abs(daemon.position(rig, axis) - began) < 0.005, "pushed from the first, it counts for nothing"
    udp.ask("/bellwire/stick", rig, axis, 0.0)
    # Of what comes in one tick only the newest counts.
    time.sleep(0.1)
    for _ in range(40):
        udp.ask("/bellwire/stick", rig, axis, 0.4)
        time.sleep(0.02)
    assert daemon.position(rig, axis) > began + 0.02
    rejected = daemon.rejected()
    for value in [float("nan"), float("inf"), 1.5]:
        udp.ask("/bellwire/stick", rig, axis, value)
    until("what no stick can say is counted", lambda: daemon.rejected() >= rejected + 3)
    until("silence is rest", lambda: daemon.status()["rigs"][rig]["axes"][axis]["state"] == "standstill")
    with Rpc(daemon.address) as other, pytest.raises(Refused, match="in the hands of"):
        other.call("give_back", rig=rig)
