"""check --report: the page, read by html.parser; and the bar of a long check, on a terminal of the test's own."""

import json
import os
import pty
import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest

VOID = {"meta", "br", "img", "input", "link", "hr"}


class Page(HTMLParser):
    """Its text, its figures by caption, and whatever it would fetch or run."""

    def __init__(self, text):
        super().__init__()
        self.open, self.outside, self.scripts, self.text = [], [], 0, ""
        self.figures, self.go, self.cell = [], [], None
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        attributes = dict(attributes)
        self.outside += [value for name, value in attributes.items() if name in ("src", "href", "xlink:href", "srcset")]
        self.scripts += tag == "script" or any(name.startswith("on") for name in attributes)
        self.cell = attributes.get("data-of", attributes.get("class")) if tag == "td" else self.cell
        if tag == "figure":
            self.figures.append({"caption": "", "marks": [], "labels": []})
        if self.figures and "figure" in self.open:
            self.figures[-1]["marks"].append((tag, attributes))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data):
        if "style" in self.open:
            return
        self.text += data + " "
        if self.open[-1:] == ["td"] and self.cell == "no":
            self.go.append((data, None))
        if self.open[-1:] == ["td"] and self.cell == "GO":
            self.go[-1] = (self.go[-1][0], data)
        if "figcaption" in self.open:
            self.figures[-1]["caption"] += data
        elif "figure" in self.open and "text" in self.open:
            self.figures[-1]["labels"].append(data)


def check(bellwire, show, *more, code=0):
    command = [bellwire, "check", show, *more]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL)
    assert done.returncode == code, done.stdout + done.stderr
    return done


@pytest.fixture
def page_of(bellwire, tmp_path):
    def page(show, code=0):
        path = tmp_path / "check.html"
        check(bellwire, show, "--report", path, code=code)
        text = path.read_text()
        page = Page(text)
        assert not page.open and not page.outside and not page.scripts
        assert "default-src 'none'" in text and "@import" not in text and "http:" not in text and "https:" not in text
        assert all(target.startswith("#") for target in re.findall(r"url\(([^)]*)\)", text))
        assert "NaN" not in text and "inf " not in text
        assert list(tmp_path.glob("*.part")) == []
        return page

    return page


@pytest.fixture
def trapped(demo_show, tmp_path):
    def lay(trap):
        folder = tmp_path / "trapped"
        shutil.copytree(demo_show, folder)
        shutil.copytree(demo_show / "traps" / trap, folder, dirs_exist_ok=True)
        return folder

    return lay


def marks(figure, kind, of_class):
    return [mark for tag, mark in figure["marks"] if tag == kind and of_class in mark.get("class", "").split()]


def test_the_page_of_a_clean_show(page_of, bellwire, demo_show):
    page = page_of(demo_show)
    report = json.loads(check(bellwire, demo_show, "--json").stdout)
    for words in ["Salt Lantern", "Clean", report["hash"], "Running order", "The act on a ruler", "Not proved", "people"]:
        assert words in page.text, words
    assert "operational stop" in page.text and "What was found" not in page.text
    for cue in report["cues"]:
        assert cue["name"] in page.text and f"{cue['duration']:.2f} s" in page.text
        nearest = cue["least_clearance"]
        told = f"{nearest['bodies'][0]} to {nearest['bodies'][1]}, {nearest['time']:.1f} s into it"
        assert told in page.text and f"{nearest['value']:.2f} m" in page.text
    # 21.5 waits until 21 is past 9 s, and 21 lasts 14; 8 waits for nothing, 9 needs 8 done.
    assert re.search(r"while 21 runs:\s+9.0 to 14.0 s into it", page.text)
    assert "it follows that" in page.text and "its needs are false without that" in page.text
    # As the gaps add up: the second GO comes 75 s after the first.
    assert "1:15" in page.text and "25:07" in page.text


def test_the_act_is_laid_out_as_a_rehearsal_runs_it(page_of, bellwire, demo_show, cue_book):
    for show in [demo_show, *cue_book]:
        told = page_of(show).go
        rehearsed = subprocess.run([bellwire, "rehearse", show, "--json"], capture_output=True, text=True, timeout=60)
        cues = json.loads(rehearsed.stdout)["cues"]
        assert [number for number, _ in told] == [cue["number"] for cue in cues]
        for (number, go), cue in zip(told, cues):
            minutes, seconds = map(int, go.split(":"))
            late = cue["fired"] - (60 * minutes + seconds)
            # No page knows when a position that a follow waits for is reached: it tells the earliest.
            assert late > -0.2 and (late < 1.2 or show.name == "follow-when"), f"{show.name}, cue {number}: {go}, {cue['fired']}"


@pytest.mark.parametrize(
    ("trap", "code", "severity", "rigs"),
    [
        ("lamp-too-soon", 0, "warning", ["heron", "gull"]),
        ("lamp-with-heron", 1, "error", ["heron", "gull"]),
        ("wagon-over-the-hole", 0, "warning", ["skiff", "tide"]),
    ],
)
def test_a_finding_has_its_plan_and_its_section(page_of, bellwire, trapped, trap, code, severity, rigs):
    folder = trapped(trap)
    page = page_of(folder, code)
    report = json.loads(check(bellwire, folder, "--json", code=code).stdout)
    [finding] = [finding for finding in report["findings"] if finding["severity"] == severity]
    assert "NOT clean" in page.text and finding["message"] in page.text and finding["fix"] in page.text
    assert f"{finding['file']}:{finding['line']}:" in page.text
    plan, section = page.figures[:2]
    assert plan["caption"].startswith("Plan") and section["caption"].startswith("Section")
    assert f"{finding['time']:.1f} s into cue {finding['cues'][0]}" in plan["caption"]
    for figure in (plan, section):
        assert marks(figure, "path", "one") and marks(figure, "path", "two")
        assert len(marks(figure, "path", "concerned")) == 2 and len(marks(figure, "path", "gap")) == 1
        assert all(rig in figure["labels"] for rig in rigs), figure["labels"]
        assert any(re.fullmatch(r"[0-9.]+\s*m", "".join(figure["labels"][at : at + 2])) for at in range(len(figure["labels"])))


def test_the_map_of_two_cues_is_drawn_with_its_clear_and_its_blocked_starts(page_of, trapped):
    page = page_of(trapped("lamp-too-soon"))
    [first, *_] = [figure for figure in page.figures if "21.5 The lamp falls beside 21 Heron away" in figure["caption"]]
    blocked, not_proved = marks(first, "path", "blocked"), marks(first, "path", "not-proved")
    assert blocked[0]["d"].startswith("M") and not_proved[0]["d"].startswith("M")
    bars = [mark for tag, mark in first["marks"] if tag == "rect"]
    assert [mark["class"] for mark in bars] == ["starts clear", "starts blocked"]
    clear, shut = bars
    # Blocked in its first 2.6 of 14 s, as the finding says.
    part = float(shut["width"]) / (float(shut["width"]) + float(clear["width"]))
    assert part == pytest.approx(2.6 / 14.0, abs=0.01)
    assert "2.6" in first["labels"] and "14.0" in first["labels"] and "Fire 21.5 while 21 runs: 2.6 to 14.0 s" in first["caption"]
    assert marks(first, "circle", "instant")


def test_what_a_chain_runs_into_lies_on_the_line_of_the_chain(page_of, trapped):
    page = page_of(trapped("lamp-with-heron"), code=1)
    figure = next(figure for figure in page.figures if "21.5 The lamp falls beside 21 Heron away" in figure["caption"])
    [line], [spot] = marks(figure, "path", "tied"), marks(figure, "circle", "instant")
    x, y, to_x, to_y = map(float, re.findall(r"[0-9.]+", line["d"]))
    along = (float(spot["cx"]) - x) / (to_x - x)
    assert 0.0 < along < 1.0
    assert y + along * (to_y - y) == pytest.approx(float(spot["cy"]), abs=1.5)


def test_a_finding_without_an_instant_is_told_without_a_drawing(page_of, trapped):
    page = page_of(trapped("short-of-the-turn"), code=1)
    assert "start-pose" in page.text and "358.6" in page.text
    assert not [figure for figure in page.figures if figure["caption"].startswith("Plan")]


def test_a_body_in_a_zone_is_drawn_with_the_zone(page_of, bench):
    show = bench / "show.toml"
    show.write_text(show.read_text() + '\n[[zone]]\nname = "a <b>wet</b> corner"\nkeep = "out"\n'
                    "box = { min = [-9.0, -9.0, -1.0], max = [9.0, 9.0, 4.0] }\n")
    page = page_of(bench, code=1)
    plan = next(figure for figure in page.figures if figure["caption"].startswith("Plan"))
    assert marks(plan, "path", "zone") and "a <b>wet</b> corner" in plan["labels"]
    assert "touch" in " ".join(plan["labels"])


def test_names_are_text_whatever_is_in_them(page_of, demo_show, tmp_path):
    folder = tmp_path / "show"
    shutil.copytree(demo_show, folder)
    name = "<script>alert(1)</script> & \"so\""
    for path, old in [(folder / "show.toml", "Salt Lantern"), (folder / "cues" / "act1.toml", "House to dark")]:
        text = path.read_text()
        assert old in text
        path.write_text(text.replace(f'"{old}"', json.dumps(name)))
    page = page_of(folder)
    assert page.text.count(name) >= 2


@pytest.mark.parametrize("spoil", [b"[[axis", b"\xff\xfe", b"kind = 4"])
def test_files_that_do_not_read_give_a_page_of_their_findings(page_of, bellwire, bench, spoil):
    (bench / "rigs" / "sloop.toml").write_bytes(spoil)
    page = page_of(bench, code=1)
    report = json.loads(check(bellwire, bench, "--json", code=1).stdout)
    assert "NOT proved" in page.text and "operational stop" in page.text and "Running order" not in page.text
    assert report["findings"]
    for finding in report["findings"]:
        assert finding["message"] in page.text


def test_with_json_the_document_is_the_same_and_the_page_is_there_too(bellwire, demo_show, tmp_path):
    plain = check(bellwire, demo_show, "--json")
    both = check(bellwire, demo_show, "--json", "--report", tmp_path / "page.html")
    assert both.stdout == plain.stdout and both.stderr == ""
    assert "Salt Lantern" in (tmp_path / "page.html").read_text()


def test_a_page_that_cannot_be_written_is_an_error_and_spoils_nothing(bellwire, demo_show, tmp_path):
    done = check(bellwire, demo_show, "--report", tmp_path / "nowhere" / "check.html", code=1)
    assert "check.html could not be written" in done.stderr and "34 cues" in done.stdout
    (tmp_path / "folder").mkdir()
    check(bellwire, demo_show, "--report", tmp_path / "folder", code=1)
    link, page = tmp_path / "link.html", tmp_path / "page.html"
    page.write_text("old")
    link.symlink_to(page)
    check(bellwire, demo_show, "--report", link)
    assert link.is_symlink() and "Salt Lantern" in page.read_text()


def long_show(folder, rigs, cues):
    """Carts on rails beside each other, close enough that each pair of cues is a map with something in it."""
    (folder / "rigs").mkdir(parents=True)
    (folder / "cues").mkdir()
    (folder / "show.toml").write_text('[show]\nname = "Long"\nmargin = 0.1\nreact = 0.15\n')
    for rig in range(rigs):
        (folder / "rigs" / f"cart{rig}.toml").write_text(
            f'kind = "cart"\nat = [0.0, {rig * 1.2}, 0.0]\n[[axis]]\nname = "travel"\nunit = "m"\n'
            "travel = [-5.0, 5.0]\nstart = 0.0\nspeed = 1.0\nacceleration = 0.5\njerk = 1.0\n"
            'joint = { slide = "x", at = [0.0, 0.0, 0.5] }\n'
            "bodies = [{ capsule = { from = [-1.0, 0.7, 0.0], to = [1.0, -0.7, 0.3], radius = 0.1 } }]\n"
        )
    text = ""
    for cue in range(cues):
        to = 4.0 if cue // rigs % 2 == 0 else -4.0
        text += (
            f'[[cue]]\nnumber = "{cue + 1}"\nname = "Over"\n[[cue.move]]\nrig = "cart{cue % rigs}"\n'
            f"to = {{ travel = {to} }}\ntime = 14.0\n"
        )
    (folder / "cues" / "all.toml").write_text(text)
    return folder


def on_a_terminal(bellwire, show, **environment):
    """What a check writes to a terminal on standard error."""
    ours, theirs = pty.openpty()
    environment = os.environ | {"TERM": "xterm"} | environment
    running = subprocess.Popen(
        [bellwire, "check", show, "--anew"], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=theirs, env=environment
    )
    os.close(theirs)
    said = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:
            break
        if not part:
            break
        said += part
    running.wait(timeout=60)
    os.close(ours)
    return said.decode()


def test_a_long_check_shows_a_bar_on_a_terminal_and_takes_it_away(bellwire, tmp_path):
    for cues in (240, 480, 960, 1920):
        show = long_show(tmp_path / f"long{cues}", rigs=16, cues=cues)
        said = on_a_terminal(bellwire, show, NO_COLOR="1")
        # Half a second passes before there is a bar; a fast machine needs a longer show for that.
        if "proving" in said:
            break
    assert re.search(r"proving .* of \d+ (cues|pairs|skips|stops)", said), said[:400]
    assert "\x1b[3" not in said, "no colour"
    # What is left on the screen begins after the bar was cleared.
    assert "proving" not in said.rsplit("\x1b[2K", 1)[-1]
    dumb = on_a_terminal(bellwire, show, TERM="dumb")
    assert "proving" not in dumb
    piped = subprocess.run([bellwire, "check", show, "--anew"], capture_output=True, text=True, timeout=60)
    assert "proving" not in piped.stderr


def test_a_short_check_shows_none(bellwire, cue_book):
    said = on_a_terminal(bellwire, cue_book[0])
    assert "proving" not in said and "clean" in said
