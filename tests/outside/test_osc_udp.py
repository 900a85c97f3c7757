"""OSC over UDP, by the python-osc package."""

import signal
import subprocess
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


RIG, AXIS, SURFACE = "sloop", "travel", "osc 127.0.0.1"


def hand_of(daemon):
    return daemon.status()["rigs"][RIG]["hand"]


def push(udp, value, seconds):
    """Keeps a stick there for so long."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        udp.ask("/bellwire/stick", RIG, AXIS, value)
        time.sleep(0.02)


def test_a_stick_over_osc_drives_the_rig_that_an_operator_put_in_its_hands(daemon, udp):
    with Rpc(daemon.address) as operator:
        with pytest.raises(Refused, match="no client"):
            operator.call("hand", rig=RIG, sticks="osc")
        operator.call("hand", rig=RIG, sticks=SURFACE, dead_band=0.0)
        hand = hand_of(daemon)
        assert (hand["sticks"], hand["near"], hand["let_go"]) == (SURFACE, None, False)
        began = daemon.position(RIG, AXIS)
        push(udp, 0.4, 0.2)
        assert abs(daemon.position(RIG, AXIS) - began) < 0.005, "pushed from the first, it counts for nothing"
        # Of what comes in one tick only the newest counts.
        push(udp, 0.0, 0.1)
        push(udp, 0.4, 0.8)
        assert daemon.position(RIG, AXIS) > began + 0.02
        rejected = daemon.rejected()
        for value in [float("nan"), float("inf"), 1.5]:
            udp.ask("/bellwire/stick", RIG, AXIS, value)
        until("what no stick can say is counted", lambda: daemon.rejected() >= rejected + 3)
        until("silence is rest", lambda: daemon.status()["rigs"][RIG]["axes"][AXIS]["state"] == "standstill")
        with Rpc(daemon.address) as other, pytest.raises(Refused, match="it is free too once their link ends"):
            other.call("give_back", rig=RIG)


def test_a_rig_whose_operator_has_gone_is_nobodys_though_sticks_of_osc_drive_it(daemon, udp):
    with Rpc(daemon.address) as operator:
        operator.call("hand", rig=RIG, sticks=SURFACE, dead_band=0.0)
        push(udp, 0.0, 0.1)
        push(udp, 0.4, 1.0)
        assert daemon.position(RIG, AXIS) > 0.02
    # The surface is pushed on, and nothing is left for it to drive.
    push(udp, 0.4, 1.5)
    status = daemon.status()["rigs"][RIG]
    assert (status["owner"], status["hand"], status["axes"][AXIS]["state"]) == (None, None, "standstill")
    stands = daemon.position(RIG, AXIS)
    push(udp, 0.4, 0.3)
    assert abs(daemon.position(RIG, AXIS) - stands) < 1e-3
    with Rpc(daemon.address) as other:
        other.call("hand", rig=RIG)


def test_a_rig_is_lent_to_a_surface_for_as_long_as_the_lending_runs(bellwire, daemon, udp):
    words = [bellwire, "lend", RIG, "--sticks", SURFACE, "--dead-band", "0", "--to", daemon.address]
    lend = lambda: subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    with lend() as lending:
        assert lending.stdout.readline() == f"{RIG} in hand, driven by the sticks of {SURFACE}; given back when this ends (Ctrl-C)\n"
        assert hand_of(daemon)["client"] == f"lend {lending.pid}"
        refused = subprocess.run(words, capture_output=True, text=True, timeout=10)
        assert refused.returncode == 1 and f"in the hands of lend {lending.pid}" in refused.stderr
        # It is heard all the time: longer than its lease it stays.
        time.sleep(2.5)
        push(udp, 0.0, 0.1)
        push(udp, 0.4, 0.8)
        assert daemon.position(RIG, AXIS) > 0.02
        lending.send_signal(signal.SIGINT)
        assert lending.communicate(timeout=10) == (f"{RIG} given back\n", "") and lending.returncode == 0
    until("given back", lambda: hand_of(daemon) is None)

    # Killed, it gives nothing back, and the rig is nobody's all the same; so is what a frozen one has.
    for end, resumed in [(signal.SIGKILL, False), (signal.SIGSTOP, True)]:
        with lend() as lending:
            lending.stdout.readline()
            lending.send_signal(end)
            until(f"nobody's after {end.name}", lambda: hand_of(daemon) is None, 5.0)
            if resumed:
                lending.send_signal(signal.SIGCONT)
                _, told = lending.communicate(timeout=10)
                assert lending.returncode == 1 and f"{RIG} is no longer in hand here" in told

    # A disarm gives back what is lent, and the lending says so and ends.
    with lend() as lending:
        lending.stdout.readline()
        assert daemon.command("disarm")[0] == 0
        _, told = lending.communicate(timeout=10)
        assert lending.returncode == 1 and "given back, as by a disarm" in told
