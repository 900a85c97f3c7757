"""An aimed camera as `plan` tells it, by kinematics of our own from the rig files: NumPy for the chain of joints, SciPy for the
tables of the lens, the usual formulas of a thin lens (Greenleaf, Photographic Optics, 1950) for what is sharp."""

import csv
import io
import json
import math
import subprocess
import tomllib

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

AXES = {"x": [1.0, 0.0, 0.0], "y": [0.0, 1.0, 0.0], "z": [0.0, 0.0, 1.0]}
# Degrees between the optical axis and the point, once the head is on it.
ON_POINT = 0.05
# s, between the rows.
EVERY = 0.1


def turn(direction, degrees):
    """Rodrigues' formula."""
    x, y, z = np.array(direction) / np.linalg.norm(direction)
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    angle = math.radians(degrees)
    return np.eye(3) + math.sin(angle) * cross + (1.0 - math.cos(angle)) * cross @ cross


def tip(rig, pose):
    """Origin and orientation of the frame of a rig's last joint; the rig stands on the floor."""
    origin, hang = np.array(rig["at"]), turn(AXES["z"], rig.get("facing", 0.0))
    # What the next joint hangs on: after a levelled one that is tilted, what follows is not.
    arm = hang
    for axis in (axis for axis in rig["axis"] if "joint" in axis):
        joint = axis["joint"]
        origin = origin + arm @ np.array(joint["at"])
        way = joint.get("turn", joint.get("slide"))
        way = np.array(AXES.get(way, way) if isinstance(way, str) else way)
        if "slide" in joint:
            origin, arm = origin + hang @ (way / np.linalg.norm(way) * pose[axis["name"]]), hang
            continue
        arm = hang @ turn(way, pose[axis["name"]])
        hang = hang if joint.get("level", False) else arm
    return origin, hang


class Told:
    """What `plan --csv` tells of one cue, and the poses of its rigs at any time of it."""

    def __init__(self, bellwire, show, cue):
        self.show = show
        ran = subprocess.run(
            [bellwire, "plan", show, cue, "--csv", "--every", str(EVERY)], capture_output=True, text=True, check=True
        )
        self.rows = list(csv.DictReader(io.StringIO(ran.stdout)))
        self.times = [float(row["time"]) for row in self.rows]

    def column(self, name):
        return np.array([float(row[name]) if row[name] else math.nan for row in self.rows])

    def rig(self, name):
        return tomllib.loads((self.show / "rigs" / f"{name}.toml").read_text())

    def pose(self, rig, time, otherwise):
        """Axes that the cue does not move stand as `otherwise` says."""
        names = [axis["name"] for axis in self.rig(rig)["axis"]]
        moved = [name for name in names if f"{rig}.{name} position" in self.rows[0]]
        at = {name: np.interp(time, self.times, self.column(f"{rig}.{name} position")) for name in moved}
        return {name: at.get(name, otherwise.get(name)) for name in names}


def check_aim(told, rig, point_at, stands, on):
    """The columns of the lens against our own; `on` from and to s, between which the lens must be on its point, as at its end.
    Gives how far it is off at most after that."""
    plan, off, distance = told.rig(rig), told.column(f"{rig} off"), told.column(f"{rig} distance")
    after = 0.0
    for row, time in enumerate(told.times):
        lens, hang = tip(plan, told.pose(rig, time, stands))
        to = point_at(time) - lens
        apart = math.degrees(math.acos(min(1.0, to @ hang[:, 0] / np.linalg.norm(to))))
        assert distance[row] == pytest.approx(np.linalg.norm(to), abs=1e-3), time
        assert off[row] == pytest.approx(apart, abs=0.01), time
        assert apart <= ON_POINT or not on[0] <= time <= on[1] and time < told.times[-1], time
        after = max(after, apart if time > on[1] else 0.0)
    return after


def ring(table, scale):
    """What a lens table tells of a position: positions over a scale on which they lie evenly, on a monotone cubic."""
    position, value = np.array(table).T
    order = np.argsort(scale(value))
    fine = np.linspace(*np.sort(scale(value))[[0, -1]], 100_001)
    along = PchipInterpolator(scale(value)[order], position[order])(fine)
    order = np.argsort(along)
    return lambda at: np.interp(at, along[order], fine[order])


def test_a_lamp_is_kept_in_the_picture_while_the_rail_goes_its_way(bellwire, cue_book):
    show = next(show for show in cue_book if show.name == "aim")
    told = Told(bellwire, show, "1")
    check_aim(told, "petrel", lambda _: np.array([-2.5, 3.5, 2.2]), {}, on=(4.0, 12.0))


def test_a_skiff_that_another_cue_moves_is_kept_in_the_picture(bellwire, demo_show):
    told, towed = Told(bellwire, demo_show, "17"), Told(bellwire, demo_show, "16")
    wagon = told.rig("skiff")

    def middle(time):
        # Cue 17 comes 6 s after the start of 16.
        block = wagon["axis"][0]["bodies"][0]["box"]
        origin, hang = tip(wagon, towed.pose("skiff", time + 6.0, {}))
        return origin + hang @ (np.array(block["min"]) + np.array(block["max"])) / 2.0

    # A quarter of the move to ease in, and one to come to rest on what still goes: then it is off by what the cue book says.
    after = check_aim(told, "heron", middle, {"zoom": 0.0, "iris": 0.0}, on=(5.0, 15.0))
    assert 1.0 < after < 4.0


def test_a_ferry_that_has_landed_is_kept_to_the_end(bellwire, cue_book):
    """The rule of the cue book: the move outlasts the target's, and the lens is on it until the end."""
    show = next(show for show in cue_book if show.name == "aim")
    told, towed = Told(bellwire, show, "3"), Told(bellwire, show, "2")
    ferry = told.rig("ferry")

    def middle(time):
        # Cue 3 comes 2 s after the start of 2, and ends with it.
        block = ferry["axis"][0]["bodies"][0]["box"]
        origin, hang = tip(ferry, towed.pose("ferry", time + 2.0, {}))
        return origin + hang @ (np.array(block["min"]) + np.array(block["max"])) / 2.0

    assert check_aim(told, "petrel", middle, {}, on=(4.0, told.times[-1])) == 0.0


def test_what_the_lens_shows_and_holds_sharp(bellwire, demo_show):
    told = Told(bellwire, demo_show, "17")
    lens = told.rig("heron")["lens"]
    table, focus = lens["focus"]["table"], told.column("heron focus")
    metres = 1.0 / ring(table, np.reciprocal)(told.column("heron.focus position"))
    assert focus == pytest.approx(metres, rel=1e-2)
    # SciPy bends the first and the last interval otherwise; between them it is the same curve.
    inner = (metres > table[1][1]) & (metres < table[-2][1])
    assert inner.sum() > 100 and focus[inner] == pytest.approx(metres[inner], rel=1e-5)
    # Zoom and iris stand at the first rows of their tables. The width of the picture and what counts as sharp are the usual ones, which the documentation of [lens] names.
    focal, stop, sensor, confusion = 24.0, 2.8, lens.get("sensor", 36.0), lens.get("circle_of_confusion", 0.03)
    hyperfocal = (focal * focal / (stop * confusion) + focal) / 1000.0
    near = focus * (hyperfocal - focal / 1000.0) / (hyperfocal + focus - 2.0 * focal / 1000.0)
    reach = np.where(focus < hyperfocal, hyperfocal - focus, np.nan)
    far = np.where(focus < hyperfocal, focus * (hyperfocal - focal / 1000.0) / reach, np.inf)
    assert told.column("heron near") == pytest.approx(near, rel=1e-6)
    assert told.column("heron far") == pytest.approx(far, rel=1e-6)
    assert told.column("heron view") == pytest.approx(2.0 * math.degrees(math.atan(sensor / 2.0 / focal)), abs=1e-6)
    assert np.isinf(far).any() or (far < 100.0).all()


def test_the_same_as_one_document(bellwire, demo_show, bench):
    def document(show, *more):
        ran = subprocess.run([bellwire, "plan", show, *more, "--json"], capture_output=True, text=True)
        return ran.returncode, json.loads(ran.stdout)

    code, told = document(demo_show, "17", "--every", "0.5")
    assert code == 0 and told["cue"] == "17" and told["findings"] == []
    [move] = told["moves"]
    assert move["rig"] == "heron" and move["mark"] == "skiff-watch" and move["to"] - move["from"] == pytest.approx(20.0)
    assert len(move["lens"]) == 41
    rows = {round(float(row["time"]), 6): row for row in Told(bellwire, demo_show, "17").rows}
    for seen in move["lens"]:
        row = rows[round(seen["time"], 6)]
        for name in ("off", "distance", "focus", "near", "view"):
            assert seen[name] == pytest.approx(float(row[f"heron {name}"]), abs=1e-6)
        assert seen["sharp_without_end"] == math.isinf(float(row["heron far"])) == (seen["far"] is None)
    for axis in move["axes"]:
        for bound in ("speed", "acceleration", "jerk"):
            assert axis["peaks"][bound] <= axis["limits"][bound] * (1.0 + 1e-9)
    assert len(document(demo_show, "17")[1]["moves"][0]["lens"]) == 9
    code, told = document(demo_show, "9")
    assert code == 0 and all(move["lens"] == [] for move in told["moves"])
    assert sum(len(move["passes"]) for move in told["moves"]) == 0 and all(m["a_tenth_more_saves"] for m in told["moves"])
    (bench / "show.toml").write_text("name = 7\n")
    code, told = document(bench, "12")
    assert code == 1 and told["cue"] is None and told["moves"] == [] and told["findings"]
