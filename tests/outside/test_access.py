"""Who is let in, by processes on this machine: loopback that is not trusted is treated like any other network, and all of
127.0.0.0/8 gives senders of different addresses."""

import hashlib
import json
import os
import re
import secrets
import socket
import subprocess
import sys
import time

import pytest
from pythonosc.osc_message_builder import build_msg
from websockets.exceptions import ConnectionClosed

from road.daemon import Daemon
from road.osc import Tcp, Udp, slip
from road.rpc import Refused, Rpc
from road.waiting import until

TOKENS = {role: secrets.token_hex(32) for role in ("observer", "caller", "operator")}
STRANGER = secrets.token_hex(32)
DESK, WALL, UNKNOWN = "127.0.0.2", "127.0.0.3", "127.0.0.4"
RANK = {None: 0, "observer": 1, "caller": 2, "operator": 3}

VERBS = [
    ("reload", {}, "operator"),
    ("reload", {"accept": "123456"}, "operator"),
    ("preset", {"cue": "1"}, "caller"),
    ("status", {}, "observer"),
    ("subscribe", {"hz": 0}, "observer"),
    ("standby", {"cues": ["1"]}, "caller"),
    ("go", {}, "caller"),
    ("hold", {}, "caller"),
    ("resume", {}, "caller"),
    ("return", {"cue": "1"}, "caller"),
    ("input", {"name": "deck clear", "value": True}, "caller"),
    ("master", {"value": 1.0}, "operator"),
    ("disarm", {}, "operator"),
    ("arm", {}, "operator"),
    ("reset", {}, "operator"),
    ("fault", {"rig": "pike", "kind": "mute", "on": False}, "operator"),
]


def hashed(token):
    return "sha256:" + hashlib.sha256(bytes.fromhex(token)).hexdigest()


def access_toml(show, head="trust_loopback = false", tail=""):
    entries = "".join(
        f'[[token]]\nname = "the {role}"\nrole = "{role}"\nhash = "{hashed(token)}"\n' for role, token in TOKENS.items()
    )
    senders = (
        f'[[sender]]\nname = "desk"\naddress = "{DESK}"\nrole = "caller"\n'
        f'[[sender]]\nname = "wall"\naddress = "{WALL}"\nrole = "observer"\n'
    )
    (show / "access.toml").write_text(f"{head}\n{entries}{senders}{tail}\n")


@pytest.fixture
def guarded(bellwire, bench):
    """An armed daemon that trusts nobody, not even this machine."""
    access_toml(bench)
    with Daemon(bellwire, bench, "--arm", token=TOKENS["operator"]) as running:
        running.until_armed()
        yield running


def curl(address, path, *options):
    """The status code and the body."""
    command = ["curl", "--silent", "--show-error", "--max-time", "10", "--write-out", "\n%{http_code}", *options]
    done = subprocess.run([*command, f"http://{address}{path}"], capture_output=True, text=True, check=True, timeout=20)
    body, _, code = done.stdout.rpartition("\n")
    return int(code), body


def bearer(token):
    return ("--header", f"Authorization: Bearer {token}")


def asked(rpc, method, params):
    """Accepted is "", a refusal its reasons."""
    try:
        rpc.call(method, **params)
    except Refused as refused:
        return "; ".join(refused.reasons) or str(refused)
    return ""


def is_barred(said):
    return "without a token" in said or "the sender is" in said


# A token and its role.


@pytest.mark.parametrize("role", [None, "observer", "caller", "operator"])
def test_every_role_may_what_it_may_and_no_more(guarded, role):
    with Rpc(guarded.address, TOKENS.get(role)) as rpc:
        for method, params, needs in VERBS:
            said = asked(rpc, method, params)
            assert is_barred(said) == (RANK[role] < RANK[needs]), f"{role} {method}: {said}"
        assert rpc.call("stop") == {"taken": True}
    until("stopped", lambda: guarded.status()["stopped"])


@pytest.mark.parametrize(
    "token", [STRANGER, "", "rubbish", TOKENS["operator"][:-1], TOKENS["operator"] + "0"],
    ids=["another", "none", "rubbish", "too short", "too long"],
)
def test_a_wrong_token_lets_nobody_in_and_stops_all_the_same(guarded, token):
    before = guarded.status()["counters"].get("wrong token", 0)
    assert curl(guarded.address, "/status", *bearer(token))[0] == 401
    assert guarded.status()["counters"]["wrong token"] > before
    with Rpc(guarded.address, token or STRANGER) as rpc:
        assert "lets nobody in" in asked(rpc, "standby", {"cues": ["1"]})
        assert rpc.call("stop") == {"taken": True}
    until("stopped", lambda: guarded.status()["stopped"])


@pytest.mark.parametrize("path", ["/status", "/show", "/cue/1", "/metrics"])
def test_to_look_one_has_to_be_an_observer(guarded, path):
    code, body = curl(guarded.address, path)
    assert code == 401 and "bellwire access" in body
    assert curl(guarded.address, path, *bearer(TOKENS["observer"]))[0] == 200


def test_what_anyone_may_have(guarded):
    assert curl(guarded.address, "/health")[0] == 200
    assert curl(guarded.address, "/")[0] == 200, "the panel's page, which says how to get in"
    code, body = curl(guarded.address, "/access")
    assert code == 200 and json.loads(body)["role"] is None
    code, body = curl(guarded.address, "/access", *bearer(TOKENS["caller"]))
    assert json.loads(body) == {"role": "caller", "name": "the caller", "why": None}


def test_a_browser_gets_its_token_back_as_a_cookie(guarded, tmp_path):
    jar = str(tmp_path / "jar")
    enter = ("--request", "POST", "--cookie-jar", jar)
    assert curl(guarded.address, "/enter", *enter, *bearer(STRANGER))[0] == 401
    assert curl(guarded.address, "/status", "--cookie", jar)[0] == 401
    code, head = curl(guarded.address, "/enter", *enter, "--include", *bearer(TOKENS["observer"]))
    cookie = re.search("set-cookie: (.*)", head, re.IGNORECASE)[1]
    assert code == 200 and "HttpOnly" in cookie and "SameSite=Strict" in cookie
    assert curl(guarded.address, "/status", "--cookie", jar)[0] == 200


def test_a_page_from_elsewhere_gets_nothing_but_the_stop(guarded):
    elsewhere = ("--header", "Origin: http://example.org")
    assert curl(guarded.address, "/enter", "--request", "POST", *elsewhere, *bearer(TOKENS["operator"]))[0] == 403
    upgrade = ("Connection: Upgrade", "Upgrade: websocket", "Sec-WebSocket-Version: 13", f"Sec-WebSocket-Key: {'A' * 22}==")
    headers = [word for header in upgrade for word in ("--header", header)]
    assert curl(guarded.address, "/rpc", *headers, *elsewhere, *bearer(TOKENS["operator"]))[0] == 403
    named = ("--header", "Host: example.org")
    assert curl(guarded.address, "/show", *named, *bearer(TOKENS["operator"]))[0] == 403
    assert guarded.status()["stopped"] is None
    assert curl(guarded.address, "/stop", "--request", "POST", *elsewhere, *named, *bearer(STRANGER))[0] == 200
    until("stopped", lambda: guarded.status()["stopped"])


def test_a_name_that_is_written_down_is_ours(bellwire, bench):
    access_toml(bench, 'hosts = ["bellwire.local"]')
    with Daemon(bellwire, bench) as daemon:
        assert curl(daemon.address, "/show", "--header", "Host: bellwire.local")[0] == 200
        assert curl(daemon.address, "/show", "--header", "Host: bellwire.example")[0] == 403


def test_this_machine_needs_no_token_by_default(bellwire, bench):
    access_toml(bench, "")
    with Daemon(bellwire, bench) as daemon, Rpc(daemon.address) as local:
        assert asked(local, "master", {"value": 0.5}) == ""
        with Rpc(daemon.address, TOKENS["caller"]) as caller:
            assert "the sender is a caller" in asked(caller, "master", {"value": 1.0}), "a token that fits decides"


def test_the_command_line_shows_its_token(guarded):
    assert guarded.command("standby", "1")[0] == 0
    assert guarded.command("standby", "1", "--token", TOKENS["caller"])[0] == 0
    code, _, complaint = guarded.command("arm", "--token", TOKENS["caller"])
    assert code == 1 and "the sender is a caller" in complaint
    code, _, complaint = guarded.command("status", "--token", STRANGER)
    assert code == 1 and "lets nobody in" in complaint
    code, _, complaint = guarded.command("status", "--token", "abc")
    assert code == 1 and "64 hexadecimal digits" in complaint
    assert not any(token in " ".join(guarded.complained) for token in TOKENS.values()), "a token in the log"


@pytest.mark.parametrize("token", [STRANGER, "abc"], ids=["another", "rubbish"])
def test_the_command_line_stops_with_any_token(guarded, token):
    code, said, _ = guarded.command("stop", "--token", token)
    assert code == 0 and "stop taken" in said
    until("stopped", lambda: guarded.status()["stopped"])


# Changed while it runs.


def test_a_removed_token_ends_with_the_reload(guarded, bellwire, bench):
    with Rpc(guarded.address, TOKENS["caller"]) as caller, Rpc(guarded.address, TOKENS["observer"]) as observer:
        assert access(bellwire, bench, "remove", "the caller")[0] == 0
        assert asked(caller, "standby", {"cues": ["1"]}) == "", "not read yet"
        code, said, _ = guarded.command("reload")
        assert code == 0 and "access.toml is in force" in said
        with pytest.raises(ConnectionClosed) as closed:
            caller.receive()
        assert closed.value.rcvd.code == 1008 and "access.toml" in closed.value.rcvd.reason
        assert asked(observer, "status", {}) == "", "nobody else notices"
    assert curl(guarded.address, "/status", *bearer(TOKENS["caller"]))[0] == 401
    with Rpc(guarded.address, TOKENS["caller"]) as again:
        assert "lets nobody in" in asked(again, "standby", {"cues": ["1"]})
        assert again.call("stop") == {"taken": True}
    until("stopped", lambda: guarded.status()["stopped"])


def test_an_added_token_and_a_sender_are_let_in_with_the_reload(guarded, bellwire, bench):
    said = access(bellwire, bench, "add", "another", "--role", "caller")[1]
    token = re.search("token ([0-9a-f]{64})", said)[1]
    assert access(bellwire, bench, "allow", UNKNOWN, "--role", "caller", "--name", "other desk")[0] == 0
    assert curl(guarded.address, "/status", *bearer(token))[0] == 401
    assert guarded.command("reload")[0] == 0
    assert curl(guarded.address, "/status", *bearer(token))[0] == 200
    with Udp(guarded.osc, UNKNOWN) as desk:
        assert desk.request("standby", "1") == "accepted"


def test_an_access_toml_that_is_spoilt_leaves_the_old_one_in_force(guarded, bench):
    (bench / "access.toml").write_text("trust_loopback = maybe\n")
    code, _, complaint = guarded.command("reload")
    assert code == 1 and "access.toml:1:" in complaint
    assert curl(guarded.address, "/status")[0] == 401
    assert curl(guarded.address, "/status", *bearer(TOKENS["observer"]))[0] == 200


# OSC, by the sender's address.

ROADS = [Udp, Tcp]


@pytest.mark.parametrize("road", ROADS)
def test_a_desk_calls_a_wall_watches_and_a_stranger_stops(guarded, road):
    for verb, words in [("standby", ["1"]), ("go", ["1"]), ("hold", []), ("input", ["deck clear", True])]:
        with road(guarded.osc, DESK) as desk, road(guarded.osc, WALL) as wall, road(guarded.osc, UNKNOWN) as stranger:
            assert "the sender is an observer" in wall.request(verb, *words), verb
            assert f"{UNKNOWN} is not let in" in stranger.request(verb, *words), verb
            assert not is_barred(desk.request(verb, *words)), verb
        time.sleep(0.15)
    with road(guarded.osc, WALL) as wall:
        wall.ask("/bellwire/watch", 10, 5)
        assert wall.until("/bellwire/watching") == [10, 5]
    with road(guarded.osc, UNKNOWN) as stranger:
        assert stranger.request("stop") == "accepted"
    until("stopped", lambda: guarded.status()["stopped"])
    until("told", lambda: any("by someone not let in" in line for line in guarded.complained))


@pytest.mark.parametrize("road", ROADS)
def test_an_operators_verbs_are_never_taken_over_osc(guarded, road):
    with road(guarded.osc, DESK) as desk:
        for verb in ("disarm", "reset", "reload"):
            assert "there is no" in desk.request(verb), verb
        assert "there is no" in desk.request("master", 0.5)
    assert guarded.status()["armed"] and guarded.status()["master"] == 1.0


def test_a_flood_from_strangers_is_counted_hardly_answered_and_leaves_the_desk_alone(guarded):
    with Udp(guarded.osc, UNKNOWN) as stranger, Udp(guarded.osc, DESK) as desk:
        begun = time.monotonic()

        def flood():
            for _ in range(500):
                stranger.ask("/bellwire/go", "1")
            return guarded.status()["counters"].get("unknown sender", 0) > 1000

        # What finds the kernel's buffer full is lost before anybody sees it: the flood goes on, and a desk asks again.
        until("counted", flood, seconds=60)
        until("the desk is answered", lambda: desk.ask("/bellwire/standby", "1") or desk.next(0.3), seconds=20)
        answers = 0
        while stranger.next(0.3):
            answers += 1
        # Ten a second, and two seconds' worth at once.
        assert answers < 30 + 10 * (time.monotonic() - begun)
        stranger.raw(b"#bundle\0" + bytes(7) + b"\x01" + b"\0\0\0\x14" + b"/bellwire/stop\0\0,\0\0\0")
    until("stopped, by a stop within a bundle", lambda: guarded.status()["stopped"])


def test_an_input_is_believed_from_its_source_alone_whoever_else_is_let_in(bellwire, bench):
    show = bench / "show.toml"
    show.write_text(show.read_text().replace('name = "hatch shut"', f'name = "hatch shut"\nsource = "{DESK}"'))
    access_toml(bench)
    with Daemon(bellwire, bench, token=TOKENS["operator"]) as daemon, Udp(daemon.osc, DESK) as desk:
        with Rpc(daemon.address, TOKENS["operator"]) as rpc:
            assert f"believed from {DESK} only" in asked(rpc, "input", {"name": "hatch shut", "value": True})
        assert desk.request("input", "hatch shut", True) == "accepted"
        until("true", lambda: daemon.status()["inputs"]["hatch shut"]["value"] is True)


# Limits.


def test_a_client_that_asks_too_fast_is_told_and_still_stops(bellwire, bench):
    access_toml(bench, tail="[limits]\nrequests = 10")
    with Daemon(bellwire, bench, token=TOKENS["operator"]) as daemon:
        with Rpc(daemon.address, TOKENS["caller"]) as rpc:
            said = [asked(rpc, "status", {}) for _ in range(60)]
            assert said[:15] == [""] * 15 and any("more than 10 requests a second" in text for text in said)
            assert rpc.call("stop") == {"taken": True}
            with Rpc(daemon.address, TOKENS["observer"]) as other:
                assert asked(other, "status", {}) == "", "another client has its own pace"
        with Udp(daemon.osc, DESK) as desk:
            said = [desk.request("standby", "none") for _ in range(25)]
            assert "more than 10 requests a second" in said[-1]
            assert desk.request("stop") == "accepted"
        assert daemon.status()["counters"]["too fast"] > 0
        code, metrics = curl(daemon.address, "/metrics", *bearer(TOKENS["operator"]))
        assert code == 200 and re.search(r'rejected_input_total\{kind="too fast"\} \d', metrics)


def test_clients_beyond_the_limit_can_do_nothing_but_stop(bellwire, bench):
    access_toml(bench, tail="[limits]\nclients = 2")
    with Daemon(bellwire, bench, token=TOKENS["operator"]) as daemon:
        with Rpc(daemon.address, TOKENS["caller"]), Rpc(daemon.address, TOKENS["caller"]) as second:
            with Rpc(daemon.address, TOKENS["operator"]) as third:
                assert "2 connections are open already" in asked(third, "status", {})
                assert third.call("stop") == {"taken": True}
            assert asked(second, "status", {}) == ""
        until("room again", lambda: "already" not in asked(Rpc(daemon.address, TOKENS["caller"]), "status", {}))


# Beyond loopback.


OWN_ADDRESS = "BELLWIRE_OWN_ADDRESS"


def own_address():
    """An address of this machine that is not loopback. Nothing is sent: choosing a route is enough."""
    if OWN_ADDRESS in os.environ:
        return os.environ[OWN_ADDRESS]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("198.51.100.1", 9))
        except OSError:
            return None
        return probe.getsockname()[0]


def in_a_network_of_its_own(test, bellwire):
    """Runs a test again where there is an address that is not loopback, though nothing is connected to it."""
    address = "192.0.2.1"
    network = f"ip link set lo up && ip address add {address}/32 dev lo && exec \"$@\""
    command = ["unshare", "--map-root-user", "--net", "sh", "-c", network, "sh", sys.executable, "-m", "pytest", "-q", test]
    environment = os.environ | {OWN_ADDRESS: address, "BELLWIRE_BIN": str(bellwire)}
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, env=environment)
    assert done.returncode == 0 and "1 passed" in done.stdout, done.stdout + done.stderr


def test_without_access_toml_it_does_not_listen_beyond_loopback(bellwire, bench):
    command = [bellwire, "run", bench, "--http", "0.0.0.0:0"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=20, stdin=subprocess.DEVNULL)
    assert done.returncode == 1 and done.stdout == ""
    assert "access.toml" in done.stderr and "bellwire access" in done.stderr and "--http" in done.stderr


def test_an_access_toml_with_a_mistake_is_told_and_nothing_runs(bellwire, bench):
    access_toml(bench, tail='[[sender]]\nname = "a"\naddres = "10.0.0.7"\nrole = "caller"')
    done = subprocess.run([bellwire, "run", bench], capture_output=True, text=True, timeout=20, stdin=subprocess.DEVNULL)
    assert done.returncode == 1
    assert "access.toml:" in done.stderr and "nearest known key is `address`" in done.stderr


def test_the_check_tells_the_mistakes_of_an_access_toml_with_those_of_the_show(bellwire, bench):
    def check(*options):
        command = [bellwire, "check", bench, *options]
        return subprocess.run(command, capture_output=True, text=True, timeout=20, stdin=subprocess.DEVNULL)

    access_toml(bench)
    before = check("--json")
    assert before.returncode == 0 and "access.toml" not in before.stdout
    access_toml(bench, tail='[[sender]]\nname = "a"\naddres = "10.0.0.7"\nrole = "caller"')
    line = 1 + (bench / "access.toml").read_text().splitlines().index('addres = "10.0.0.7"')
    told = check()
    assert told.returncode == 1
    assert f"access.toml:{line}:1" in told.stderr and "nearest known key is `address`" in told.stderr
    document = check("--json")
    assert document.returncode == 1
    found = [finding for finding in json.loads(document.stdout)["findings"] if finding["severity"] == "error"]
    assert [(one["code"], one["file"], one["line"]) for one in found] == [("unknown-key", "access.toml", line)]
    assert json.loads(document.stdout)["hash"] == json.loads(before.stdout)["hash"]


def test_from_another_address_one_needs_a_token(bellwire, bench, request):
    own = own_address()
    if own is None:
        return in_a_network_of_its_own(f"{__file__}::{request.node.name}", bellwire)
    access_toml(bench, "", tail="[limits]\nconnections = 3")
    with Daemon(bellwire, bench, listen="0.0.0.0", at=own, token=TOKENS["operator"]) as daemon:
        until("the caution", lambda: any("in the clear" in line for line in daemon.complained))
        assert curl(daemon.address, "/status")[0] == 401
        assert curl(daemon.address, "/status", *bearer(TOKENS["observer"]))[0] == 200
        assert curl(f"127.0.0.1:{daemon.http}", "/status")[0] == 200, "this machine, by loopback"
        with Udp(daemon.osc, own, at=own) as stranger:
            assert f"{own} is not let in" in stranger.request("standby", "1")
        doors = [socket.create_connection((own, daemon.http)) for _ in range(3)]
        code, body = curl(daemon.address, "/status", *bearer(TOKENS["observer"]))
        assert code == 503 and "3 connections from this address" in body
        assert curl(daemon.address, "/stop", "--request", "POST")[0] == 200
        for door in doors:
            door.close()
        until("room again", lambda: curl(daemon.address, "/status", *bearer(TOKENS["observer"]))[0] == 200)
        until("stopped", lambda: daemon.status()["stopped"])


# The command that writes it.


def access(bellwire, show, *words):
    done = subprocess.run(
        [bellwire, "access", show, *words], capture_output=True, text=True, timeout=20, stdin=subprocess.DEVNULL
    )
    return done.returncode, done.stdout, done.stderr


def test_a_token_is_made_shown_once_and_taken_back(bellwire, bench, tmp_path):
    file = bench / "access.toml"
    file.write_text("# ours\ntrust_loopback = false # behind a proxy\n")
    picture = tmp_path / "code.svg"
    code, said, _ = access(bellwire, bench, "add", "tablet", "--role", "caller", "--at", "10.0.0.5", "--svg", picture)
    token = re.search(r"^token ([0-9a-f]{64})$", said, re.MULTILINE)[1]
    assert code == 0 and f"http://10.0.0.5:7117/#token={token}" in said
    assert picture.read_text().startswith("<svg ")
    written = file.read_text()
    assert written.startswith("# ours\ntrust_loopback = false # behind a proxy\n")
    assert token not in written and hashed(token) in written
    with Daemon(bellwire, bench, token=token) as daemon:
        assert daemon.status()["armed"] is False
    code, said, _ = access(bellwire, bench, "list")
    assert code == 0 and "tablet" in said and token not in said
    assert access(bellwire, bench, "add", "tablet", "--role", "observer")[0] == 1, "the name is taken"
    assert access(bellwire, bench, "remove", "tablet")[0] == 0
    assert hashed(token) not in file.read_text()
    code, _, complaint = access(bellwire, bench, "remove", "tablet")
    assert code == 1 and "no entry named 'tablet'" in complaint


def test_two_tokens_are_never_the_same(bellwire, bench):
    said = [access(bellwire, bench, "add", name, "--role", "observer")[1] for name in ("a", "b")]
    tokens = {re.search("token ([0-9a-f]{64})", text)[1] for text in said}
    assert len(tokens) == 2


def test_a_sender_is_let_in_by_address(bellwire, bench):
    (bench / "access.toml").write_text("trust_loopback = false\n")
    assert access(bellwire, bench, "allow", "127.0.0.0/29", "--role", "caller", "--name", "desks")[0] == 0
    assert access(bellwire, bench, "allow", "127.0.0.9/29", "--role", "caller", "--name", "others")[0] == 2
    assert access(bellwire, bench, "allow", "127.0.0.9", "--role", "operator", "--name", "others")[0] == 2
    with Daemon(bellwire, bench) as daemon:
        with Udp(daemon.osc, DESK) as desk, Udp(daemon.osc, "127.0.0.9") as outside:
            assert desk.request("standby", "1") == "accepted"
            assert "127.0.0.9 is not let in" in outside.request("standby", "1")


def test_a_file_with_a_mistake_is_not_touched(bellwire, bench):
    (bench / "access.toml").write_text("trust_lopback = false\n")
    code, _, complaint = access(bellwire, bench, "add", "tablet", "--role", "caller")
    assert code == 1 and "trust_loopback" in complaint and "mend it first" in complaint
    assert (bench / "access.toml").read_text() == "trust_lopback = false\n"


def test_a_stop_within_a_frame_that_never_ends_is_heard_from_a_stranger(guarded):
    with Tcp(guarded.osc, UNKNOWN) as stranger:
        stranger.raw(slip(build_msg("/bellwire/stop", []).dgram)[:-1])
    until("stopped", lambda: guarded.status()["stopped"])


def test_the_schema_of_access_toml_has_an_example_that_reads(bellwire, bench):
    done = subprocess.run([bellwire, "schema", "--access"], capture_output=True, text=True, check=True, timeout=20)
    schema = json.loads(done.stdout)
    assert schema["additionalProperties"] is False and "trust_loopback" in schema["properties"]
    [example] = schema["examples"]
    lines = []
    for key, value in example.items():
        for table in value if isinstance(value, list) and isinstance(value[0], dict) else []:
            lines += [f"[[{key}]]"] + [f"{name} = {json.dumps(entry)}" for name, entry in table.items()]
        if isinstance(value, dict):
            lines += [f"[{key}]"] + [f"{name} = {json.dumps(entry)}" for name, entry in value.items()]
        elif not (isinstance(value, list) and isinstance(value[0], dict)):
            lines.insert(0, f"{key} = {json.dumps(value)}")
    (bench / "access.toml").write_text("\n".join(lines))
    assert access(bellwire, bench, "list")[0] == 0
