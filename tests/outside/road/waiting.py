"""Waiting with an end."""

import time


def until(what, check, seconds=5.0, every=0.02):
    """Calls check() until it gives something true, and gives that back; fails after so many seconds."""
    end = time.monotonic() + seconds
    while True:
        found = check()
        if found:
            return found
        assert time.monotonic() < end, f"waited {seconds} s in vain for: {what}"
        time.sleep(every)
