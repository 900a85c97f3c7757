"""Bad input and bad clients on every road: the others are served, the counters rise, memory stays."""

import random
import socket
import time

import pytest

from road.osc import Tcp, Udp, slip
from road.rpc import Rpc
from road.waiting import until
from test_websocket import knock


@pytest.fixture
def served(daemon):
    """Afterwards every road still serves, quickly."""
    yield
    assert daemon.process.poll() is None, daemon.complained
    started = time.monotonic()
    with Udp(daemon.osc) as udp, Tcp(daemon.osc) as tcp, Rpc(daemon.address) as rpc:
        assert udp.request("standby", "1") == "accepted"
        assert tcp.request("standby", "1") == "accepted"
        assert rpc.call("standby", cues=["1"])["accepted"]
    assert time.monotonic() - started < 2.0
    assert not any("panic" in line for line in daemon.complained)


def nested_bundles(depth):
    packet = b"/bellwire/go\0\0\0\0,s\0\x001\0\0\0"
    for _ in range(depth):
        packet = b"#bundle\0" + (1).to_bytes(8, "big") + len(packet).to_bytes(4, "big") + packet
    return packet


@pytest.mark.parametrize("depth", [2, 50, 2000, 3000])
def test_nested_bundles(daemon, served, depth):
    before = daemon.rejected()
    with Udp(daemon.osc) as udp, Tcp(daemon.osc) as tcp:
        udp.raw(nested_bundles(depth))
        tcp.raw(slip(nested_bundles(depth)))
    if depth > 2:
        until("a counter rises", lambda: daemon.rejected() > before)


def test_rubbish_datagrams(daemon, served):
    before = daemon.rejected()
    dice = random.Random(7)
    with Udp(daemon.osc) as udp:
        for _ in range(2000):
            udp.raw(dice.randbytes(dice.choice([0, 1, 3, 4, 16, 64, 512, 1400])))
            time.sleep(0.0002)
    until("counters rise", lambda: daemon.rejected() > before + 1000)


def test_good_messages_with_an_octet_changed(daemon, served):
    dice = random.Random(8)
    good = b"/bellwire/standby\0\0\0,s\0\x001\0\0\0"
    with Udp(daemon.osc) as udp:
        for place in range(len(good)):
            for _ in range(10):
                udp.raw(good[:place] + dice.randbytes(1) + good[place + 1 :])
            udp.raw(good[:place])
            time.sleep(0.002)
    assert daemon.status()["running"] == []


def test_half_open_requests(daemon, served):
    doors = [socket.create_connection(("127.0.0.1", daemon.http), timeout=5) for _ in range(40)]
    for door in doors:
        door.sendall(b"GET /status HTTP/1.1\r\nHost: 127")
    assert daemon.status()["armed"]
    for door in doors:
        door.close()


def test_rubbish_over_http(daemon, served):
    dice = random.Random(9)
    for head in (b"\r\n\r\n", b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"POST /stop HTTP/1.1\r\nContent-Length: -1\r\n\r\n"):
        with socket.create_connection(("127.0.0.1", daemon.http), timeout=5) as door:
            door.sendall(head + dice.randbytes(5000))
    with socket.create_connection(("127.0.0.1", daemon.http), timeout=5) as door:
        try:
            for _ in range(2000):
                door.sendall(b"X-Long: " + b"y" * 1000 + b"\r\n")
        except OSError:
            pass
    assert daemon.status()["stopped"] is None


def test_a_client_that_never_reads(daemon, served):
    """It asks for everything, thirty times a second, and lets it pile up."""
    door, _ = knock(daemon)
    subscribe = b'{"jsonrpc":"2.0","id":1,"method":"subscribe","params":{"hz":30,"stage":true}}'
    status = b'{"jsonrpc":"2.0","id":2,"method":"status"}'
    door.settimeout(0.5)
    try:
        for text in [subscribe, *[status] * 3000]:
            # A mask of zeros changes nothing.
            door.sendall(bytes([0x81, 0x80 | len(text)]) + bytes(4) + text)
    except OSError:
        pass
    before = daemon.resident()
    with Rpc(daemon.address) as rpc:
        rpc.call("standby", cues=["1"])
        started = time.monotonic()
        rpc.call("go")
        assert time.monotonic() - started < 0.2
        daemon.until_cue("1", "done")
    time.sleep(2)
    assert daemon.resident() < before + 20
    door.close()


def test_a_tcp_client_that_never_reads(daemon, served):
    with Tcp(daemon.osc) as deaf:
        deaf.socket.settimeout(0.5)
        try:
            for _ in range(20_000):
                deaf.ask("/bellwire/standby", "none")
        except OSError:
            pass
        assert daemon.resident() < 200
        # Another machine is served at once. This one, that floods, is one client whatever its road and over its rate
        # until it has been quiet for a moment: what it asks then may get no answer, and is asked again.
        with Udp(daemon.osc, "127.0.0.9") as udp:
            assert udp.request("standby", "1") == "accepted"
        with Udp(daemon.osc) as udp:
            until("this one again", lambda: udp.ask("/bellwire/standby", "1") or udp.next(0.3), seconds=20)


def test_many_connections_that_come_and_go(daemon, served):
    before = daemon.resident()
    for _ in range(300):
        Tcp(daemon.osc).socket.close()
        Rpc(daemon.address).close()
    assert daemon.resident() < before + 20


def test_many_watchers(daemon, served):
    """Datagrams may come from as many addresses as anyone likes to write on them."""
    before = daemon.resident()
    watchers = [Udp(daemon.osc) for _ in range(200)]
    for watcher in watchers:
        watcher.ask("/bellwire/watch", 30, 60)
        watcher.ask("/bellwire/watch", -1, 10**9)
        watcher.ask("/bellwire/watch", "often", 1.5)
    time.sleep(1)
    for watcher in watchers:
        watcher.client.close()
    assert daemon.resident() < before + 20
