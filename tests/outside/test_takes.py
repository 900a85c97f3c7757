"""Takes against SciPy: a recorded motion whose truth is known, smoothed by us and by SciPy's smoothing spline."""

import csv
import io
import json
import subprocess
from xml.etree import ElementTree

import numpy
import pytest
from scipy.interpolate import BSpline, make_smoothing_spline

TOLERANCE = 0.01

RIG = """kind = "slider"
at = [0.0, 0.0, 0.0]
[[axis]]
name = "travel"
unit = "m"
travel = [0.0, 3.0]
start = {start}
speed = {speed}
acceleration = {acceleration}
jerk = {jerk}
joint = {{ slide = "x", at = [0.0, 0.0, 0.0] }}
"""
CUE = """[[cue]]
number = "1"
name = "The take"
[[cue.move]]
rig = "slider"
take = "hand"
"""


def ease(part):
    part = numpy.clip(part, 0.0, 1.0)
    return part**3 * (10 - 15 * part + 6 * part**2)


def truth(time):
    """2 m in 14 s, with waves in it; at rest for a second at both ends."""
    along = ease((time - 1.0) / 14.0)
    return 2.4 - 2.0 * (along + 0.02 * numpy.sin(2 * numpy.pi * 3 * along))


def recorded(noise, seed):
    random = numpy.random.default_rng(seed)
    times = numpy.concatenate([[0.0], numpy.cumsum(random.uniform(0.018, 0.022, 780))])
    times = times[times < 16.0]
    kept = random.random(len(times)) > 0.02
    kept[[0, -1]] = True
    times = times[kept].round(4)
    return times, (truth(times) + random.normal(0.0, noise, len(times))).round(5)


def planned(bellwire, folder, times, values, limits=(0.4, 0.4, 1.5)):
    """The path every 10 ms, and what the check says."""
    for part in ("rigs", "cues", "takes"):
        (folder / part).mkdir(parents=True)
    speed, acceleration, jerk = limits
    rig = RIG.format(start=float(values[0]), speed=speed, acceleration=acceleration, jerk=jerk)
    (folder / "show.toml").write_text('[show]\nname = "Takes"\nmargin = 0.1\nreact = 0.1\n')
    (folder / "rigs" / "slider.toml").write_text(rig)
    (folder / "cues" / "one.toml").write_text(CUE)
    samples = "".join(f"{time:.4f},{value:.5f}\n" for time, value in zip(times, values))
    (folder / "takes" / "hand.csv").write_text("time,travel\n" + samples)
    ran = subprocess.run([bellwire, "plan", folder, "1", "--csv", "--every", "0.01"], capture_output=True, text=True)
    rows = list(csv.DictReader(io.StringIO(ran.stdout)))
    column = lambda name: numpy.array([float(row[name]) for row in rows])
    checked = subprocess.run([bellwire, "check", folder, "--json"], capture_output=True, text=True)
    return column("time"), column("slider.travel position"), json.loads(checked.stdout)


@pytest.mark.parametrize("noise, seed", [(0.0003, 1), (0.001, 2), (0.002, 3)])
def test_a_take_is_as_near_to_the_truth_as_scipy_and_within_tolerance_of_every_sample(bellwire, tmp_path, noise, seed):
    times, values = recorded(noise, seed)
    ours_at, ours, check = planned(bellwire, tmp_path / "show", times, values)
    assert [finding["code"] for finding in check["findings"]] == []
    assert ours_at[-1] == pytest.approx(times[-1], abs=1e-6)
    # The path as printed has microns, the samples lie between its rows.
    at_samples = numpy.interp(times, ours_at, ours)
    assert numpy.abs(at_samples - values).max() <= TOLERANCE + 1e-4
    theirs = make_smoothing_spline(times, values)
    off = lambda curve: numpy.sqrt(numpy.mean((curve - truth(ours_at)) ** 2))
    off_ours, off_theirs = off(ours), off(theirs(ours_at))
    print(f"noise {noise}: ours {off_ours:.6f} m, SciPy's {off_theirs:.6f} m from the truth")
    # A tenth of the tolerance is ours to spend on smoothness, or the noise; SciPy spends what cross-validation finds best.
    assert off_ours <= max(0.1 * TOLERANCE, noise)
    # What a camera feels: the third difference over a tenth of a second.
    rough = lambda curve: numpy.abs(numpy.diff(curve[::10], 3)).max() / 0.1**3
    assert rough(ours) <= 1.1 * rough(theirs(ours_at))


def test_the_spline_is_the_one_that_its_rule_names(bellwire, tmp_path):
    """The same problem, put to SciPy's B-splines and NumPy's dense algebra: the least squared jerk at a root mean square of
    a tenth of the tolerance."""
    times, values = recorded(0.0003, 4)
    ours_at, ours, _ = planned(bellwire, tmp_path / "show", times, values)
    span = times[-1] - times[0]
    pieces = int(numpy.ceil(span / 0.1))
    knots = times[0] + span / pieces * numpy.arange(-3, pieces + 4)
    design = BSpline.design_matrix(numpy.clip(times, knots[3], knots[-4] - 1e-12), knots, 3).toarray()
    # At rest at both ends: the first three coefficients are one, and so are the last three.
    tie = numpy.zeros((pieces + 3, pieces - 1))
    tie[numpy.arange(pieces + 3), numpy.clip(numpy.arange(pieces + 3) - 2, 0, pieces - 2)] = 1.0
    jerk = numpy.diff(numpy.eye(pieces + 3), 3, axis=0) @ tie
    design = design @ tie

    def fitted(power):
        weight = 10.0**power
        unknowns = numpy.linalg.solve(design.T @ design + weight * jerk.T @ jerk, design.T @ values)
        return unknowns, numpy.sqrt(numpy.mean((design @ unknowns - values) ** 2))

    low, high = -4.0, 12.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if fitted(middle)[1] <= 0.1 * TOLERANCE else (low, middle)
    theirs = BSpline(knots, tie @ fitted(low)[0], 3)(numpy.clip(ours_at + times[0], knots[3], knots[-4]))
    # The path begins where the list leaves the rig, which was written as the first sample; that fades along the way.
    aside = (ours[0] - theirs[0]) * (1 - ease((ours_at - ours_at[0]) / span))
    assert numpy.abs(ours - theirs - aside).max() < 3e-5


def test_the_least_stretch_is_enough_and_no_less_is(bellwire, tmp_path):
    times, values = recorded(0.0003, 5)
    limits = (0.4, 0.4, 0.25)
    check = planned(bellwire, tmp_path / "show", times, values, limits)[2]
    [finding] = check["findings"]
    assert (finding["code"], finding["axes"], finding["limit"]) == ("take", ["slider.travel"], 1.0)
    least = finding["value"]
    cue = tmp_path / "show" / "cues" / "one.toml"
    for stretch, codes in ((least + 1e-6, []), (least - 1e-6, ["take"])):
        cue.write_text(CUE + f"stretch = {stretch:.9f}\n")
        ran = subprocess.run([bellwire, "check", tmp_path / "show", "--json"], capture_output=True, text=True)
        assert [finding["code"] for finding in json.loads(ran.stdout)["findings"]] == codes


def told(bellwire, show, *args):
    ran = subprocess.run([bellwire, "take", show, "hand", *args], capture_output=True, text=True)
    return ran.returncode, ran.stdout, ran.stderr


def test_what_is_told_of_a_take_is_what_was_recorded(bellwire, tmp_path):
    """Length, gaps, noise and peaks against the signal that was made, the path against SciPy's, sample by sample."""
    show = tmp_path / "show"
    times, values = recorded(0.001, 6)
    planned(bellwire, show, times, values)
    code, out, _ = told(bellwire, show, "--json")
    take = json.loads(out)["take"]
    [rig] = take["rigs"]
    [axis] = rig["axes"]
    steps = numpy.diff(times)
    assert (code, take["samples"], take["cues"], take["survey"]) == (0, len(times), ["1"], None)
    assert take["length"] == pytest.approx(times[-1] - times[0], abs=1e-6)
    gaps = [gap["at"] for gap in take["gaps"]]
    assert gaps == pytest.approx(times[:-1][steps > 2.5 * take["step"]] - times[0], abs=1e-6)
    assert axis["noise"] == pytest.approx(0.001, rel=0.15)
    clock = numpy.linspace(times[0], times[-1], 20_001)
    speed = numpy.gradient(truth(clock), clock)
    assert axis["peaks"]["speed"]["value"] == pytest.approx(numpy.abs(speed).max(), rel=0.02)
    at_peak = numpy.interp(axis["peaks"]["speed"]["at"] + times[0], clock, numpy.abs(speed))
    assert at_peak == pytest.approx(numpy.abs(speed).max(), rel=0.02)
    rows = list(csv.DictReader(io.StringIO(told(bellwire, show, "--csv")[1])))
    column = lambda name: numpy.array([float(row[name]) for row in rows])
    assert numpy.array_equal(column("slider.travel recorded"), values)
    path = column("slider.travel position")
    assert numpy.abs(path - values).max() == pytest.approx(axis["farthest"], abs=1e-6)
    assert numpy.abs(path - make_smoothing_spline(times, values)(times)).max() < 0.002
    drawing = tmp_path / "take.svg"
    assert told(bellwire, show, "--svg", drawing)[0] == 0
    dots = ElementTree.parse(drawing).findall(".//{*}path[@class='dots']")
    assert [dot.get("d").count("M") for dot in dots] == [len(times)] * 2


def test_a_take_is_trimmed_into_a_new_one_and_none_is_lost(bellwire, tmp_path):
    show = tmp_path / "show"
    planned(bellwire, show, *recorded(0.0003, 7))
    takes = show / "takes"
    whole = (takes / "hand.csv").read_text()
    assert told(bellwire, show, "--trim", "2", "8", "--as", "middle")[0] == 0
    kept = [line for line in (takes / "middle.csv").read_text().splitlines() if line[0].isdigit()]
    assert kept == [line for line in whole.splitlines()[1:] if 2.0 <= float(line.split(",")[0]) <= 8.0]
    code, out, err = told(bellwire, show, "--trim", "3", "8", "--as", "middle")
    assert (code, out) == (1, "") and "there is a take middle already" in err
    assert (takes / "middle.csv").read_text().splitlines()[2] == kept[0]
    assert told(bellwire, show, "--trim", "3", "8", "--as", "middle", "--replace")[0] == 0
    assert (takes / "middle.csv").read_text().splitlines()[2] > kept[0]
    for wrong in (["--as", "../outside"], ["--as", "a.b"], ["--as", ""]):
        assert told(bellwire, show, "--trim", "3", "8", *wrong)[0] == 1, wrong
    assert (takes / "hand.csv").read_text() == whole
    assert sorted(path.name for path in takes.iterdir()) == ["hand.csv", "middle.csv"]
    # The run-in and the run-out bring it from rest and to rest; the middle itself is played as it was.
    listed = subprocess.run([bellwire, "take", show], capture_output=True, text=True).stdout
    assert "hand" in listed and "middle" in listed and "no cue" in listed


def test_a_take_of_another_survey_is_refused_until_someone_says_that_it_still_fits(bellwire, tmp_path):
    show = tmp_path / "show"
    planned(bellwire, show, *recorded(0.0003, 8))
    assert told(bellwire, show, "--adopt")[0] == 0
    assert told(bellwire, show)[0] == 0
    rig = show / "rigs" / "slider.toml"
    rig.write_text(rig.read_text().replace("travel = [0.0, 3.0]", "travel = [-0.1, 3.1]").replace('"x"', "[-1.0, 0.0, 0.0]"))

    def checked():
        ran = subprocess.run([bellwire, "check", show, "--json"], capture_output=True, text=True)
        return ran.returncode, json.loads(ran.stdout)["findings"]

    code, [finding] = checked()
    assert (code, finding["code"], finding["cues"], finding["axes"]) == (1, "take", ["1"], ["slider.travel"])
    assert (finding["file"], finding["line"], finding["column"]) == ("takes/hand.csv", 2, 9)
    assert "its travel was 0 m to 3 m and is -0.1 m to 3.1 m; its direction is reversed" in finding["message"]
    assert told(bellwire, show)[0] == 1
    assert subprocess.run([bellwire, "run", show, "--http", "127.0.0.1:0"], capture_output=True).returncode == 1
    assert told(bellwire, show, "--adopt")[0] == 0
    assert checked() == (0, [])
    # How fast it may go and what hangs on it make no recorded position another place.
    rig.write_text(rig.read_text().replace("speed = 0.4", "speed = 0.5\nshare = 0.9\ntolerance = 0.02"))
    assert checked() == (0, [])
