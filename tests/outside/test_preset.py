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


def test_where_no_order_is_clear_the_bodies_are_named_and_the_exit_code_is_1(bellwire, bench):
    # Two more machines that have to change places on one rail.
    rig = (
        'kind = "cart"\nat = [0.0, 60.0, 0.0]\ndriver = { sim = {} }\n[[axis]]\nname = "travel"\nunit = "m"\n'
        "travel = [-5.0, 5.0]\nstart = START\nspeed = 1.0\nacceleration = 1.0\njerk = 4.0\n"
        'joint = { slide = "x", at = [0.0, 0.0, 0.0] }\nbodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]\n'
    )
    (bench / "rigs" / "near.toml").write_text(rig.replace("START", "-1.0"))
    (bench / "rigs" / "far.toml").write_text(rig.replace("START", "1.0").replace("60.0", "61.5"))
    far = (bench / "rigs" / "far.toml").read_text()
    (bench / "rigs" / "far.toml").write_text(
        far.replace('joint = { slide = "x", at = [0.0, 0.0, 0.0] }', "").replace("bodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]", "")
        + 'joint = { slide = "x", at = [0.0, 0.0, 0.0] }\n'
        + '[[axis]]\nname = "reach"\nunit = "m"\ntravel = [-3.0, 3.0]\nstart = 0.0\nspeed = 1.0\nacceleration = 1.0\njerk = 4.0\n'
        + 'joint = { slide = "y", at = [0.0, 0.0, 0.0] }\nbodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]\n'
    )
    cue = '[[cue]]\nnumber = "{}"\nname = "{}"\nmove = [{{ rig = "{}", to = {{ {} }}, time = 9.0 }}]\n'
    moves = [("near", "travel = 1.0"), ("far", "travel = -1.0"), ("far", "reach = -1.5")]
    text = "".join(cue.format(900 + at, 900 + at, *move) for at, move in enumerate(moves))
    (bench / "cues" / "more.toml").write_text(text)
    code, way = planned(bellwire, bench, "902", "900")
    assert code == 1 and not way["found"] and way["legs"] == [] and way["duration"] is None
    assert {bar["rig"] for bar in way["barred"]} <= {"near", "far"} and way["barred"]
    for bar in way["barred"]:
        assert bar["value"] < bar["limit"] and {name.split("/")[0] for name in bar["bodies"]} == {"near", "far"}
    done = run(bellwire, "preset", bench, "--from", "902", "--to", "900")
    assert done.returncode == 1 and done.stdout == ""
    assert "cannot go" in done.stderr and "near/travel/0" in done.stderr and "far/reach/0" in done.stderr


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
