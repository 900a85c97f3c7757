"""The stop port: plain UDP, a road of its own."""

import socket
import threading
import time

import pytest
from pythonosc.osc_message_builder import build_msg

from road.osc import Udp
from road.waiting import until

STOP = build_msg("/bellwire/stop", []).dgram


@pytest.fixture
def lane(daemon):
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as lane:
        lane.connect(("127.0.0.1", daemon.stop_port))
        yield lane


def run_the_sloop(daemon):
    with Udp(daemon.osc) as udp:
        udp.request("standby", "1")
        udp.request("go", "1")
    until("the sloop moves", lambda: daemon.position("sloop", "travel") > 0.2)


def test_one_datagram_stops(daemon, lane):
    run_the_sloop(daemon)
    lane.send(STOP)
    daemon.until_standstill()
    assert "stop port" in str(daemon.status()["stopped"]["by"])
    assert daemon.cue("1") == "stopped"


def test_a_stop_needs_no_arming(daemon, lane):
    assert daemon.command("disarm")[0] == 0
    lane.send(STOP)
    until("stopped", lambda: daemon.status()["stopped"])


def test_a_message_without_type_tags_stops_too(daemon, lane):
    # OSC 1.0: receivers tolerate a missing type-tag string.
    lane.send(b"/bellwire/stop\0\0")
    until("stopped", lambda: daemon.status()["stopped"])


@pytest.mark.parametrize(
    "datagram",
    [b"", b"stop", b"/bellwire/go\0\0\0\0,\0\0\0", b"/bellwire/st*p\0\0,\0\0\0", b"\xff" * 60_000],
)
def test_nothing_else_does(daemon, lane, datagram):
    lane.send(datagram)
    time.sleep(0.2)
    assert daemon.status()["stopped"] is None
    lane.send(STOP)
    until("stopped", lambda: daemon.status()["stopped"])


def test_a_flood_does_not_delay_it(daemon, lane):
    """Half a minute's worth of rubbish and requests in a few seconds, on the other road and on this one."""
    run_the_sloop(daemon)
    end = threading.Event()

    def flood():
        with Udp(daemon.osc) as udp:
            while not end.is_set():
                for _ in range(100):
                    udp.raw(b"rubbish")
                    udp.ask("/bellwire/standby", "2")
                    lane.send(b"rubbish")
                time.sleep(0.005)

    flooding = threading.Thread(target=flood)
    flooding.start()
    try:
        time.sleep(0.5)
        asked = time.monotonic()
        # Datagrams get lost where a socket's buffer is full: whoever means it says it more than once.
        while daemon.status()["stopped"] is None:
            lane.send(STOP)
        assert time.monotonic() - asked < 0.5
    finally:
        end.set()
        flooding.join()
    daemon.until_standstill()
