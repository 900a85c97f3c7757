"""Fixtures: the program as it is built, a small show, a daemon of its own for each test."""

import os
import shutil
from pathlib import Path

import pytest

from road.daemon import Daemon

HERE = Path(__file__).parent
ROOT = HERE.parent.parent

# The files that take longest, in this order: begun first, none of them is left to run by itself at the end.
LONG = ["test_whole_run.py", "test_rates.py", "test_survey_live.py", "test_faults.py", "test_journal.py"]


def pytest_collection_modifyitems(items):
    """Long files first, the others as they come."""
    items.sort(key=lambda item: LONG.index(item.path.name) if item.path.name in LONG else len(LONG))


@pytest.fixture(scope="session", autouse=True)
def nothing_of_before(tmp_path_factory):
    """No test depends on what an earlier run proved, nor leaves anything in the user's cache."""
    os.environ["XDG_CACHE_HOME"] = str(tmp_path_factory.mktemp("cache"))


@pytest.fixture(scope="session")
def bellwire():
    """The program under test."""
    program = Path(os.environ.get("BELLWIRE_BIN", ROOT / "target" / "release" / "bellwire"))
    assert program.is_file(), f"{program} is missing: build it first (cargo build --release)"
    return program


@pytest.fixture
def bench(tmp_path):
    """A copy of the bench show, free to be changed."""
    return Path(shutil.copytree(HERE / "bench", tmp_path / "bench"))


@pytest.fixture(scope="session")
def demo_show():
    return ROOT / "demo-show"


@pytest.fixture(scope="session")
def cue_book():
    """The shows of the cue book, one a technique."""
    shows = sorted(path.parent for path in (ROOT / "cues").glob("*/show.toml"))
    assert shows, "the cue book is empty"
    return shows


@pytest.fixture
def daemon(bellwire, bench):
    """An armed daemon on the bench show."""
    with Daemon(bellwire, bench, "--arm") as running:
        running.until_armed()
        yield running
