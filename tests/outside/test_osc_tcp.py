"""OSC over TCP with SLIP (RFC 1055, END at both ends): framing of our own, then the python-osc package's."""

import time

import pytest
from pythonosc.osc_message import OscMessage
from pythonosc.osc_message_builder import build_msg
from pythonosc.tcp_client import SimpleTCPClient

from road.osc import END, Tcp, slip
from road.waiting import until


@pytest.fixture
def tcp(daemon):
    with Tcp(daemon.osc) as road:
        yield road


def standby(number):
    return build_msg("/bellwire/standby", [number]).dgram


def test_the_packages_own_client_is_answered(daemon):
    with SimpleTCPClient("127.0.0.1", daemon.osc, timeout=5) as client:
        client.send_message("/bellwire/standby", ["1"])
        frames = [frame for frame in client.receive() if frame]
    answer = OscMessage(frames[0])
    assert (answer.address, answer.params) == ("/bellwire/answer", ["standby", "1", "accepted"])


def test_a_frame_may_come_octet_by_octet(daemon, tcp):
    for octet in slip(standby("1")):
        tcp.raw(bytes([octet]))
        time.sleep(0.002)
    assert tcp.until("/bellwire/answer")[2] == "accepted"


def test_many_frames_may_come_at_once(daemon, tcp):
    tcp.raw(slip(standby("1")) * 20)
    for _ in range(20):
        assert tcp.until("/bellwire/answer")[2] == "accepted"


@pytest.mark.parametrize(
    ("value", "octets", "text"),
    [(-2.0, "c0000000", "-2"), (-6.0, "c0c00000", "-6"), (56512, "0000dcc0", "56512"), (-606289984, "dbdcbfc0", "-606289984")],
)
def test_escaped_octets_arrive(tcp, value, octets, text):
    """No number of these is the value of a switch, and the refusal tells the one that was heard."""
    assert build_msg("/", [value]).dgram.endswith(bytes.fromhex(octets))
    assert tcp.request("input", "deck clear", value).endswith(text)


def test_empty_frames_are_nothing(daemon, tcp):
    before = daemon.rejected()
    tcp.raw(END * 100 + slip(standby("1")))
    assert tcp.until("/bellwire/answer")[2] == "accepted"
    assert daemon.rejected() == before


def test_half_a_frame_harms_only_itself(daemon, tcp):
    with Tcp(daemon.osc) as other:
        other.raw(slip(standby("1"))[:11])
        assert tcp.request("standby", "1") == "accepted"
        other.raw(END + slip(standby("1")))
        assert other.until("/bellwire/answer")[2] == "accepted"


@pytest.mark.parametrize("rubbish", [b"\xdb\x00", b"rubbish", b"/bellwire/go", b"#bundle\0", b"\xdb\xdd" * 30])
def test_a_bad_frame_is_counted(daemon, tcp, rubbish):
    before = daemon.rejected()
    tcp.raw(END + rubbish + END)
    until("a counter rises", lambda: daemon.rejected() > before)
    with Tcp(daemon.osc) as other:
        assert other.request("standby", "1") == "accepted"


def test_a_frame_without_end_takes_no_memory(daemon, tcp):
    before, held = daemon.rejected(), daemon.resident()
    try:
        tcp.raw(END + b"a" * (32 << 20))
        tcp.raw(END)
    except OSError:
        pass  # It may have been cut off.
    until("a counter rises", lambda: daemon.rejected() > before)
    assert daemon.resident() < held + 10
    with Tcp(daemon.osc) as other:
        assert other.request("standby", "1") == "accepted"


def test_a_watcher_over_tcp(daemon, tcp):
    tcp.ask("/bellwire/watch", 20, 30)
    assert tcp.until("/bellwire/watching") == [20, 30]
    tcp.request("standby", "1")
    tcp.request("go", "1")
    tcp.until("/bellwire/cue", lambda cue, state: (cue, state) == ("1", "done"))
