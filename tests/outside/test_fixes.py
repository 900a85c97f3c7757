"""What the check tells as the smallest fix is written into the show, and checked again; a little less is too little."""

import json
import re
import subprocess

import pytest

WAGON = """kind = "wagon"
at = {at}
[[axis]]
name = "way"
unit = "m"
travel = [-10.0, 10.0]
start = {start}
speed = 1.0
acceleration = 1.0
jerk = 2.0
tolerance = 0.001
lag_limit = 0.1
joint = {{ slide = "{along}", at = [0.0, 0.0, 0.0] }}
bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]
"""
HEAD = '[show]\nname = "Fixes"\nmargin = 0.3\nreact = 0.1\n'


def move(rig, to, time, delay=0.0):
    return f'[[cue.move]]\nrig = "{rig}"\nto = {{ way = {to} }}\ntime = {time}\ndelay = {delay}\n'


@pytest.fixture
def show(tmp_path):
    """Writes a show of one cue, and more if given, and gives its folder."""

    def write(cue, head=HEAD, more=""):
        rigs = {
            "lead": WAGON.format(at="[0.0, 0.0, 0.0]", start=0.0, along="x"),
            "tail": WAGON.format(at="[0.0, 0.0, 0.0]", start=-1.3, along="x"),
            "cross": WAGON.format(at="[4.0, 0.0, 0.0]", start=-6.0, along="y"),
        }
        (tmp_path / "rigs").mkdir(exist_ok=True)
        (tmp_path / "cues").mkdir(exist_ok=True)
        for name, text in rigs.items():
            (tmp_path / "rigs" / f"{name}.toml").write_text(text)
        (tmp_path / "show.toml").write_text(head)
        (tmp_path / "cues" / "all.toml").write_text('[[cue]]\nnumber = "1"\nname = "One"\n' + "".join(cue) + more)
        return tmp_path

    return write


def findings(bellwire, folder):
    done = subprocess.run([bellwire, "check", "--anew", "--json", folder], capture_output=True, text=True, timeout=120)
    return [found for found in json.loads(done.stdout)["findings"] if found["severity"] != "note"]


def offered(fix, what):
    """The number and the rig of one of the fixes: `write delay = 0.3 in the move of tail`."""
    found = re.search(rf"write {what} = ([0-9.]+) in the move of (\w+)", fix)
    return float(found[1]), found[2]


def convoy(lead_time=11.0, tail_time=11.0, lead_delay=0.0, tail_delay=0.0):
    return [move("lead", 8.0, lead_time, lead_delay), move("tail", 6.7, tail_time, tail_delay)]


def crossing(lead_time=13.0, cross_time=14.0, lead_delay=0.0, cross_delay=0.0):
    return [move("lead", 8.0, lead_time, lead_delay), move("cross", 6.0, cross_time, cross_delay)]


@pytest.mark.parametrize("cue, code", [(convoy, "stall"), (crossing, "clearance")])
def test_the_least_delay_and_the_least_time_settle_it_and_less_does_not(bellwire, show, cue, code):
    found = findings(bellwire, show(cue()))
    told = next(finding for finding in found if finding["code"] == code)
    assert told["fix"].endswith("proved to pass")
    for what in ["delay", "time"]:
        value, rig = offered(told["fix"], what)
        assert findings(bellwire, show(cue(**{f"{rig}_{what}": value}))) == []
        less = findings(bellwire, show(cue(**{f"{rig}_{what}": round(value - 0.1, 3)})))
        assert less, f"{what} = {value - 0.1} of {rig} passes too"


def test_the_margin_that_is_told_passes_and_a_centimetre_more_does_not(bellwire, show):
    [told] = findings(bellwire, show(convoy()))
    margin = float(re.search(r"\[\[pair\]\] of the two with margin = ([0-9.]+)", told["fix"])[1])
    assert 0.0 < margin < told["value"] < 0.3

    def pair(margin):
        return HEAD + f'[[pair]]\nrigs = ["lead", "tail"]\nmargin = {margin}\nbecause = "they are coupled"\n'

    assert findings(bellwire, show(convoy(), pair(margin))) == []
    assert findings(bellwire, show(convoy(), pair(round(margin + 0.011, 3))))


def test_where_nothing_small_settles_it_no_number_is_told(bellwire, show):
    # The wagon drives through where the other stands, whenever it does.
    [told] = findings(bellwire, show([move("tail", 6.0, 12.0)]))
    assert told["code"] == "clearance" and told["value"] == 0.0
    assert "proved" not in told["fix"] and "delay" not in told["fix"] and "round lead" in told["fix"]


def test_a_margin_that_a_skip_would_leave_without_its_reason_is_not_told_as_a_fix(bellwire, show):
    # The other was brought near by the cue before: were that skipped, the pair would have no reason to pass so near.
    folder = show([move("cross", -0.8, 9.0)], more='[[cue]]\nnumber = "2"\nname = "Two"\n' + move("lead", 8.0, 13.0))
    [told] = [finding for finding in findings(bellwire, folder) if finding["code"] == "clearance"]
    assert 0.15 < told["value"] < 0.25
    assert "proved" not in told["fix"] and "margin =" not in told["fix"]
    head = HEAD + '[[pair]]\nrigs = ["lead", "cross"]\nmargin = 0.15\n'
    (folder / "show.toml").write_text(head)
    assert [finding["code"] for finding in findings(bellwire, folder)] == ["skip"]


def test_every_pair_that_comes_too_near_is_told_a_line_however_many_there_are(bellwire, show):
    cues = ""
    for number in range(2, 30):
        to = [8.0, 6.0, 0.0, -6.0][number % 4]
        rig = ["lead", "cross"][number % 2]
        cues += f'[[cue]]\nnumber = "{number}"\nname = "On"\n' + move(rig, to, 14.0)
    folder = show([move("tail", -3.0, 6.0)], more=cues)
    overlaps = [finding for finding in findings(bellwire, folder) if finding["code"] == "overlap"]
    assert len(overlaps) > 12
    for finding in overlaps:
        assert re.search(r"needs = \{ cue = |needs of cue .*\{ cue = |follow the end of", finding["fix"]), finding
