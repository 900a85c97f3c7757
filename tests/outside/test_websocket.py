"""JSON-RPC 2.0 over WebSocket, by the websockets package; frames by hand where no package would send them."""

import datetime
import json
import socket

import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from road.rpc import Refused, Rpc
from road.waiting import until


@pytest.fixture
def rpc(daemon):
    with Rpc(daemon.address) as road:
        yield road


def reply(rpc, text):
    rpc.socket.send(text)
    return rpc.receive()


# JSON-RPC 2.0, section 5.1: the codes of errors.


@pytest.mark.parametrize("text", ["Hello", "", "{", '{"jsonrpc": "2.0", "method"', "[1, 2", "nan"])
def test_what_is_no_json_is_a_parse_error(rpc, text):
    answer = reply(rpc, text)
    assert answer["error"]["code"] == -32700 and answer["id"] is None


@pytest.mark.parametrize("text", ["1", "[]", "{}", '"go"', "null", '{"jsonrpc": "1.0", "method": "status", "id": 1}'])
def test_what_is_no_request_is_invalid(rpc, text):
    assert reply(rpc, text)["error"]["code"] == -32600


def test_an_unknown_method(rpc):
    with pytest.raises(Refused) as refused:
        rpc.call("gone")
    assert refused.value.code == -32601


@pytest.mark.parametrize(
    ("method", "params"),
    [
        ("standby", {}),
        ("standby", {"cues": "1"}),
        ("standby", {"cues": [1]}),
        ("standby", {"cues": ["1"], "skipp": True}),
        ("go", {"cue": 1}),
        ("master", {"value": "half"}),
        ("input", {"name": "deck clear"}),
        ("subscribe", {"hz": -1}),
    ],
)
def test_bad_params_say_what_was_expected(rpc, method, params):
    with pytest.raises(Refused) as refused:
        rpc.call(method, **params)
    assert refused.value.code == -32602
    assert "expected" in str(refused.value)


def test_a_batch_is_answered_as_one(rpc):
    requests = [{"jsonrpc": "2.0", "id": identity, "method": "status"} for identity in (5, "six", 7)]
    answers = reply(rpc, json.dumps([*requests, {"jsonrpc": "2.0", "method": "status"}]))
    assert {answer["id"] for answer in answers} == {5, "six", 7}


def test_a_batch_has_an_end(rpc):
    answer = reply(rpc, json.dumps([{"jsonrpc": "2.0", "id": n, "method": "status"} for n in range(33)]))
    assert answer["error"]["code"] == -32600


# The verbs.


def test_standby_says_whether_it_is_ready(rpc):
    assert rpc.call("standby", cues=["1"]) == {"accepted": True, "ready": True, "reasons": []}


def test_cues_on_standby_go_in_their_order(daemon, rpc):
    rpc.call("standby", cues=["1", "2"])
    rpc.call("go")
    daemon.until_cue("1", "done")
    rpc.call("go")
    daemon.until_cue("2", "running")


def test_passing_over_a_cue_is_acknowledged(daemon, rpc):
    passed_over = rpc.call("standby", cues=["2"])
    assert not passed_over["ready"] and passed_over["reasons"]
    with pytest.raises(Refused):
        rpc.call("go", cue="2")
    assert daemon.status()["running"] == []


def test_a_key_is_one_request(daemon, rpc):
    rpc.call("standby", cues=["1"])
    first = rpc.call("go", cue="1", key="a")
    assert rpc.call("go", cue="1", key="a") == first
    rpc.call("stop")
    assert rpc.call("go", cue="1", key="a") == first
    assert daemon.cue("1") == "stopped"


def at(seconds):
    moment = datetime.datetime.now(datetime.UTC) + datetime.timedelta(seconds=seconds)
    return moment.isoformat()


def test_a_request_that_is_too_old_is_refused(daemon, rpc):
    rpc.call("standby", cues=["1"])
    for sent in (at(-5), at(3600)):
        with pytest.raises(Refused) as refused:
            rpc.call("go", cue="1", sent=sent)
        assert refused.value.reasons
    assert daemon.cue("1") == "standby"
    rpc.call("go", cue="1", sent=at(0))


@pytest.mark.parametrize("value", [-0.1, 1.5, 1e308])
def test_a_master_out_of_range_is_refused(rpc, value):
    with pytest.raises(Refused):
        rpc.call("master", value=value)


def test_the_master_scales_the_shows_clock(daemon, rpc):
    rpc.call("master", value=0.5)
    rpc.call("standby", cues=["1"])
    rpc.call("go")
    until("half rate", lambda: [cue["rate"] for cue in daemon.status()["running"]] == [0.5])


def test_stop_is_taken_at_once_and_standstill_follows(rpc):
    rpc.call("subscribe", hz=5)
    rpc.call("standby", cues=["1"])
    rpc.call("go")
    rpc.until("status", lambda status: status["rigs"]["sloop"]["axes"]["travel"]["speed"] > 0.3)
    assert rpc.call("stop") == {"taken": True}
    rpc.until("event", lambda event: event["kind"] == "stop")
    rpc.until("event", lambda event: event["kind"] == "standstill")


def test_disarmed_nothing_goes(daemon, rpc):
    rpc.call("disarm")
    rpc.call("standby", cues=["1"])
    with pytest.raises(Refused) as refused:
        rpc.call("go")
    assert any("arm" in reason for reason in refused.value.reasons)
    rpc.call("arm")
    until("armed", lambda: daemon.status()["armed"])


# Notifications.


def test_statuses_come_whole_and_no_oftener_than_asked(rpc):
    own = "websocket {}:{}".format(*rpc.socket.local_address)
    assert rpc.call("subscribe", hz=10, stage=True) == {"hz": 10, "client": own}
    statuses = [rpc.until("status") for _ in range(10)]
    times = [status["time"] for status in statuses]
    assert all(0.05 < later - earlier < 0.5 for earlier, later in zip(times, times[1:])), times
    assert statuses[0]["stage"]["sloop"] == [{"box": {"corners": [
        [-1.0, 1.5, 0.05], [1.0, 1.5, 0.05], [-1.0, 2.5, 0.05], [1.0, 2.5, 0.05],
        [-1.0, 1.5, 1.0], [1.0, 1.5, 1.0], [-1.0, 2.5, 1.0], [1.0, 2.5, 1.0],
    ]}}]
    assert rpc.call("subscribe", hz=0) == {"hz": 0, "client": own}


def test_events_come_each_and_in_order(rpc):
    rpc.call("subscribe", hz=1)
    rpc.call("standby", cues=["1"])
    rpc.call("go")
    events = []
    while not events or (events[-1]["kind"], events[-1].get("state")) != ("cue", "done"):
        events.append(rpc.until("event"))
    seqs = [event["seq"] for event in events]
    assert seqs == list(range(seqs[0], seqs[0] + len(seqs)))
    kinds = [event["kind"] for event in events]
    assert kinds.index("standby") < kinds.index("go") < len(kinds) - 1
    assert all(event["text"] for event in events)


def test_a_lost_lease_holds_what_it_fired(daemon):
    caller = Rpc(daemon.address)
    caller.call("subscribe", hz=1, lease=0.5)
    caller.call("standby", cues=["1"])
    caller.call("go")
    caller.close()
    daemon.until_cue("1", "holding")
    with Rpc(daemon.address) as other:
        with pytest.raises(Refused):
            other.call("go", cue="1")
    assert daemon.cue("1") == "holding"


# Frames, RFC 6455.


def knock(daemon, *headers):
    """A connection after its handshake with the key of section 1.3."""
    lines = [
        "GET /rpc HTTP/1.1", f"Host: {daemon.address}", "Upgrade: websocket", "Connection: Upgrade",
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==", "Sec-WebSocket-Version: 13", *headers, "", "",
    ]
    door = socket.create_connection(("127.0.0.1", daemon.http), timeout=5)
    door.sendall("\r\n".join(lines).encode())
    head = b""
    while b"\r\n\r\n" not in head:
        octets = door.recv(1)
        assert octets, head
        head += octets
    return door, head.decode()


def closed_with(door):
    """The code of the close frame that comes, past any other frame."""
    while True:
        first, length = door.recv(1), door.recv(1)
        assert first and length, "closed without a close frame"
        length = length[0]
        if length == 126:
            length = int.from_bytes(door.recv(2, socket.MSG_WAITALL), "big")
        payload = door.recv(length, socket.MSG_WAITALL)
        if first[0] & 0x0F == 8:
            return int.from_bytes(payload[:2], "big")


def test_the_handshake_of_the_standard(daemon):
    door, head = knock(daemon)
    assert head.startswith("HTTP/1.1 101")
    assert "s3pPLMBiTxaQ9kYGzzhZRbK+xOo=" in head
    # "Hello", masked, of section 5.7: a good frame that is no JSON.
    door.sendall(bytes.fromhex("818537fa213d7f9f4d5158"))
    assert door.recv(1) == b"\x81"
    door.close()


@pytest.mark.parametrize(
    ("frame", "code"),
    [
        ("810548656c6c6f", 1002),  # unmasked, 5.1
        ("c18537fa213d7f9f4d5158", 1002),  # a reserved bit, 5.2
        ("838037fa213d", 1002),  # a reserved opcode, 5.2
        ("098037fa213d", 1002),  # a ping in fragments, 5.5
        ("818100000000ff", 1007),  # text that is not UTF-8, 8.1
    ],
)
def test_a_bad_frame_closes_its_connection_alone(daemon, rpc, frame, code):
    door, _ = knock(daemon)
    door.sendall(bytes.fromhex(frame))
    assert closed_with(door) == code
    assert rpc.call("status")["armed"]


def test_a_message_too_big_closes_its_connection_alone(daemon, rpc):
    before = daemon.rejected()
    with connect(f"ws://{daemon.address}/rpc", max_size=None) as big:
        with pytest.raises(ConnectionClosed) as closed:
            big.send('{"jsonrpc": "2.0", "id": 1, "method": "' + "x" * (8 << 20) + '"}')
            big.recv(timeout=5)
    # Its reason is lost if the connection was reset before it was read.
    assert closed.value.rcvd is None or closed.value.rcvd.code == 1009
    assert rpc.call("status")["armed"]
    until("a counter rises", lambda: daemon.rejected() > before)


def test_a_page_from_elsewhere_does_not_get_in(daemon):
    with pytest.raises(InvalidStatus) as refused:
        connect(f"ws://{daemon.address}/rpc", origin="http://example.org")
    assert refused.value.response.status_code == 403
    with connect(f"ws://{daemon.address}/rpc", origin=f"http://{daemon.address}"):
        pass
