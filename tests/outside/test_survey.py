"""A survey from the command line: the travel that it proposes, the file that it writes, and what it tells of the show."""

import json
import math
import subprocess

import pytest

from road.rpc import Rpc
from road.waiting import until


def survey(bellwire, show, rig, *args):
    ran = subprocess.run([bellwire, "survey", show, rig, *args], capture_output=True, text=True)
    return ran.returncode, ran.stdout, ran.stderr


def way_of_a_stop(v, a, j):
    """Double-S from v to rest (Biagiotti and Melchiorri, 2008, section 3.4)."""
    return v / 2 * (v / a + a / j) if v * j >= a * a else v * math.sqrt(v / j)


@pytest.mark.parametrize("rig, axis, ends, limits, decimals", [
    ("sloop", "travel", [-3.31, 3.4], (1.0, 1.5, 16.0), 3),
    ("pike", "pan", [-185.4, 179.2], (40.0, 90.0, 1200.0), 2),
])
def test_the_travel_leaves_a_stop_from_top_speed_inside_the_ends(bellwire, bench, rig, axis, ends, limits, decimals):
    low, high = ends
    code, out, _ = survey(bellwire, bench, rig, "--ends", f"{axis}={low},{high}", "--dry-run", "--json")
    told = json.loads(out)
    [one] = told["axes"]
    way = way_of_a_stop(*limits)
    grain = 10.0**-decimals
    assert (code, told["written"], one["ends"]) == (0, False, ends)
    assert one["stops_within"] == pytest.approx(way, abs=1e-6)
    assert low + way <= one["travel"][0] <= low + way + grain
    assert high - way - grain <= one["travel"][1] <= high - way


def test_a_survey_changes_two_numbers_and_tells_what_no_longer_fits(bellwire, bench):
    rig = bench / "rigs" / "sloop.toml"
    rig.write_text(rig.read_text().replace("travel = [", "travel  =  [  # surveyed\n  ").replace("\n", "\r\n"))
    rig.write_bytes(rig.read_bytes().replace(b"\r\r", b"\r"))
    before = rig.read_bytes()
    code, out, _ = survey(bellwire, bench, "sloop", "--set", "travel=-2.9,2.95", "--dry-run")
    assert (code, rig.read_bytes()) == (0, before) and "nothing was written" in out
    code, out, _ = survey(bellwire, bench, "sloop", "--set", "travel=-2.9,2.95", "--json")
    told = json.loads(out)
    assert (code, told["written"], told["findings"]) == (0, True, [])
    assert told["unproved"] == ["1", "12"], "what moves the axis, and nothing else, has to be proved again"
    [one] = told["axes"]
    low, high = (repr(float(end)).encode() for end in one["was"])
    after = before.replace(low + b", " + high, b"-2.9, 2.95", 1)
    assert after != before and rig.read_bytes() == after
    # The start, and what goes there, lie outside what is left: told with the lines, and written all the same.
    code, out, _ = survey(bellwire, bench, "sloop", "--set", "travel=1.0,1.8", "--json")
    told = json.loads(out)
    assert (code, told["written"]) == (1, True)
    assert {finding["code"] for finding in told["findings"]} == {"travel"} and told["unproved"] == ["1", "12"]
    checked = subprocess.run([bellwire, "check", bench, "--json"], capture_output=True, text=True)
    place = lambda finding: (finding["file"], finding["line"], finding["column"], finding["message"])
    wrong = [finding for finding in json.loads(checked.stdout)["findings"] if finding["severity"] != "note"]
    assert sorted(map(place, told["findings"])) == sorted(map(place, wrong))
    # Though the show does not read any more, the axis can be surveyed again, and all is as it was.
    was = "=".join(["travel", ",".join(str(end) for end in one["was"])])
    code, out, _ = survey(bellwire, bench, "sloop", "--set", was)
    assert (code, rig.read_bytes()) == (0, before), out


def test_a_take_of_the_survey_before_is_listed_with_what_differs(bellwire, bench):
    survey_of = 'sloop.travel" = { unit = "m", travel = [-3.0, 3.0], joint = { slide = "x", at = [0.0, 0.0, 0.0] } }'
    samples = [(k * 0.02, min(max((k * 0.02 - 0.5) / 4.0, 0.0), 1.0)) for k in range(251)]
    rows = [f"{at:.3f},{2.0 - x**3 * (10 - 15 * x + 6 * x * x):.6f}" for at, x in samples]
    (bench / "takes").mkdir()
    (bench / "takes" / "back.csv").write_text("\n".join([f'#: axes."{survey_of}', "time,sloop.travel", *rows]) + "\n")
    with (bench / "cues" / "act.toml").open("a") as cues:
        cues.write('\n[[cue]]\nnumber = "20"\nname = "Sloop back"\n  [[cue.move]]\n  rig = "sloop"\n  take = "back"\n')
    # As it stands it fits; another rig's survey has nothing to do with it.
    for rig, set_to, unproved in [("sloop", "travel=-3.0,3.0", []), ("pike", "zoom=0,90", ["2.5"])]:
        code, out, err = survey(bellwire, bench, rig, "--set", set_to, "--dry-run", "--json")
        assert code == 0, err
        told = json.loads(out)
        assert (told["unproved"], told["findings"]) == (unproved, [])
    code, out, _ = survey(bellwire, bench, "sloop", "--set", "travel=-2.9,2.95", "--json")
    told = json.loads(out)
    assert (code, told["written"], told["unproved"]) == (1, True, ["1", "12", "20"])
    [finding] = told["findings"]
    assert (finding["code"], finding["file"], finding["cues"]) == ("take", "takes/back.csv", ["20"])
    assert "its travel was -3 m to 3 m and is -2.9 m to 2.95 m" in finding["message"]


def test_nonsense_changes_nothing_and_says_what_is_expected(bellwire, bench):
    before = {path: path.read_bytes() for path in bench.rglob("*.toml")}
    for args, code, says in [
        (["nobody", "--set", "a=0,1"], 1, "its rigs are"),
        (["sloop", "--set", "mast=0,1"], 1, "expected an axis of sloop"),
        (["sloop", "--set", "travel=0,1", "--ends", "travel=0,1"], 1, "each once"),
        (["sloop", "--ends", "travel=0,0.01"], 1, "nothing is left"),
        (["sloop", "--set", "travel=1,0"], 2, "the lower end not below the upper"),
        (["sloop", "--set", "travel=nan,1"], 2, "such as pan=-170,170"),
        (["sloop", "--set", "travel"], 2, "such as pan=-170,170"),
    ]:
        found, out, err = survey(bellwire, bench, *args)
        assert (found, out) == (code, "") and says in err, (args, err)
    assert before == {path: path.read_bytes() for path in bench.rglob("*.toml")}


def test_a_running_show_takes_a_survey_in_when_it_is_accepted_and_disarms(bellwire, bench, daemon):
    assert survey(bellwire, bench, "sloop", "--set", "travel=-2.9,2.95")[0] == 0
    with Rpc(daemon.address) as rpc:
        # It proves the show again before it answers.
        edit = rpc.answer(rpc.send("reload"), seconds=60)["result"]["edit"]
        assert edit["differences"] == ["axis sloop.travel: travel -3 to 3 becomes -2.9 to 2.95"]
        assert edit["disarms"] and daemon.status()["armed"]
        rpc.call("reload", accept=edit["hash"])
        until("it is disarmed", lambda: not daemon.status()["armed"])
