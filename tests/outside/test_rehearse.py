"""rehearse, from outside: its document, its table, its page, its exit codes."""

import json
import re
import signal
import subprocess
import time
from html.parser import HTMLParser

import pytest

KEYS = {
    "show", "hash", "clean", "ending", "why", "master", "seed", "in_hand", "act", "length", "ticks", "fingerprint",
    "cues", "axes", "events", "findings", "not_proved", "cautions",
}  # fmt: skip


def rehearse(bellwire, show, *words):
    command = [bellwire, "rehearse", show, *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, stdin=subprocess.DEVNULL)


def document(done):
    return json.loads(done.stdout)


def test_the_demo_show_and_the_cue_book_rehearse_clean(bellwire, demo_show, cue_book):
    for show in [demo_show, *cue_book]:
        done = rehearse(bellwire, show, "--json")
        assert (done.returncode, done.stderr) == (0, ""), f"{show}: {done.stdout}"
        told = document(done)
        assert told.keys() == KEYS
        assert told["clean"] and told["ending"] == "complete" and told["why"] is None
        for cue in told["cues"]:
            assert cue["outcome"] == "done" and cue["reasons"] == []
            assert cue["taken"] == pytest.approx(cue["planned"], abs=0.05)
            for peaks in cue["axes"].values():
                for peak in peaks["running"].values():
                    assert peak["value"] <= peak["limit"] * (1 + 1e-6)
        assert any("people" in line for line in told["not_proved"])
        assert any("stop" in line for line in told["cautions"])


@pytest.mark.parametrize("spoil", [b"[[axis", b"\xff\xfe", b"", b"kind = 4"])
def test_a_show_with_errors_gives_one_document_and_is_not_rehearsed(bellwire, bench, spoil):
    (bench / "rigs" / "sloop.toml").write_bytes(spoil)
    done = rehearse(bellwire, bench, "--json")
    assert (done.returncode, done.stderr) == (1, "")
    told = document(done)
    assert told.keys() == KEYS
    assert told["ending"] == "errors" and told["cues"] == [] and told["findings"] and told["not_proved"]
    plain = rehearse(bellwire, bench)
    assert (plain.returncode, plain.stdout) == (1, "") and "not rehearsed" in plain.stderr


def test_a_silent_input_refuses_its_cue_and_says_why(bellwire, demo_show):
    words = ("--no-gaps", "--without", "cellar gate closed")
    done = rehearse(bellwire, demo_show, *words)
    assert done.returncode == 1
    assert "REFUSED" in done.stdout and "cellar gate closed" in done.stdout
    assert "NOT clean" in done.stderr
    told = document(rehearse(bellwire, demo_show, "--json", *words))
    refused = next(cue for cue in told["cues"] if cue["number"] == "5")
    assert refused["outcome"] == "refused" and "cellar gate closed" in " ".join(refused["reasons"])
    assert next(cue for cue in told["cues"] if cue["number"] == "6")["outcome"] == "no-leader"


def test_a_fault_by_file_ends_with_exit_code_1(bellwire, demo_show, tmp_path):
    faults = tmp_path / "faults.toml"
    faults.write_text('[[fault]]\nrig = "gull"\nkind = "link-lost"\ncue = "2"\npast = 1.0\n')
    done = rehearse(bellwire, demo_show, "--json", "--faults", faults)
    assert (done.returncode, done.stderr) == (1, "")
    told = document(done)
    assert told["ending"] == "stopped" and "gull" in told["why"]
    faults.write_text('[[fault]]\nrig = "nobody"\nkind = "link-lost"\nat = 1.0\n')
    assert rehearse(bellwire, demo_show, "--faults", faults).returncode == 1


def test_a_seed_tells_the_same_story_twice(bellwire, cue_book):
    show = next(show for show in cue_book if show.name == "follow")
    told = [document(rehearse(bellwire, show, "--json", "--seed", seed)) for seed in ("5", "5", "6")]
    assert told[0] == told[1]
    assert told[0]["fingerprint"] != told[2]["fingerprint"]


def test_a_lower_master_says_what_it_does_not_prove(bellwire, cue_book):
    done = rehearse(bellwire, cue_book[0], "--master", "0.5")
    assert done.returncode == 0 and "dynamic limits not proved" in done.stdout


@pytest.mark.parametrize(
    "words",
    [
        ("--master", "0"), ("--master", "1.5"), ("--master", "nan"), ("--from", "99"), ("--from", "5", "--to", "3"),
        ("--without", "no such input"), ("--seed", "-1"),
    ],
)  # fmt: skip
def test_a_wrong_command_line_exits_2(bellwire, demo_show, words):
    done = rehearse(bellwire, demo_show, *words)
    assert (done.returncode, done.stdout) == (2, "") and done.stderr


def test_what_people_read_fits_a_narrow_terminal(bellwire, demo_show, cue_book):
    for show, words in [(demo_show, ("--seed", "3")), *((show, ()) for show in cue_book)]:
        done = rehearse(bellwire, show, *words)
        assert done.stdout and max(map(len, done.stdout.splitlines())) <= 80, done.stdout
        assert "does not prove" in done.stdout and "caution" in done.stdout
        assert "\x1b" not in done.stdout + done.stderr and "\r" not in done.stderr, "a bar without a terminal"


class Page(HTMLParser):
    """What a page would fetch, and what it says."""

    def __init__(self):
        super().__init__()
        self.fetched, self.scripts, self.open, self.text = [], 0, [], ""

    def handle_starttag(self, tag, attributes):
        self.scripts += tag == "script" or any(name.startswith("on") for name, _ in attributes)
        self.fetched += [value for name, value in attributes if name in {"src", "href", "srcset", "data", "action"}]
        if tag not in {"meta", "link", "img", "br"}:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, f"</{tag}>"

    def handle_data(self, data):
        self.text += data


def test_the_report_is_one_page_that_fetches_nothing(bellwire, demo_show, tmp_path):
    path = tmp_path / "report.html"
    done = rehearse(bellwire, demo_show, "--report", path, "--no-gaps", "--without", "cellar gate closed")
    assert done.returncode == 1
    text = path.read_text()
    page = Page()
    page.feed(text)
    assert not page.open and not page.fetched and not page.scripts
    assert "url(" not in text and "@import" not in text and "http:" not in text and "https:" not in text
    for words in ["Salt Lantern", "NOT clean", "cellar gate closed", "Not proved", "operational stop", "House to dark"]:
        assert words in page.text, words
    assert len(re.findall("<svg", text)) >= 10


def test_a_report_that_cannot_be_written_is_an_error(bellwire, cue_book, tmp_path):
    done = rehearse(bellwire, cue_book[0], "--report", tmp_path / "nowhere" / "report.html")
    assert done.returncode == 1 and "could not be written" in done.stderr


def test_in_real_time_it_takes_its_time_and_ends_when_asked(bellwire, cue_book):
    command = [bellwire, "rehearse", cue_book[0], "--real-time", "--json"]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    time.sleep(1.5)
    assert running.poll() is None
    running.send_signal(signal.SIGINT)
    output, messages = running.communicate(timeout=10)
    assert (running.returncode, messages) == (1, "")
    told = json.loads(output)
    assert told["ending"] == "interrupted" and 0.3 < told["length"] < 5.0
