"""The log on standard error: levels, JSON, the journal of a service manager, and a reader that reads nothing."""

import json
import os
import re
import subprocess
import time
import urllib.request

import pytest

from road.daemon import ANY_PORT, Daemon
from road.waiting import until

LINE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z (ERROR|WARN |INFO |DEBUG|TRACE) \S.*\n")


@pytest.fixture
def run(bellwire, bench):
    """Starts an armed daemon with options of its log."""
    running = []

    def start(*options, program=bellwire):
        running.append(Daemon(program, bench, "--arm", *options))
        running[-1].until_armed()
        return running[-1]

    yield start
    for daemon in running:
        daemon.kill()


def refused_then_stopped(daemon):
    """A refusal, a stop, the end; gives the lines of the log."""
    assert daemon.command("go", "12")[0] == 1
    assert daemon.command("stop")[0] == 0
    daemon.until_standstill()
    assert daemon.terminate() == 0
    time.sleep(0.2)
    return list(daemon.complained)


def test_a_line_of_text_has_its_time_its_level_and_a_sentence(run):
    lines = refused_then_stopped(run())
    assert lines and all(LINE.fullmatch(line) for line in lines), lines
    assert any(" WARN " in line and "stop" in line.lower() for line in lines), lines


def test_a_refusal_is_an_info_and_a_stop_a_warning_and_nothing_an_error(run):
    lines = [json.loads(line) for line in refused_then_stopped(run("--log-format", "json"))]
    refusal = next(line for line in lines if line.get("verb") == "go" or line.get("kind") == "refused")
    assert refusal["level"] == "info" and refusal["reason"] and refusal["verb"] == "go", refusal
    stop = next(line for line in lines if line.get("kind") == "stop")
    assert stop["level"] == "warn" and stop["message"], stop
    assert not [line for line in lines if line["level"] == "error"]
    assert all({"time", "level", "message"} <= line.keys() for line in lines)


def test_the_level_leaves_out_what_is_below_it(run):
    lines = [json.loads(line) for line in refused_then_stopped(run("--log-format", "json", "--log-level", "warn"))]
    assert lines and {line["level"] for line in lines} == {"warn"}


def test_debug_tells_of_every_request(run):
    lines = [json.loads(line) for line in refused_then_stopped(run("--log-format", "json", "--log-level", "debug"))]
    assert any(line["level"] == "debug" and line.get("verb") == "go" for line in lines)


def with_journal(bellwire, folder, stream):
    """The program, told that standard error is a stream of the journal."""
    script = folder / "under-a-journal"
    script.write_text(f'#!/bin/sh\nexport JOURNAL_STREAM={stream}\nexec "{bellwire.resolve()}" "$@"\n')
    script.chmod(0o755)
    return script


def test_under_a_journal_lines_begin_with_their_level_and_have_no_time(run, bellwire, tmp_path):
    # Source: sd-daemon(3), SD_WARNING is <4>, SD_INFO is <6>; $JOURNAL_STREAM in systemd.exec(5).
    stream = "$(stat -L -c %d:%i /proc/self/fd/2)"
    lines = refused_then_stopped(run(program=with_journal(bellwire, tmp_path, stream)))
    assert lines and all(re.match(r"<[3467]>[^\d\s]", line) for line in lines), lines
    assert any(line.startswith("<4>") for line in lines) and any(line.startswith("<6>") for line in lines)


def test_a_stream_that_is_not_ours_changes_nothing(run, bellwire, tmp_path):
    lines = refused_then_stopped(run(program=with_journal(bellwire, tmp_path, "1:2")))
    assert lines and all(LINE.fullmatch(line) for line in lines), lines


def test_nobody_waits_for_a_reader_that_reads_nothing(bellwire, bench, tmp_path):
    command = [bellwire, "run", bench, *ANY_PORT, "--arm", "--no-journal", "--log-level", "trace"]
    unread, written = os.pipe()
    process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=written, text=True)
    os.close(written)
    try:
        panel = next(line for line in process.stdout if line.startswith("panel ")).split()[1]
        slowest = 0.0
        # Each is several lines of the log: far more than the pipe and the queue hold together.
        for _ in range(4000):
            begun = time.monotonic()
            request = urllib.request.Request(f"{panel}stop", method="POST")
            urllib.request.urlopen(request, timeout=5).close()
            slowest = max(slowest, time.monotonic() - begun)
        status = json.load(urllib.request.urlopen(f"{panel}status", timeout=5))
        assert status["stopped"] and slowest < 4.0
    finally:
        process.kill()
        process.wait(timeout=10)
        os.close(unread)
