"""check, schema and plan, from outside: by jsonschema, tomllib and csv."""

import csv
import io
import json
import os
import re
import shutil
import subprocess
import tomllib
from xml.etree import ElementTree

import jsonschema
import pytest


def run(bellwire, *words):
    return subprocess.run([bellwire, *words], capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL)


@pytest.fixture(scope="session")
def schema(bellwire):
    done = run(bellwire, "schema")
    assert done.returncode == 0
    return json.loads(done.stdout)


def validator_for(schema, kind):
    """For one kind of file: show, rig or cue."""
    of_kind = {"$schema": schema["$schema"], "$ref": f"#/$defs/{kind.title()}File", "$defs": schema["$defs"]}
    return jsonschema.Draft202012Validator(of_kind)


def files_of(show):
    yield "show", show / "show.toml"
    for kind in ("rig", "cue"):
        for path in sorted((show / f"{kind}s").glob("*.toml")):
            yield kind, path


def test_the_schema_is_one(schema):
    jsonschema.Draft202012Validator.check_schema(schema)


def test_every_show_we_ship_is_valid_by_the_schema(schema, demo_show, cue_book, bench):
    for show in [demo_show, bench, *cue_book]:
        for kind, path in files_of(show):
            errors = list(validator_for(schema, kind).iter_errors(tomllib.loads(path.read_text())))
            assert not errors, f"{path}: {errors[0].message}"


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("rigs/sloop.toml", "speed = 1.0", "sped = 1.0"),
        ("rigs/sloop.toml", "speed = 1.0", 'speed = "fast"'),
        ("rigs/sloop.toml", 'unit = "m"', 'unit = "ft"'),
        ("rigs/sloop.toml", "travel = [-3.0, 3.0]", "travel = [-3.0]"),
        ("show.toml", 'otherwise = "hold"', 'otherwise = "wait"'),
        ("show.toml", "margin = 0.1", ""),
        ("cues/act.toml", 'number = "12"', "number = 12"),
        ("cues/act.toml", 'from = "end"', 'from = "middle"'),
        ("cues/act.toml", 'call = "as the fog clears"', 'cal = "as the fog clears"'),
    ],
)
def test_what_the_schema_turns_down_the_check_does_too(bellwire, schema, bench, file, old, new):
    path = bench / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    kind = file.split("/")[0].removesuffix(".toml").rstrip("s")
    assert not validator_for(schema, kind).is_valid(tomllib.loads(path.read_text()))
    done = run(bellwire, "check", bench, "--json")
    assert done.returncode == 1
    assert file in {finding["file"] for finding in json.loads(done.stdout)["findings"]}


def test_every_show_we_ship_is_clean(bellwire, demo_show, cue_book):
    for show in [demo_show, *cue_book]:
        done = run(bellwire, "check", show, "--json", "--deny", "warning")
        assert done.returncode == 0, f"{show}: {done.stdout} {done.stderr}"
        assert not [finding for finding in json.loads(done.stdout)["findings"] if finding["severity"] != "note"]


def test_the_report_has_the_fields_of_the_contract(bellwire, demo_show):
    report = json.loads(run(bellwire, "check", demo_show, "--json").stdout)
    assert report["show"] == "Salt Lantern" and report["rigs"] == 6
    assert "people" in report["not_seen"]
    durations = {cue["number"]: cue["duration"] for cue in report["cues"]}
    for cue in report["cues"]:
        wanted = {
            "number", "name", "duration", "stop_time", "bottleneck", "start", "end", "least_clearance", "clear_spans",
            "apart", "rests_on", "if_skipped", "worst_stop", "stops",
        }
        assert wanted == cue.keys()
        stop = cue["worst_stop"]
        assert 0.0 <= stop["asked"] <= stop["rests"] <= cue["duration"]
        # Braked along its path it goes less far than at full rate, and stands between where it starts and ends: but for
        # cue 11, which plays a take, 12, which goes by way of a mark, and 17, which follows another rig with its lens.
        assert stop["rests"] - stop["asked"] <= cue["stop_time"] + 1e-9
        for axis, at in stop["pose"].items():
            low, high = sorted([cue["start"][axis], cue["end"][axis]])
            assert cue["number"] in ("11", "12", "17") or low - 1e-9 <= at <= high + 1e-9, (cue["number"], axis)
        # What can be done after a stop is told of every time of the cue, and of where it then stands.
        ends = [end for span in cue["stops"] for end in (span["from"], span["to"])]
        assert [0.0, cue["duration"]] == [ends[0], ends[-1]] and ends[1:-1:2] == ends[2::2], cue["number"]
        for span in cue["stops"]:
            assert span["from"] <= span["rests"][0] <= span["rests"][1] <= cue["duration"]
            assert span["preset"] is None and span["ended"] == (span["resume"] is None) == (span["return"] is None)
            assert span["ended"] or span["resume"]["possible"] and span["return"]["possible"]
        nearest = cue["least_clearance"]
        assert nearest.keys() == {"value", "bodies", "time"} and len(nearest["bodies"]) == 2
        assert nearest["value"] >= 0.04 and 0.0 <= nearest["time"] <= cue["duration"]
        for spans in cue["clear_spans"]:
            assert spans.keys() == {"after", "clear", "hold_safe_from", "stall_safe_from"}
            assert spans["after"] in durations and spans["after"] != cue["number"]
            ends = [end for span in spans["clear"] for end in span]
            assert ends == sorted(ends) and all(0.0 <= end <= durations[spans["after"]] for end in ends)
    spans = {(cue["number"], spans["after"]): spans for cue in report["cues"] for spans in cue["clear_spans"]}
    # The lamp may fall down the quay at any time of the mill's turn; the boom may not while the lamp is on its way.
    assert spans["8", "7"]["clear"] == [[0.0, durations["7"]]] and spans["8", "7"]["hold_safe_from"] == 0.0
    assert ("9", "8") not in spans
    apart = {cue["number"]: {entry["from"]: entry["because"] for entry in cue["apart"]} for cue in report["cues"]}
    assert apart["9"]["8"] == "its needs wait for that" and "heron.swing" in apart["12"]["9"]
    rests = {cue["number"]: {entry["from"]: entry["because"] for entry in cue["rests_on"]} for cue in report["cues"]}
    assert rests["17"]["16"] == "it follows that" and rests["16"] == {"14": "its needs are false without that"}
    assert "moves tide.height" in rests["14"]["5"] and "gull/height/0 touches heron/boom/0" in rests["10"]["8"]
    broken = {cue["number"]: cue["if_skipped"] for cue in report["cues"]}
    assert broken["31"] == ["33"] and {"15", "16", "17"} <= {*broken["14"]} and "7" not in broken["14"]
    assert "a rig of which one axis jams" in report["not_seen"]
    # The lift goes up and down again only behind a closed gate, the wagon only over a clear deck.
    lift, wagon = (next(cue for cue in report["cues"] if cue["number"] == number)["stops"][0] for number in ("14", "16"))
    assert lift["return"]["given"] == lift["resume"]["given"] == ["input 'cellar gate closed'"]
    assert "input 'deck clear'" in wagon["resume"]["given"] and wagon["return"] == wagon["resume"]
    # The heron leaves the space that the lamp is called into later.
    lamp = spans["21.5", "21"]
    assert lamp["clear"][0][0] == 9.0 and 2.0 < lamp["stall_safe_from"] < lamp["hold_safe_from"] < 9.0
    assert [cue["number"] for cue in report["cues"]][:10] == [str(number) for number in range(1, 11)]


@pytest.mark.parametrize("spoil", [b"[[axis", b"\xff\xfe", b"", b"kind = 4"])
def test_a_broken_show_still_gives_one_document(bellwire, bench, spoil):
    (bench / "rigs" / "sloop.toml").write_bytes(spoil)
    done = run(bellwire, "check", bench, "--json")
    assert (done.returncode, done.stderr) == (1, "")
    report = json.loads(done.stdout)
    assert report.keys() == {"show", "hash", "rigs", "axes", "cues", "findings", "not_seen"}
    assert report["cues"] == [] and "people" in report["not_seen"]
    wanted = {
        "code", "severity", "message", "fix", "file", "line", "column",
        "cues", "rigs", "axes", "time", "other_time", "value", "limit",
    }
    assert report["findings"] and all(wanted == finding.keys() for finding in report["findings"])


def test_what_people_read_fits_a_narrow_terminal(bellwire, demo_show, cue_book):
    for show in [demo_show, *cue_book]:
        report = run(bellwire, "check", show)
        assert report.returncode == 0
        numbers = [cue["number"] for cue in json.loads(run(bellwire, "check", show, "--json").stdout)["cues"]]
        for text in [report.stdout, *(run(bellwire, "plan", show, number).stdout for number in numbers)]:
            assert text and max(map(len, text.splitlines())) <= 80, text


def test_only_warnings_can_be_denied(bellwire, demo_show):
    assert run(bellwire, "check", demo_show, "--deny", "warning").returncode == 0
    assert run(bellwire, "check", demo_show, "--deny", "note").returncode == 2


def test_a_finding_points_at_its_place(bellwire, bench):
    rig = bench / "rigs" / "sloop.toml"
    lines = rig.read_text().splitlines()
    row = lines.index("speed = 1.0")
    lines[row] = "sped = 1.0"
    rig.write_text("\n".join(lines))
    done = run(bellwire, "check", bench, "--json")
    finding = next(f for f in json.loads(done.stdout)["findings"] if f["code"] == "unknown-key")
    assert (finding["file"], finding["line"], finding["column"]) == ("rigs/sloop.toml", row + 1, 1)
    assert "speed" in finding["message"] + (finding["fix"] or "")
    told = run(bellwire, "check", bench)
    assert told.returncode == 1
    assert f"sloop.toml:{row + 1}" in told.stdout + told.stderr and "^" in told.stdout + told.stderr


def test_a_planned_motion_as_csv(bellwire, bench):
    done = run(bellwire, "plan", bench, "2.5", "--csv", "--every", "0.05")
    assert done.returncode == 0
    head, *rows = csv.reader(io.StringIO(done.stdout))
    assert head[0] == "time"
    assert len(head) == 7 and all(column.startswith("pike.pan") for column in head[1:4])
    times = [float(row[0]) for row in rows]
    pan = [float(row[1]) for row in rows]
    speed = [float(row[2]) for row in rows]
    assert times[0] == 0.0 and times[-1] == pytest.approx(2.0, abs=1e-6)
    assert pan[0] == 0.0 and pan[-1] == pytest.approx(40.0, abs=1e-6)
    assert max(speed) <= 40.0 + 1e-9 and speed[-1] == pytest.approx(0.0, abs=1e-6)
    # The speed is the slope of the positions.
    for row in range(1, len(rows) - 1):
        slope = (pan[row + 1] - pan[row - 1]) / (times[row + 1] - times[row - 1])
        assert slope == pytest.approx(speed[row], abs=0.2)


def test_the_stops_of_a_cue_as_a_table_as_csv_and_as_one_document(bellwire, bench, demo_show):
    def stops(*more, show=bench, cue="12"):
        return run(bellwire, "plan", show, cue, "--stops", *more)

    text = stops().stdout
    assert "resume or return, given input 'deck clear'" in text and "longest" in text
    dolly = stops(show=demo_show, cue="13").stdout
    assert all(word in dolly for word in ("minnow", "travel", "pan", "resume or return"))
    for told in (text, dolly):
        assert max(map(len, told.splitlines())) <= 80, told
    head, *rows = csv.reader(io.StringIO(stops("--csv", "--every", "0.5").stdout))
    assert head == ["asked", "takes", "rests", "resume", "return", "sloop.travel"] and len(rows) == 7
    for asked, takes, rests, resume, back, travel in rows[1:-1]:
        assert float(asked) < float(rests) <= float(asked) + float(takes) + 1e-9 and resume == back == "given"
        assert 1.5 < float(travel) < 2.0
    assert rows[-1][3:] == ["ended", "ended", "2"]
    told = json.loads(stops("--json", "--every", "0.5").stdout)
    assert [told["cue"], told["duration"], len(told["stops"])] == ["12", 3.0, 7] and not told["findings"]
    # Looked for at every tick, the longest is no shorter than any of the table.
    table = json.loads(stops("--json").stdout)
    assert len(table["stops"]) > 48 * table["duration"]
    assert max(stop["takes"] for stop in table["stops"]) <= table["worst_stop"]["takes"] + 1e-9
    assert table["spans"] == told["spans"]
    assert run(bellwire, "plan", bench, "12", "--every", "1").returncode == 2
    assert json.loads(run(bellwire, "plan", bench, "12", "--json").stdout)["moves"]
    (bench / "show.toml").write_text("[show")
    broken = stops("--json")
    assert broken.returncode == 1 and json.loads(broken.stdout)["findings"] and not json.loads(broken.stdout)["stops"]


@pytest.fixture
def checked(bellwire, demo_show, tmp_path):
    """Checks a copy of the demo show with a cache of its own; gives the folder, the check, and the files of the cache."""
    folder = tmp_path / "show"
    shutil.copytree(demo_show, folder)
    cache = tmp_path / "cache"

    def check(*more):
        environment = os.environ | {"XDG_CACHE_HOME": str(cache)}
        command = [bellwire, "check", folder, "--json", *more]
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, env=environment)
        assert done.stderr == ""
        return done.stdout

    return folder, check, lambda: sorted((cache / "bellwire").iterdir())


def test_what_was_proved_before_changes_nothing_of_what_is_told(checked):
    folder, check, kept = checked
    cold = check()
    [file] = kept()
    first = file.read_bytes()
    assert check() == cold and check("--anew") == cold
    # An edit of one cue: what the memory gives is what a proof from nothing gives.
    act = folder / "cues" / "act2.toml"
    edited = act.read_text().replace("time = 9.0", "time = 10.0")
    assert edited != act.read_text()
    act.write_text(edited)
    warm = check()
    assert warm != cold and warm == check("--anew")
    assert file.read_bytes() != first and kept() == [file]


@pytest.mark.parametrize("spoil", [lambda old: b"", lambda old: old[:40], lambda old: old[:-1] + bytes([old[-1] ^ 1]),
                                   lambda old: bytes([old[0] ^ 1]) + old[1:], lambda old: old + b"more"])
def test_a_spoilt_memory_is_not_believed(checked, spoil):
    _, check, kept = checked
    cold = check()
    [file] = kept()
    whole = file.read_bytes()
    file.write_bytes(spoil(whole))
    assert check() == cold
    assert len(file.read_bytes()) == len(whole), "and it is written anew"


def test_without_a_place_for_it_a_check_is_a_check(bellwire, demo_show, tmp_path):
    environment = {name: value for name, value in os.environ.items() if name not in ("HOME", "XDG_CACHE_HOME")}
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    for more in ({}, {"XDG_CACHE_HOME": str(blocked)}, {"XDG_CACHE_HOME": "relative"}):
        done = subprocess.run([bellwire, "check", demo_show], capture_output=True, text=True, env=environment | more)
        assert done.returncode == 0 and done.stderr.strip() == "clean: no error, no warning"


def test_a_follow_that_runs_into_an_interlock_is_told_with_both_times_and_what_settles_it(bellwire, tmp_path):
    (tmp_path / "rigs").mkdir()
    (tmp_path / "cues").mkdir()
    (tmp_path / "show.toml").write_text(
        '[show]\nname = "Harbour lock"\nmargin = 0.1\nreact = 0.1\n'
        '[[interlock]]\nname = "wagon beyond"\nguards = ["lift.height"]\ndirection = "down"\n'
        'needs = { axis = "wagon.travel", above = 2.0 }\notherwise = "stop"\n'
    )
    for rig, axis, travel in (("wagon", "travel", "[0.0, 4.0]"), ("lift", "height", "[-3.0, 0.0]")):
        (tmp_path / "rigs" / f"{rig}.toml").write_text(
            f'kind = "machine"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = "{axis}"\nunit = "m"\ntravel = {travel}\n'
            "start = 0.0\nspeed = 1.0\nacceleration = 1.0\njerk = 4.0\n"
            'joint = { slide = "z", at = [0.0, 0.0, 0.0] }\n'
        )

    def findings(after):
        (tmp_path / "cues" / "act.toml").write_text(
            '[[cue]]\nnumber = "1"\nname = "Wagon on"\n'
            'move = [{ rig = "wagon", to = { travel = 4.0 }, time = 10.0 }]\n'
            f'[[cue]]\nnumber = "2"\nname = "Low water"\n{after}\n'
            'move = [{ rig = "lift", to = { height = -2.0 }, time = 6.0 }]\n'
        )
        done = run(bellwire, "check", tmp_path, "--json")
        report = json.loads(done.stdout)["findings"]
        assert done.returncode == int(any(finding["severity"] == "error" for finding in report))
        return report

    [finding] = findings('after = { cue = "1", from = "start", wait = 3.0 }')
    assert (finding["code"], finding["severity"], finding["cues"]) == ("interlock-blocked", "error", ["1", "2"])
    assert (finding["rigs"], finding["axes"], finding["file"]) == (["lift"], ["lift.height"], "cues/act.toml")
    assert abs(finding["time"] - 3.0) < 0.01 and abs(finding["other_time"]) < 0.01
    assert "interlock 'wagon beyond'" in finding["message"] and "above 2 m" in finding["message"]
    wait = finding["fix"].split("write ")[1].split(" in cue 2")[0]
    assert wait in ("wait = 5.0", "wait = 5.1")
    assert findings(f'after = {{ cue = "1", from = "start", {wait} }}') == []
    # Called by hand it is refused until the wagon is there: nothing to tell.
    assert findings("") == []


def test_a_drawing_of_a_cue_shows_each_axis_against_its_limits(bellwire, demo_show, tmp_path):
    """Read back as XML by another program; 9.00 s of swing over 40 degrees, at least 6.94 s by the double-S formula
    T = D/v + v/a + a/j (Biagiotti and Melchiorri, 2008, section 3.4)."""
    picture = tmp_path / "over-the-quay.svg"
    done = run(bellwire, "plan", demo_show, "9", "--svg", picture)
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""
    drawing = ElementTree.parse(picture).getroot()
    inside = "{http://www.w3.org/2000/svg}"
    assert drawing.tag == inside + "svg"
    words = [text.text for text in drawing.iter(inside + "text")]
    assert "Cue 9, Over the quay" in words
    for axis in ["swing", "boom"]:
        assert axis in words
    # Two axes, four curves each, and how near the nearest limit is.
    curves = [path for path in drawing.iter(inside + "path") if path.get("class") == "curve"]
    assert len(curves) == 9
    least = 40 / 9 + 9 / 4.5 + 4.5 / 9
    (cost,) = [word for word in words if word.startswith("heron: planned 9.00 s")]
    assert f"at least {least:.2f} s" in cost
    saved = least - (40 / 9.9 + 9.9 / 4.5 + 4.5 / 9)
    assert f"speed of swing {saved:.2f} s" in cost
    # Where nothing moves there is nothing to draw, and a place that cannot be written is told.
    assert run(bellwire, "plan", demo_show, "9", "--svg", tmp_path / "no" / "where.svg").returncode == 1


INSIDE = "{http://www.w3.org/2000/svg}"
COLUMNS = ["position", "speed", "acceleration", "jerk"]


def corners(path):
    """The points of a path that goes by M, L, h and v alone."""
    at, points = [0.0, 0.0], []
    for letter, numbers in re.findall(r"([MLhv])([-0-9. ]+)", path.get("d")):
        numbers = [float(number) for number in numbers.split()]
        if letter in "ML":
            at = numbers
        else:
            at = [at[0] + numbers[0], at[1]] if letter == "h" else [at[0], at[1] + numbers[0]]
        points.append(at)
    return points


def boxes(drawing):
    """By row and column from the top left: of each box the curve, its lines by class, and the words below it."""
    paths = list(drawing.iter(INSIDE + "path"))
    framed = [corners(path) for path in paths if path.get("class") == "frame" and path.get("d").endswith("z")]
    found = {}
    for frame in framed:
        (left, top), (right, bottom) = frame[0], frame[2]
        inside = [
            path
            for path in paths
            if path.get("class") != "frame"
            and all(left - 0.2 <= x <= right + 0.2 and top - 0.2 <= y <= bottom + 0.2 for x, y in corners(path))
        ]
        below = [text.text for text in drawing.iter(INSIDE + "text") if float(text.get("x")) == left and 0.0 < float(text.get("y")) - bottom < 14.0]
        found[(top, left)] = (inside, below)
    rows = sorted({top for top, _ in found})
    lefts = sorted({left for _, left in found})
    return {(rows.index(top), lefts.index(left)): box for (top, left), box in found.items()}, rows, lefts


def test_what_a_drawing_shows_is_what_is_planned(bellwire, demo_show, tmp_path):
    """Cue 17, an aimed one: limits, curves and the names of the nearest limits, read back and held against the rig's file and the
    rows of --csv."""
    picture = tmp_path / "watch.svg"
    assert run(bellwire, "plan", demo_show, "17", "--svg", picture).returncode == 0
    drawing = ElementTree.parse(picture).getroot()
    rows = list(csv.DictReader(run(bellwire, "plan", demo_show, "17", "--csv", "--every", "0.01").stdout.splitlines()))
    times = [float(row["time"]) for row in rows]
    rig = tomllib.loads((demo_show / "rigs" / "heron.toml").read_text())
    limits = {axis["name"]: axis for axis in rig["axis"]}
    names = ["swing", "boom", "pan", "tilt", "focus"]

    def planned(axis, column):
        if column == "jerk":
            gained = planned(axis, "acceleration")
            slopes = [(b - a) / 0.01 for a, b in zip(gained, gained[1:])]
            return slopes + slopes[-1:]
        return [float(row[f"heron.{axis} {column}"]) for row in rows]

    found, _, _ = boxes(drawing)
    for row, axis in enumerate(names):
        for column, name in enumerate(COLUMNS):
            inside, below = found[(row, column)]
            [curve] = [corners(path) for path in inside if path.get("class") == "curve"]
            values = planned(axis, name)
            if name == "position":
                assert any("travel {:.1f}".format(limits[axis]["travel"][0]) in words for words in below), below
                continue
            # What is above the zero line on the sheet has the smaller y.
            low, high = sorted((y for path in inside if path.get("class") == "limit" for _, y in corners(path)[:1]), reverse=True)
            limit = limits[axis][name]
            scale = 2.0 * limit / (low - high)
            drawn = [limit - (y - high) * scale for _, y in curve]
            assert max(drawn) == pytest.approx(max(values), abs=0.01 * limit), (axis, name)
            assert min(drawn) == pytest.approx(min(values), abs=0.01 * limit), (axis, name)
            assert any(words.endswith(f"of {limit:g}") for words in below), below

    # The band: each of its spans names the limit of which the most is taken there.
    spans = [rect.find(INSIDE + "title") for rect in drawing.iter(INSIDE + "rect")]
    spans = [span.text for span in spans if span is not None]
    told, until = [], 0.0
    parts = {(axis, name): [abs(value) / limits[axis][name] for value in planned(axis, name)] for axis in names for name in COLUMNS[1:]}
    for span in spans:
        axis, name, begin, end, part = re.fullmatch(r"heron\.(\w+) (\w+), ([\d.]+) s to ([\d.]+) s: (\d+) %", span).groups()
        begin, end = float(begin), float(end)
        assert begin == pytest.approx(until, abs=0.011), span
        until = end
        within = [index for index, time in enumerate(times) if begin + 0.02 < time < end - 0.02]
        for index in within:
            nearest = max(values[index] for values in parts.values())
            assert parts[(axis, name)][index] == pytest.approx(nearest, abs=0.01), (span, times[index])
        if within:
            assert max(parts[(axis, name)][index] for index in within) == pytest.approx(int(part) / 100.0, abs=0.02), span
        if end - begin > 0.1:
            told.append((f"heron.{axis} {name}"))
    assert until == pytest.approx(20.0, abs=0.01)
    assert "heron.pan speed" in told and "heron.tilt speed" in told and "heron.swing speed" in told
    words = [text.text for text in drawing.iter(INSIDE + "text")]
    assert sorted(word for word in words if word in told) == sorted(told), "each has its name below the band"
    assert any(word.endswith("paced by heron.pan") for word in words)


def test_a_drawing_marks_what_a_cue_passes_and_tells_no_saving_of_nothing(bellwire, demo_show, tmp_path):
    picture = tmp_path / "lifts.svg"
    assert run(bellwire, "plan", demo_show, "12", "--svg", picture).returncode == 0
    drawing = ElementTree.parse(picture).getroot()
    [move] = json.loads(run(bellwire, "plan", demo_show, "12", "--json").stdout)["moves"]
    [passed] = move["passes"]
    found, _, lefts = boxes(drawing)
    per_unit = 7.0 / (corners(next(path for path in drawing.iter(INSIDE + "path") if path.get("class") == "frame"))[1][0] - lefts[0])
    for row in (0, 1):
        inside, _ = found[(row, 0)]
        [[[x, y]]] = [corners(path)[:1] for path in inside if path.get("class") == "mark"]
        assert (x - lefts[0]) * per_unit == pytest.approx(passed["time"], abs=0.01)
        [curve] = [corners(path) for path in inside if path.get("class") == "curve"]
        assert min(abs(x - a) + abs(y - b) for a, b in curve) < 1.0, "it lies on the curve"
    words = [text.text for text in drawing.iter(INSIDE + "text")]
    assert any(f"clear-of-quay at {passed['time']:.2f} s" in word for word in words)
    [cost] = [word for word in words if "a tenth more saves" in word]
    assert "speed of boom" not in cost and "0.00 s" not in cost
    assert all(saving["seconds"] > 0.005 for saving in move["a_tenth_more_saves"])
