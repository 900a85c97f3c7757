"""A daemon in a process of its own, on ports that nobody else has."""

import json
import os
import re
import signal
import subprocess
import tempfile
import threading
import urllib.request

from road.waiting import until

ADDRESS = re.compile(r"(?:127\.0\.0\.1|0\.0\.0\.0):(\d+)")

ANY_PORT = ("--http", "127.0.0.1:0", "--osc", "127.0.0.1:0", "--stop-port", "127.0.0.1:0")


class Daemon:
    """On loopback, or on the address `at`, by which it is asked as well; with a token, if it wants one; with `environment`
    on top of ours."""

    def __init__(
        self, program, show, *options, listen="127.0.0.1", at="127.0.0.1", token=None, environment=None,
    ):
        self.program = program
        self.state = tempfile.TemporaryDirectory(prefix="bellwire-state-")
        self.at = at
        self.token = token
        ports = [word for road in ("--http", "--osc", "--stop-port") for word in (road, f"{listen}:0")]
        command = [program, "run", show, *ports, *options]
        self.process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            env=os.environ | {"XDG_STATE_HOME": self.state.name} | (environment or {}),
        )
        self.said = []
        self.complained = []
        self._read(self.process.stdout, self.said)
        self._read(self.process.stderr, self.complained)
        try:
            ports = until("the addresses on standard output", self._ports, seconds=20)
        except AssertionError:
            self.kill()
            raise AssertionError(f"no addresses; it said {self.said} and complained {self.complained}") from None
        self.http, self.osc, self.stop_port = ports

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.kill()

    def _read(self, pipe, lines):
        threading.Thread(target=lambda: lines.extend(pipe), daemon=True).start()

    def _ports(self):
        """The ports of HTTP, OSC and stop, once each has been printed; WebSocket shares that of HTTP."""
        assert self.process.poll() is None, "it ended"
        found = {}
        for line in list(self.said):
            port = ADDRESS.search(line)
            for road in ("stop", "osc", "http"):
                if port and road in line.lower():
                    found.setdefault(road, int(port[1]))
                    break
        return len(found) == 3 and (found["http"], found["osc"], found["stop"])

    @property
    def address(self):
        return f"{self.at}:{self.http}"

    def get(self, path):
        """The JSON document under a path of the HTTP port."""
        headers = {"Authorization": f"Bearer {self.token}"} if self.token else {}
        request = urllib.request.Request(f"http://{self.address}{path}", headers=headers)
        with urllib.request.urlopen(request, timeout=5) as response:
            return json.load(response)

    def status(self):
        return self.get("/status")

    def cue(self, number):
        """The state of a cue."""
        return self.status()["cues"][number]

    def position(self, rig, axis):
        return self.status()["rigs"][rig]["axes"][axis]["position"]

    def rejected(self):
        """How much input was turned away so far, over all counters."""
        return sum(self.status()["counters"].values())

    def resident(self):
        """Memory in use, MB."""
        with open(f"/proc/{self.process.pid}/status") as status:
            line = next(line for line in status if line.startswith("VmRSS"))
        return int(line.split()[1]) / 1024

    def until_cue(self, number, state, seconds=8.0):
        until(f"cue {number} {state}", lambda: self.cue(number) == state, seconds)

    def until_armed(self):
        until("armed", lambda: self.status()["armed"])

    def until_standstill(self):
        until("standstill", lambda: (self.status()["stopped"] or {}).get("standstill"))

    def command(self, *words):
        """The command-line client; gives exit code, standard output and standard error."""
        done = subprocess.run(
            [self.program, *words, "--to", self.address],
            stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=20, env=self._environment(),
        )
        return done.returncode, done.stdout, done.stderr

    @property
    def journal(self):
        """The file of this run's journal."""
        line = next(line for line in self.said if line.startswith("journal "))
        return line.removeprefix("journal ").split(" (and ")[0].strip()

    def _environment(self):
        return {**os.environ, **({"BELLWIRE_TOKEN": self.token} if self.token else {})}

    def terminate(self):
        """Asks it to end; gives its exit code."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout=20)

    def kill(self):
        self.process.kill()
        self.process.wait(timeout=10)

