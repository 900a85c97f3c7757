"""Presets planned from the command line: `preset SHOW --from CUE --to CUE`."""

import json
import subprocess

import pytest


def run(bellwire, *words):
    return subprocess.run([bellwire, *words], capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL)


def planned(bellwire, show, start, end):
    done = run(bellwire, "preset", show, "--from", start, "--to", end, "--json")
    assert done.stderr == ""
    return done.returncode, json.loads(done.stdout)


def test_a_jump_is_told_rig_by_rig(bellwire, demo_show):
    done = run(bellwire, "preset", demo_show, "--from", "14", "--to", "20")
    assert done.returncode == 0 and done.stderr == ""
    rows = [line for line in done.stdout.splitlines() if line.strip()[:1].isdigit() and " s " in line and "from" in line]
    rigs = [row.split()[1] for row in rows]
    assert rigs == ["millwheel", "skiff", "heron", "gull"]
    assert "cue 14" in done.stdout and "cue 20" in done.stdout and "proved" in done.stdout


def test_the_document_leads_from_the_one_pose_to_the_other(bellwire, demo_show):
    check = json.loads(run(bellwire, "check", demo_show, "--json").stdout)
    cues = {cue["number"]: cue for cue in check["cues"]}
    for start, end in [("14", "20"), ("20", "14"), ("33", "16"), ("16", "5"), ("21.5", "9")]:
        code, way = planned(bellwire, demo_show, start, end)
        assert code == 0 and way["found"] and way["barred"] == [] and way["findings"] == []
        assert (way["show"], way["hash"], way["from"], way["to"]) == ("Salt Lantern", check["hash"], start, end)
        stands, time = dict(cues[start]["end"]), 0.0
        for leg in way["legs"]:
            assert leg["from"] >= time and leg["until"] > leg["from"], "one rig at a time"
            time = leg["until"]
            for axis, (begin, goal) in leg["axes"].items():
                assert axis.startswith(leg["rig"] + ".") and stands[axis] == pytest.approx(begin)
                stands[axis] = goal
        assert stands == pytest.approx(cues[end]["start"]), (start, end)
        assert way["duration"] == time


AXIS = """
[[axis]]
name = "{name}"
unit = "m"
travel = [-5.0, 5.0]
start = {start}
speed = 1.0
acceleration = 1.0
jerk = 4.0
joint = {{ slide = "{along}", at = [0.0, 0.0, 0.0] }}
"""
BODY = "bodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]\n"
HEAD = 'kind = "cart"\nat = [0.0, 60.0, 0.0]\ndriver = { sim = {} }\n'


def test_where_no_order_is_clear_the_bodies_are_named_and_the_exit_code_is_1(bellwire, bench):
    # Two more machines on one rail; the list lets them change places, the one reaching over the other.
    (bench / "rigs" / "left.toml").write_text(HEAD + AXIS.format(name="travel", start=-1.0, along="x") + BODY)
    reaching = AXIS.format(name="travel", start=1.0, along="x") + AXIS.format(name="reach", start=0.0, along="y") + BODY
    (bench / "rigs" / "right.toml").write_text(HEAD + reaching)
    cue = '[[cue]]\nnumber = "{0}"\nname = "{0}"\nmove = [{{ rig = "{1}", to = {{ {2} }}, time = 9.0 }}]\n{3}\n'
    moves = [("right", "reach = 1.5"), ("right", "travel = -1.0"), ("left", "travel = 1.0"), ("right", "reach = 0.0")]
    after = [f'needs = {{ cue = "{899 + at}", state = "done" }}' if at else "" for at in range(4)]
    text = "".join(cue.format(900 + at, *move, needs) for at, (move, needs) in enumerate(zip(moves, after, strict=True)))
    (bench / "cues" / "more.toml").write_text(text)
    code, way = planned(bellwire, bench, "903", "900")
    assert code == 1 and not way["found"] and way["legs"] == [] and way["duration"] is None
    assert [bar["rig"] for bar in way["barred"]] == ["left", "right"]
    for bar in way["barred"]:
        assert (bar["value"], bar["limit"], bar["interlock"]) == (0.0, 0.1, None)
        assert {*bar["bodies"]} == {"left/travel/0", "right/reach/0"}
    done = run(bellwire, "preset", bench, "--from", "903", "--to", "900")
    assert done.returncode == 1 and done.stdout == ""
    assert "left cannot go" in done.stderr and "right/reach/0 would touch left/travel/0" in " ".join(done.stderr.split())


INTERLOCK = """
[[input]]
name = "gate"
max_age = 0.5
[[interlock]]
name = "left aside"
guards = ["right.travel"]
needs = {{ all = [{{ input = "gate" }}, {{ axis = "left.travel", below = -1.5 }}] }}
otherwise = "{0}"
"""


def test_interlocks_set_the_order_and_what_inputs_they_need_is_told(bellwire, bench):
    far = HEAD.replace("60.0", "80.0")
    (bench / "rigs" / "left.toml").write_text(HEAD + AXIS.format(name="travel", start=-1.0, along="x") + BODY)
    (bench / "rigs" / "right.toml").write_text(far + AXIS.format(name="travel", start=1.0, along="x") + BODY)
    show = bench / "show.toml"
    show.write_text(show.read_text() + INTERLOCK.format("stop"))
    cue = '[[cue]]\nnumber = "{0}"\nname = "{0}"\nmove = [{{ rig = "{1}", to = {{ travel = {2} }}, time = 9.0 }}]\n{3}\n'
    moves = [("left", -2.0), ("right", -1.0), ("left", -1.9), ("left", -1.8), ("left", 1.0), ("left", 1.1)]
    after = [f'needs = {{ cue = "{899 + at}", state = "done" }}' if at else "" for at in range(len(moves))]
    text = "".join(cue.format(900 + at, *move, needs) for at, (move, needs) in enumerate(zip(moves, after, strict=True)))
    (bench / "cues" / "more.toml").write_text(text)
    # From the end of the list: left first, though the list moved right before it.
    code, way = planned(bellwire, bench, "905", "903")
    assert code == 0 and [leg["rig"] for leg in way["legs"]] == ["left"]
    code, way = planned(bellwire, bench, "900", "904")
    assert code == 0 and [leg["rig"] for leg in way["legs"]] == ["right", "left"]
    needs = [{"rig": "right", "interlock": "left aside", "needs": "input 'gate'"}]
    assert way["needs"] == needs
    done = run(bellwire, "preset", bench, "--from", "900", "--to", "904")
    assert "right goes only with input 'gate' (interlock 'left aside')" in done.stdout
    # Back to the top both have to go, and left ends where right may not move: right first is as little permitted.
    code, way = planned(bellwire, bench, "905", "900")
    assert code == 1
    (bar,) = way["barred"]
    assert (bar["rig"], bar["interlock"], bar["condition"]) == ("right", "left aside", "left.travel below -1.5 m")
    assert bar["bodies"] is None and bar["value"] == -1.0
    done = run(bellwire, "preset", bench, "--from", "905", "--to", "900")
    assert "right cannot go, since interlock 'left aside' forbids it" in " ".join(done.stderr.split())


def test_nothing_to_move_is_said(bellwire, demo_show):
    done = run(bellwire, "preset", demo_show, "--from", "13", "--to", "14")
    assert done.returncode == 0 and "nothing to move" in done.stdout
    assert planned(bellwire, demo_show, "13", "14")[1]["legs"] == []


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--from", "14"], 2),
        (["--from", "fourteen", "--to", "20"], 2),
        (["--from", "14", "--to", "twenty"], 2),
        (["--from", "14", "--to", "99"], 1),
        (["--json"], 2),
    ],
)
def test_what_makes_no_sense_is_turned_down(bellwire, demo_show, words, code):
    done = run(bellwire, "preset", demo_show, *words)
    assert done.returncode == code and done.stdout == "" and done.stderr.startswith("error")


def test_a_show_with_errors_gives_one_document_too(bellwire, bench):
    (bench / "show.toml").write_text("[show\n")
    code, way = planned(bellwire, bench, "1", "2")
    assert code == 1 and not way["found"] and [finding["code"] for finding in way["findings"]] == ["syntax"]
