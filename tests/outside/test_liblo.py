"""OSC by Debian's oscsend and oscdump."""

import socket
import subprocess

import pytest
from pythonosc.osc_message_builder import build_msg

from road.waiting import until


def oscsend(daemon, *words):
    subprocess.run(["oscsend", "127.0.0.1", str(daemon.osc), *words], check=True, timeout=10)


@pytest.fixture
def oscdump(daemon):
    """What a watcher hears, line by line. Before it listens, its port is put on the list of watchers."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as ask:
        ask.bind(("127.0.0.1", 0))
        port = ask.getsockname()[1]
        ask.sendto(build_msg("/bellwire/watch", [20, 60]).dgram, ("127.0.0.1", daemon.osc))
        ask.settimeout(5)
        while b"/bellwire/watching" not in ask.recv(4096):
            pass
    with subprocess.Popen(["oscdump", "-L", str(port)], stdout=subprocess.PIPE, text=True) as dump:
        yield dump.stdout
        dump.kill()


def heard(lines, wanted):
    seen = []
    for line in lines:
        seen.append(line)
        if wanted in line:
            return True
    raise AssertionError(f"{wanted} is not in {seen}")


@pytest.mark.timeout(30)
def test_a_cue_is_fired_and_watched(daemon, oscdump):
    oscsend(daemon, "/bellwire/standby", "s", "1")
    assert heard(oscdump, '/bellwire/standby sT "1"')
    oscsend(daemon, "/bellwire/go", "s", "1")
    assert heard(oscdump, '/bellwire/cue ss "1" "running"')
    assert heard(oscdump, '/bellwire/axis ssf "sloop" "travel"')
    assert heard(oscdump, '/bellwire/cue ss "1" "done"')


def test_a_bare_go_fires_the_standby_cue(daemon):
    oscsend(daemon, "/bellwire/standby", "s", "1")
    daemon.until_cue("1", "standby")
    oscsend(daemon, "/bellwire/go")
    daemon.until_cue("1", "running")


@pytest.mark.timeout(30)
def test_stop(daemon, oscdump):
    oscsend(daemon, "/bellwire/standby", "s", "1")
    oscsend(daemon, "/bellwire/go", "s", "1")
    until("the sloop moves", lambda: daemon.position("sloop", "travel") > 0.1)
    oscsend(daemon, "/bellwire/stop")
    assert heard(oscdump, "/bellwire/stopped T")
    assert heard(oscdump, "/bellwire/standstill T")
    daemon.until_standstill()


def test_an_input_as_a_switch(daemon):
    oscsend(daemon, "/bellwire/input", "sT", "hatch shut")
    until("true", lambda: daemon.status()["inputs"]["hatch shut"]["value"] is True)
    oscsend(daemon, "/bellwire/input", "si", "hatch shut", "0")
    until("false", lambda: daemon.status()["inputs"]["hatch shut"]["value"] is False)
