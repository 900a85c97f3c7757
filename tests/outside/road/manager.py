"""A service manager as far as a daemon sees one: the far end of sd_notify(3)."""

import socket
import time

from road.waiting import until


class Manager:
    def __init__(self, folder):
        self.path = str(folder / "notify")
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(self.path)
        self.socket.setblocking(False)
        self.told = []

    def environment(self, watchdog=None):
        """For the daemon, with a watchdog of this many seconds."""
        period = {} if watchdog is None else {"WATCHDOG_USEC": str(int(watchdog * 1e6))}
        return {"NOTIFY_SOCKET": self.path} | period

    def hear(self):
        """Everything told so far, one assignment an entry."""
        while True:
            try:
                self.told += self.socket.recv(4096).decode().splitlines()
            except BlockingIOError:
                return self.told

    def until(self, wanted, seconds=8.0):
        until(f"{wanted} told", lambda: any(line.startswith(wanted) for line in self.hear()), seconds)

    def count(self, wanted, seconds):
        """How often this is told from now on, within a time."""
        before = self.hear().count(wanted)
        time.sleep(seconds)
        return self.hear().count(wanted) - before

    def status(self):
        lines = [line for line in self.hear() if line.startswith("STATUS=")]
        return lines[-1].removeprefix("STATUS=") if lines else None
