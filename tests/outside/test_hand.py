"""Rigs driven by hand: `bellwire hand` with a recorded device, and sticks over OSC by the python-osc package."""

import os
import pty
import signal
import subprocess
import threading
import time

import pytest

from road.daemon import Daemon
from road.osc import Udp
from road.rpc import Refused, Rpc
from road.waiting import until

MAP = """
hold = "tl"
stop = "mode"
next = "tr"

[[layer]]
name = "wagon"
[[layer]]
name = "head"

[[stick]]
from = "x"
to = "sloop.travel"
layer = "wagon"
taper = 0

[[stick]]
from = "x"
to = "pike.pan"
layer = "head"

[[dial]]
from = "rz"
to = "pike.zoom"
"""

REST = "0.0 device Two-Stick Pad\n0.0 lever x 128 0 255\n0.0 lever rz 0 0 255\n"


class Hand:
    """`bellwire hand` on a recording, at a terminal of its own if it shall have one."""

    def __init__(self, daemon, folder, tape, map=MAP, terminal=False):
        (folder / "hand.toml").write_text(map)
        (folder / "tape").write_text(tape)
        words = ["hand", "--to", daemon.address, "--map", folder / "hand.toml", "--play", folder / "tape"]
        command = [daemon.program, *words]
        self.screen, self.shown = None, ""
        ends = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE}
        if terminal:
            self.screen, inner = pty.openpty()
            ends = {"stdin": inner, "stdout": inner}
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, **ends)
        if terminal:
            os.close(inner)
            threading.Thread(target=self._look, daemon=True).start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait(timeout=5)

    def _look(self):
        try:
            while True:
                self.shown += os.read(self.screen, 4096).decode(errors="replace")
        except OSError:
            pass  # The other end is gone.

    def told(self, words):
        """Whether these words were shown, however they were broken into lines."""
        return words in " ".join(self.shown.split())

    def press(self, keys):
        os.write(self.screen, keys)

    def end(self, seconds=15):
        """Exit code and standard error, once it has ended by itself."""
        self.process.wait(timeout=seconds)
        return self.process.returncode, self.process.stderr.read()


def speed(daemon, rig="sloop", axis="travel"):
    return daemon.status()["rigs"][rig]["axes"][axis]["speed"]


def owner(daemon, rig="sloop"):
    return daemon.status()["rigs"][rig]["owner"]


def until_driven(daemon):
    until("it drives", lambda: speed(daemon) > 0.5)


def until_at_rest(daemon, seconds=4.0):
    until("at rest", lambda: abs(speed(daemon)) < 1e-3, seconds)


def test_a_recorded_pad_drives_while_its_button_is_held_and_gives_back(daemon, tmp_path):
    tape = REST + "0.4 lever x 255 0 255\n1.2 lever x 128 0 255\n1.3 button tl down\n1.6 lever x 255 0 255\n"
    tape += "3.0 button tl up\n4.5 lost\n"
    with Hand(daemon, tmp_path, tape) as hand:
        until("in hand", lambda: owner(daemon) == "hand" and owner(daemon, "pike") == "hand")
        time.sleep(0.8)
        assert daemon.position("sloop", "travel") == 0.0, "it moved without the button"
        until_driven(daemon)
        until_at_rest(daemon, 6.0)
        code, complaint = hand.end()
        assert (code, complaint) == (0, "")
    until("given back", lambda: owner(daemon) is None)
    assert 0.5 < daemon.position("sloop", "travel") < 3.0


def test_a_device_that_is_lost_is_zero_at_once(daemon, tmp_path):
    tape = REST + "0.3 button tl down\n0.5 lever x 255 0 255\n1.6 lost\n9.0 lost\n"
    with Hand(daemon, tmp_path, tape):
        until_driven(daemon)
        until_at_rest(daemon)
        assert owner(daemon) == "hand"


@pytest.mark.parametrize("end", [signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_whatever_ends_it_is_zero(daemon, tmp_path, end):
    tape = REST + "0.3 button tl down\n0.5 lever x 255 0 255\n20.0 lost\n"
    with Hand(daemon, tmp_path, tape) as hand:
        until_driven(daemon)
        hand.process.send_signal(end)
        until_at_rest(daemon)
        until("given back", lambda: owner(daemon) is None)


def test_at_a_terminal_a_key_stops_and_the_focus_is_heeded(daemon, tmp_path):
    tape = REST + "0.3 button tl down\n0.5 lever x 255 0 255\n20.0 lost\n"
    with Hand(daemon, tmp_path, tape, terminal=True) as hand:
        until_driven(daemon)
        hand.press(b"\x1b[O")
        until_at_rest(daemon)
        assert daemon.status()["stopped"] is None
        assert all(word in hand.shown for word in ["Two-Stick Pad", "HELD", "sloop.travel", "pike.zoom"])
        hand.press(b"\x1b")
        until("stopped", lambda: daemon.status()["stopped"])
        hand.press(b"q")
        assert hand.end()[0] == 0


def test_a_map_that_does_not_fit_says_what_does(daemon, tmp_path):
    wrong = MAP.replace("sloop.travel", "sloop.travle")
    with Hand(daemon, tmp_path, REST, wrong) as hand:
        code, complaint = hand.end()
        assert code == 1 and "sloop has no axis `travle`; it has travel" in complaint
    with Hand(daemon, tmp_path, REST, MAP.replace("taper", "tapper")) as hand:
        code, complaint = hand.end()
        assert code == 1 and "hand.toml:15:" in complaint and "`taper`" in complaint
    with Hand(daemon, tmp_path, "0.0 lever q 1 2 3\n") as hand:
        code, complaint = hand.end()
        assert code == 1 and "tape:1:" in complaint


def test_a_rig_in_other_hands_is_refused_with_whose(daemon, tmp_path):
    with Rpc(daemon.address, name="rail") as rail:
        rail.call("hand", rig="sloop")
        with Hand(daemon, tmp_path, REST + "9.0 lost\n") as hand:
            code, complaint = hand.end()
            assert code == 1 and "sloop is in the hands of rail" in complaint
            assert "takes this one over once it is offered" in complaint
        assert owner(daemon) == "rail"


def test_at_a_terminal_a_rig_in_other_hands_is_waited_for_and_taken_over_by_a_key(daemon, tmp_path):
    tape = REST + "0.3 button tl down\n0.5 lever x 128 0 255\n30.0 lost\n"
    with Rpc(daemon.address, name="rail") as rail:
        rail.call("hand", rig="sloop")
        with Hand(daemon, tmp_path, tape, terminal=True) as hand:
            until("the other rig", lambda: owner(daemon, "pike") == "hand")
            ask = "sloop: in the hands of rail; ask them to hand it over to `hand`, or to give it back, then press a"
            until("what to do", lambda: hand.told(ask))
            hand.press(b"a")
            time.sleep(0.5)
            assert owner(daemon) == "rail", "a key takes nothing that is not offered"
            rail.call("hand_over", rig="sloop", to="hand")
            until("the offer", lambda: hand.told("sloop: rail offers it to you; press a to take it over"))
            hand.press(b"a")
            until("taken over", lambda: owner(daemon) == "hand")
            until("said", lambda: hand.told("sloop: in your hands"))
            hand.press(b"q")
            assert hand.end()[0] == 0


def push(client, value, seconds, rig="sloop", axis="travel"):
    """A stick of this client at a value for so long, after a moment at zero."""
    client.call("stick", rig=rig, axis=axis, value=0.0)
    time.sleep(0.1)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        client.call("stick", rig=rig, axis=axis, value=value)
        time.sleep(0.02)


def test_a_rig_is_offered_and_taken_over_and_the_first_stick_is_dead(daemon):
    def hand():
        return daemon.status()["rigs"]["sloop"]["hand"]

    with Rpc(daemon.address, name="rail") as rail, Rpc(daemon.address, name="prompt") as prompt:
        here = [{"name": name, "role": "operator"} for name in ("rail", "prompt")]
        assert daemon.status()["clients"] == here
        rail.call("hand", rig="sloop", dead_band=0.0, taper=0.0)
        for verb in ("accept", "hand", "give_back"):
            with pytest.raises(Refused, match="sloop"):
                prompt.call(verb, rig="sloop")
        rail.call("hand_over", rig="sloop", to="prompt")
        assert (hand()["client"], hand()["offered"]) == ("rail", "prompt")
        push(rail, 0.5, 1.0)
        assert speed(daemon) == pytest.approx(0.5, abs=0.05), "until it is taken over, the first one drives"
        prompt.call("accept", rig="sloop", dead_band=0.0, taper=0.0)
        assert (hand()["client"], hand()["sticks"], hand()["offered"]) == ("prompt", "prompt", None)
        push(rail, 0.5, 1.5)
        assert speed(daemon) == pytest.approx(0.0, abs=1e-3), "the first one's stick drives on"
        push(prompt, -0.5, 1.0)
        assert speed(daemon) == pytest.approx(-0.5, abs=0.05)
        with pytest.raises(Refused, match="prompt"):
            rail.call("give_back", rig="sloop")
        until_at_rest(daemon)
        prompt.call("hand_over", rig="sloop", to="rail")
        assert hand()["offered"] == "rail"
        until("the offer lapses", lambda: hand()["offered"] is None, 35.0)
        with pytest.raises(Refused, match="not offered to you"):
            rail.call("accept", rig="sloop")
        assert hand()["client"] == "prompt"


def test_an_offer_to_whom_the_link_is_lost_lapses_at_once_and_who_is_here_is_told(daemon):
    with Rpc(daemon.address, name="rail") as rail:
        with Rpc(daemon.address, name="prompt"):
            rail.call("hand", rig="sloop")
            rail.call("hand_over", rig="sloop", to="prompt")
        until("lapsed", lambda: daemon.status()["rigs"]["sloop"]["hand"]["offered"] is None, 2.0)
        assert [client["name"] for client in daemon.status()["clients"]] == ["rail"]


def test_sticks_and_dials_over_osc_drive_the_rig_of_the_operator_who_named_them(daemon):
    with Udp(daemon.osc) as udp, Rpc(daemon.address, name="rail") as rail:
        rail.call("hand", rig="sloop", sticks="osc 127.0.0.1", dead_band=0.0, taper=0.0)
        rail.call("hand", rig="pike", sticks="osc 127.0.0.1")
        # At zero first, in a tick of its own: of one tick the newest counts.
        udp.ask("/bellwire/stick", "sloop", "travel", 0.0)
        time.sleep(0.1)
        end = time.monotonic() + 1.2
        while time.monotonic() < end:
            udp.ask("/bellwire/stick", "sloop", "travel", 0.6)
            time.sleep(0.02)
        assert speed(daemon) == pytest.approx(0.6, abs=0.05)
        # Silence is zero.
        until_at_rest(daemon)
        for value in (0.0, 0.25):
            udp.ask("/bellwire/dial", "pike", "zoom", value)
            time.sleep(0.05)
        until("where its dial stands", lambda: abs(daemon.position("pike", "zoom") - 25.0) < 0.5)
        before = daemon.rejected()
        for value in (float("nan"), 1.5, 7):
            udp.ask("/bellwire/stick", "sloop", "travel", value)
        until("turned away", lambda: daemon.rejected() >= before + 3)
        assert speed(daemon) == pytest.approx(0.0, abs=1e-3)


def test_the_pad_of_the_cue_book_stops_before_where_the_basket_is_going_to_be(bellwire, cue_book, tmp_path):
    [page] = [show for show in cue_book if show.name == "by-hand"]
    with Daemon(bellwire, page, "--arm") as daemon, Rpc(daemon.address, name="caller") as caller:
        daemon.until_armed()
        caller.call("standby", cues=["1"])
        until("ready", lambda: daemon.status()["standby"][0]["ready"])
        caller.call("go", cue="1")
        with Hand(daemon, tmp_path, (page / "pad.txt").read_text(), (page / "hand.toml").read_text()) as hand:
            until("before the basket", lambda: (daemon.status()["rigs"]["wren"]["hand"] or {}).get("near"), 10.0)
            until("at rest", lambda: abs(speed(daemon, "wren")) < 1e-3)
            assert daemon.position("wren", "travel") == pytest.approx(1.2, abs=0.03)
            assert daemon.position("basket", "height") > 1.5, "it is not there yet"
            assert hand.end() == (0, "")
