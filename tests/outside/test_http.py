"""HTTP, by curl."""

import json
import subprocess

from road.waiting import until


def curl(daemon, path, *options):
    """The status code, the headers and the body."""
    command = ["curl", "--silent", "--show-error", "--max-time", "10", "--include", *options]
    done = subprocess.run([*command, f"http://{daemon.address}{path}"], capture_output=True, check=True, timeout=20)
    head, _, body = done.stdout.decode().partition("\r\n\r\n")
    return int(head.split()[1]), head.lower(), body


def test_the_panel(daemon):
    code, head, body = curl(daemon, "/")
    assert code == 200 and "text/html" in head
    assert "<html" in body.lower()


def test_status(daemon):
    code, head, body = curl(daemon, "/status")
    assert code == 200 and "application/json" in head
    status = json.loads(body)
    wanted = {
        "seq", "time", "armed", "master", "stopped", "standby", "running", "waiting", "cues", "rigs", "inputs",
        "interlocks", "show", "hash", "clearance", "held", "rate", "stop_bound", "simulated", "loop", "counters",
        "clients",
    }
    assert wanted <= status.keys(), wanted - status.keys()
    assert status["clearance"] == "proved"
    assert status["simulated"] is True
    assert status["cues"] == {"1": "idle", "2": "idle", "2.5": "idle", "12": "idle"}
    sloop = status["rigs"]["sloop"]
    assert sloop["simulated"] is True and sloop["owner"] is None and sloop["state"] == "standstill"
    assert sloop["axes"]["travel"]["position"] == 0.0
    assert status["interlocks"]["hatch for the lantern"] is None, "nobody has told of the hatch: unknown"
    assert status["interlocks"]["gate for the wagon"] is True, "the wagon stands clear of the gate"


def test_show(daemon):
    code, _, body = curl(daemon, "/show")
    show = json.loads(body)
    assert code == 200
    assert show["show"] == "Bench" and show["hash"] == daemon.status()["hash"]
    assert [cue["number"] for cue in show["cues"]] == ["1", "2", "2.5", "12"]
    assert show["cues"][0]["call"] == "as the fog clears"
    assert show["cues"][0]["duration"] == 3.0
    assert {rig["name"] for rig in show["rigs"]} == {"sloop", "lantern", "pike"}


def test_the_motion_of_a_cue(daemon):
    code, _, body = curl(daemon, "/cue/1")
    cue = json.loads(body)
    assert code == 200 and cue["number"] == "1" and cue["duration"] == 3.0
    assert list(cue["moves"]) == ["sloop"]
    first, last = cue["traces"][0], cue["traces"][-1]
    assert first["time"] == 0.0 and last["time"] == 3.0
    corner = lambda trace: trace["stage"]["sloop"][0]["box"]["corners"][0]
    assert corner(first) == [-1.0, 1.5, 0.05]
    assert corner(last) == [0.5, 1.5, 0.05]
    assert curl(daemon, "/cue/99")[0] == 404


def test_health_and_metrics(daemon):
    assert curl(daemon, "/health")[0] == 200
    code, head, body = curl(daemon, "/metrics")
    assert code == 200 and "openmetrics" in head
    assert body.endswith("# EOF\n") and "# TYPE " in body


def test_anyone_stops(daemon):
    assert curl(daemon, "/stop", "--request", "POST")[0] == 200
    until("stopped", lambda: daemon.status()["stopped"])
    assert "HTTP" in str(daemon.status()["stopped"]["by"])


def test_only_a_post_stops(daemon):
    assert curl(daemon, "/stop")[0] == 405
    assert daemon.status()["stopped"] is None


def test_nothing_else_is_there(daemon):
    for path in ("/nothing", "/../Cargo.toml", "/%2e%2e/Cargo.toml", "/show.toml"):
        assert curl(daemon, path, "--path-as-is")[0] == 404, path


def test_a_name_that_is_not_ours_is_turned_away(daemon):
    assert curl(daemon, "/status", "--header", "Host: example.org")[0] == 403
