"""check --against: what an edit changed, and what no journal shows rehearsed since."""

import json
import shutil
import subprocess

import pytest

from road.daemon import Daemon
from road.rpc import Rpc


def run(bellwire, *words):
    return subprocess.run([bellwire, *words], capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL)


class Edited:
    """A show and its copy that is edited, and an empty folder for journals."""

    def __init__(self, bellwire, show, folder):
        self.bellwire, self.old, self.new, self.runs = bellwire, folder / "old", folder / "new", folder / "runs"
        for copy in (self.old, self.new):
            shutil.copytree(show, copy)
        self.runs.mkdir()

    def edit(self, file, old, new):
        path = self.new / file
        text = path.read_text()
        assert old in text, f"{file} has no {old!r}"
        path.write_text(text.replace(old, new, 1))

    def add(self, file, text):
        (self.new / file).write_text(text)

    def document(self, code=0):
        done = run(self.bellwire, "check", self.new, "--against", self.old, "--journal", self.runs, "--json")
        assert done.returncode == code, f"{done.returncode}: {done.stdout[:1000]} {done.stderr}"
        return json.loads(done.stdout)

    def against(self, code=0):
        return self.document(code)["against"]

    def text(self, code=0):
        done = run(self.bellwire, "check", self.new, "--against", self.old, "--journal", self.runs)
        assert done.returncode == code, done.stderr
        ours = done.stdout.partition("what was edited")[2].splitlines()
        assert all(len(line) <= 80 or str(self.old.parent) in line for line in ours), done.stdout
        return done.stdout


@pytest.fixture
def lantern(bellwire, demo_show, tmp_path):
    return Edited(bellwire, demo_show, tmp_path)


@pytest.fixture
def bench_edit(bellwire, bench, tmp_path):
    return Edited(bellwire, bench, tmp_path / "edit")


def cues(against):
    return {cue["number"]: cue for cue in against["cues"]}


INSERT = """
[[cue]]
number = "12.5"
name = "Gull higher"
[[cue.move]]
rig = "gull"
to = { height = 5.0 }
time = 8.0
"""


def test_the_same_show_differs_in_nothing(lantern):
    against = lantern.against()
    assert against["compared"] and against["same"]
    assert against["edits"] == against["cues"] == against["new_findings"] == against["gone_findings"] == []
    assert "nothing differs: the files are the same" in lantern.text()
    lantern.edit("show.toml", "[show]", "# A remark.\n[show]")
    assert lantern.against()["same"]
    assert "nothing differs but what the show does not mean" in lantern.text()


def test_without_it_the_document_is_as_it_was(bellwire, lantern):
    document = lantern.document()
    del document["against"]
    assert document == json.loads(run(bellwire, "check", lantern.new, "--json").stdout)


def test_a_mark_that_two_cues_use_is_followed_to_every_cue_that_feels_it(lantern):
    lantern.edit("rigs/heron.toml", "over-quay = { swing = 0.0, boom = 20.0 }", "over-quay = { swing = 4.0, boom = 20.0 }")
    against = lantern.against()
    [edit] = against["edits"]
    assert (edit["what"], edit["rig"], edit["name"], edit["used_in"]) == ("mark", "heron", "over-quay", ["9", "20"])
    assert "swing 0° becomes 4°" in edit["text"]
    differ = cues(against)
    # 9 and 20 go there, 12 and 21 leave from there; it stands there while 10 and 11 run.
    assert differ["9"]["end"] == {"heron.swing": [0.0, 4.0]} and differ["9"]["start"] == {}
    assert differ["12"]["start"] == {"heron.swing": [0.0, 4.0]} and differ["12"]["end"] == {}
    assert differ["10"]["start"] == differ["10"]["end"] == {"heron.swing": [0.0, 4.0]}
    assert [number for number, cue in differ.items() if cue["unproven"]] == ["9", "12", "20", "21"]
    assert all(cue["unproven"] in ([], ["path"]) for cue in differ.values())
    assert all(cue["because"] == [edit["text"]] for cue in differ.values())
    text = lantern.text()
    assert "mark over-quay of heron moved: swing 0° becomes 4° (used in cues 9 and" in text
    assert "9       ends at heron.swing 4.0° (was 0.0°)" in text
    assert "heron.swing stands at 4.0° (was 0.0°) in cues 10 and 11" in text
    assert "cues 9, 12, 20 and 21 are not what they were" in text


def test_an_inserted_cue_changes_those_after_it_and_renumbers_nothing(lantern):
    lantern.add("cues/more.toml", INSERT)
    against = lantern.against()
    assert (against["added"], against["removed"], against["renumbered"]) == (["12.5"], [], [])
    assert [edit["text"] for edit in against["edits"]] == ["cue 12.5 (Gull higher) is new"]
    differ = cues(against)
    assert differ["18"]["start"] == {"gull.height": [7.0, 5.0]}, "the next cue of the gull"
    assert [rest["on"] for rest in differ["18"]["rests_on"]] == ["12.5"]
    assert [number for number, cue in differ.items() if cue["unproven"]] == ["18"]
    assert differ["18"]["because"] == ["cue 12.5 (Gull higher) is new"]
    [window] = [window for window in differ["13"]["clear_spans"] if window["after"] == "12.5"]
    assert window["clear"][0] is None and window["clear"][1]
    assert "18      starts from gull.height 5.0 m (was 7.0 m)" in lantern.text()


def test_a_new_survey_that_leaves_a_mark_out_says_which_cues_go_there(lantern):
    lantern.edit("rigs/heron.toml", "travel = [-75.0, 10.0]", "travel = [-75.0, -5.0]")
    document = lantern.document(code=1)
    [finding] = document["findings"]
    assert (finding["code"], finding["cues"]) == ("travel", ["9", "20"])
    assert document["against"]["compared"] is False and "new" in document["against"]["why"]
    done = run(lantern.bellwire, "check", lantern.new, "--against", lantern.old)
    assert done.returncode == 1 and "the mark is used in cues 9 and 20" in done.stderr


def test_a_new_survey_has_to_be_rehearsed_in_every_cue_that_moves_the_rig(lantern):
    lantern.edit("rigs/gull.toml", "travel = [", "travel = [ ")
    assert lantern.against()["same"], "a space is no survey"
    text = (lantern.new / "rigs/gull.toml").read_text()
    low, high = text.split("travel = [ ")[1].split("]")[0].split(", ")
    lantern.edit("rigs/gull.toml", f"[ {low}, {high}]", f"[{float(low) + 0.01}, {high}]")
    against = lantern.against()
    [edit] = against["edits"]
    assert (edit["what"], edit["rig"], edit["name"]) == ("axis", "gull", "traverse")
    differ = cues(against)
    assert set(edit["used_in"]) < set(differ), "those that move the other axis of the rig as well"
    moved = {cue["number"] for cue in lantern.document()["cues"] if cue["start"] != cue["end"]}
    gull = [cue["number"] for cue in lantern.document()["cues"] if cue["start"]["gull.height"] != cue["end"]["gull.height"]]
    assert set(differ) == set(edit["used_in"]) | set(gull) <= moved
    for cue in differ.values():
        assert cue["unproven"] == ["rigs"] and cue["unproven_because"] == [edit["text"]] and cue["because"] == []
        assert cue["start"] == cue["end"] == {} and cue["duration"] is cue["least_clearance"] is None
    assert "nothing: every pose, time, clearance and window is as it was" in lantern.text()


def test_limits_change_times(bench_edit):
    bench_edit.edit("rigs/sloop.toml", "speed = 1.0", "speed = 0.7")
    bench_edit.edit("cues/act.toml", 'to = { travel = 1.5 }\n  time = 3.0', "to = { travel = 1.5 }")
    shutil.copy(bench_edit.new / "cues/act.toml", bench_edit.old / "cues/act.toml")
    differ = cues(bench_edit.against())
    was, now = differ["1"]["duration"]
    assert was < now and differ["1"]["stop_time"] and differ["2"]["duration"] is None
    assert "sloop.travel: its limits changed: speed 1 becomes 0.7" in differ["1"]["because"][0]


def test_a_larger_margin_breaks_what_was_clear(lantern):
    lantern.edit("show.toml", "margin = 0.30", "margin = 0.60")
    against = lantern.against(code=1)
    assert [edit["text"] for edit in against["edits"]] == ["the margin of 0.3 m becomes 0.6 m"]
    new = {finding["code"] for finding in against["new_findings"]}
    assert "clearance" in new and against["gone_findings"] == []
    text = lantern.text(code=1)
    assert text.index("what breaks") < text.index("error[clearance]") < text.index("what was edited")
    # The other way round they are settled.
    lantern.old, lantern.new = lantern.new, lantern.old
    back = lantern.against()
    assert back["new_findings"] == [] and {finding["code"] for finding in back["gone_findings"]} == new
    assert "settled: " in lantern.text()


def test_a_finding_that_only_stands_on_another_line_is_not_new(lantern):
    for show in (lantern.old, lantern.new):
        path = show / "show.toml"
        path.write_text(path.read_text().replace("margin = 0.30", "margin = 0.60"))
    lantern.edit("cues/act1.toml", "# Act one", "# One\n# more\n# Act one")
    against = lantern.against(code=1)
    assert against["same"] and against["new_findings"] == []


def test_a_window_that_changed_is_told_before_and_after(lantern):
    lantern.edit("cues/inserts.toml", "past = 9.0", "past = 10.0")
    against = lantern.against()
    [edit] = against["edits"]
    assert "now needs cue 21 past 10" in edit["text"] and "cue 21 past 9" in edit["text"]
    differ = cues(against)["21.5"]
    [window] = differ["clear_spans"]
    [[was], [now]] = window["clear"]
    assert window["after"] == "21" and (was[0], now[0]) == (9.0, 10.0) and was[1] == now[1]
    assert differ["unproven"] == ["conditions"] and differ["because"] == [edit["text"]]
    assert "while 21 runs it may be fired 10.0 to 14.0 s into it (was 9.0 to 14.0)" in lantern.text()


def test_a_removed_cue_leaves_the_next_elsewhere(bench_edit):
    for show in (bench_edit.old, bench_edit.new):
        path = show / "cues/act.toml"
        path.write_text(path.read_text().replace("to = { travel = 2.0 }\n  time = 3.0", "to = { travel = 2.0 }\n  time = 6.0"))
    bench_edit.edit("cues/act.toml", 'number = "1"\n', 'number = "0.5"\n')
    assert bench_edit.against()["renumbered"] == [["1", "0.5"]]
    text = (bench_edit.new / "cues/act.toml").read_text()
    bench_edit.add("cues/act.toml", text[text.index('[[cue]]\nnumber = "2"'):])
    against = bench_edit.against()
    assert (against["removed"], against["added"], against["renumbered"]) == (["1"], [], [])
    differ = cues(against)["12"]
    assert differ["start"] == {"sloop.travel": [1.5, 0.0]}
    assert differ["because"] == ["cue 1 (Sloop out) is gone"]
    assert [rest["on"] for rest in differ["rests_no_more_on"]] == ["1"]


def test_an_old_show_that_does_not_read_is_told_with_its_findings(bench_edit):
    bench_edit.old, bench_edit.new = bench_edit.new, bench_edit.old
    path = bench_edit.old / "rigs/sloop.toml"
    path.write_text(path.read_text().replace("speed = 1.0", "sped = 1.0"))
    document = bench_edit.document(code=1)
    assert len(document["cues"]) == 4, "the check itself is whole"
    against = document["against"]
    assert against["compared"] is False and str(bench_edit.old) in against["why"]
    assert "unknown-key" in {finding["code"] for finding in against["findings"]}
    done = run(bench_edit.bellwire, "check", bench_edit.new, "--against", bench_edit.old)
    assert done.returncode == 1 and "sped" in done.stderr and "mend these" in done.stderr
    gone = run(bench_edit.bellwire, "check", bench_edit.new, "--against", bench_edit.old / "nowhere")
    assert gone.returncode == 1 and "nowhere" in gone.stderr


def test_a_journal_needs_something_to_be_held_against(bellwire, bench):
    done = run(bellwire, "check", bench, "--journal", bench)
    assert done.returncode == 2 and "--against" in done.stderr


def fire(daemon, rpc, number, last=None):
    rpc.call("standby", cues=[number])
    rpc.call("go", cue=number)
    daemon.until_cue(last or number, "done", 20)


def test_journals_tell_exactly_what_is_not_rehearsed_as_it_is(bellwire, bench_edit):
    with Daemon(bellwire, bench_edit.old, "--arm", "--journal", bench_edit.runs) as daemon, Rpc(daemon.address) as rpc:
        daemon.until_armed()
        fire(daemon, rpc, "1")
        rpc.call("master", value=0.5)
        fire(daemon, rpc, "2")
        rpc.call("master", value=1.0)
        daemon.until_cue("2.5", "done", 20)
        assert daemon.terminate() == 0
    told = {cue["number"]: cue for cue in bench_edit.against()["rehearsed"]["cues"]}
    assert [number for number, cue in told.items() if cue["rehearsed"]] == ["1", "2", "2.5"]
    assert (told["1"]["simulated"], told["1"]["speed"], told["1"]["interrupted"]) == (["sloop"], 1.0, False)
    assert told["2"]["speed"] == 0.5 and told["1"]["journal"].endswith(".journal")
    assert not any(cue["whole"] for cue in told.values()), "no real rig moved"
    assert told["12"]["before"] is None

    bench_edit.edit("cues/act.toml", "to = { height = 3.5 }", "to = { height = 3.4 }")
    told = {cue["number"]: cue for cue in bench_edit.against()["rehearsed"]["cues"]}
    assert [number for number, cue in told.items() if cue["rehearsed"]] == ["1", "2.5"]
    assert told["2"]["before"]["changed"] == ["path"] and told["2"]["before"]["time"]
    text = bench_edit.text()
    assert "cue 2: last run on " in text and "; the way changed since" in text
    assert "cue 12: never run to the end" in text
    assert "cues 1 and 2.5: only on simulated rigs (machines)\n" in text


def test_a_broken_journal_is_told_and_the_check_goes_on(bellwire, bench_edit):
    with Daemon(bellwire, bench_edit.old, "--arm", "--journal", bench_edit.runs) as daemon, Rpc(daemon.address) as rpc:
        daemon.until_armed()
        fire(daemon, rpc, "1")
        assert daemon.terminate() == 0
        journal = daemon.journal
    (bench_edit.runs / "foreign.journal").write_text("a diary\n")
    (bench_edit.runs / "letter.txt").write_text("not looked at")
    rehearsed = bench_edit.against()["rehearsed"]
    [trouble] = rehearsed["troubles"]
    assert "foreign.journal is not counted: it is no journal of this version" in trouble
    assert [one["cues"] for one in rehearsed["journals"]] == [1]

    with open(journal, "r+b") as file:
        octets = bytearray(file.read())
        at = len(octets) // 2
        octets[at] ^= 1
        file.seek(0)
        file.write(octets)
    rehearsed = bench_edit.against()["rehearsed"]
    assert any("missing or damaged" in trouble for trouble in rehearsed["troubles"])
    assert not any(cue["rehearsed"] for cue in rehearsed["cues"]), "what ran there is not known"
    assert "missing or damaged" in " ".join(bench_edit.text().split())


def test_without_a_journal_it_says_how_to_give_one(bench_edit):
    text = " ".join(bench_edit.text().split())
    assert "no journal of this show is in" in text and "--journal DIR" in text
    bench_edit.runs = bench_edit.runs / "nowhere"
    assert "nowhere cannot be read" in " ".join(bench_edit.text().split())
