"""One thread of another process made to stand still, by ptrace(2)."""

import ctypes
import os
from contextlib import contextmanager
from pathlib import Path

# From linux/ptrace.h.
SEIZE, INTERRUPT, DETACH = 0x4206, 0x4207, 17
# From linux/wait.h: also for threads that are no process.
WAIT_ALL = 0x40000000

LIBC = ctypes.CDLL(None, use_errno=True)
LIBC.ptrace.argtypes = [ctypes.c_long, ctypes.c_long, ctypes.c_void_p, ctypes.c_void_p]


def thread_named(process, name):
    """The id of the thread that bears this name."""
    for task in Path(f"/proc/{process}/task").iterdir():
        if (task / "comm").read_text().strip() == name:
            return int(task.name)
    raise AssertionError(f"no thread is called {name}")


def _ptrace(request, thread):
    if LIBC.ptrace(request, thread, None, None) != 0:
        raise OSError(ctypes.get_errno(), f"ptrace {request:#x} of thread {thread}")


@contextmanager
def halted(process, name):
    """Within it, the thread of this name does nothing and all others go on."""
    thread = thread_named(process, name)
    _ptrace(SEIZE, thread)
    _ptrace(INTERRUPT, thread)
    os.waitpid(thread, WAIT_ALL)
    try:
        yield
    finally:
        _ptrace(DETACH, thread)
