"""Our ways through marks against PyPI toppra, on the cases that the Rust tests wrote down.

Toppra (Pham and Pham, "A new approach to time-optimal path parameterization based on reachability analysis", 2018) runs
through the same path in the least time under the limits on speed and acceleration alone. Without a limit on jerk that is
a lower bound of ours."""

import json
import logging
import os
from pathlib import Path

import numpy as np
import pytest
import toppra
from toppra.algorithm import TOPPRA
from toppra.constraint import JointAccelerationConstraint, JointVelocityConstraint

logging.disable(logging.CRITICAL)

# Points of the path at which toppra looks. It loses where they are far apart, so that its time is a bound only when they
# are many. With 400 it seems slower than we are on some paths.
GRID = 1000
# Of a few paths toppra gives no time, on one grid or another.
GIVEN_UP = 5


def both_ways(axes, limit):
    return np.array([[-axis[limit], axis[limit]] for axis in axes])


def least_time(case):
    """s, without a limit on jerk; not a number where toppra gives up."""
    axes, times = case["axes"], np.array(case["times"])
    path = toppra.SplineInterpolator(times / times[-1], np.array([axis["path"] for axis in axes]).T, bc_type="clamped")
    limits = [
        JointVelocityConstraint(both_ways(axes, "speed")),
        JointAccelerationConstraint(both_ways(axes, "acceleration")),
    ]
    found = TOPPRA(limits, path, gridpoints=np.linspace(0, 1, GRID)).compute_trajectory(0, 0)
    return found.duration if found else np.nan


@pytest.fixture(scope="module")
def ratios():
    path = os.environ.get("BELLWIRE_MOTION_CASES")
    assert path, "BELLWIRE_MOTION_CASES must name the file that the Rust tests wrote"
    cases = [json.loads(line) for line in Path(path).read_text().splitlines()]
    ways = [case for case in cases if case["kind"] == "through"]
    assert len(ways) >= 200
    ratios = np.array([case["duration"] / least_time(case) for case in ways])
    assert np.isnan(ratios).sum() <= GIVEN_UP
    ratios = ratios[~np.isnan(ratios)]
    print(f"\n{len(ratios)} ways: median {np.median(ratios):.3f}, worst {ratios.max():.3f} of toppra's time")
    return ratios


def test_no_way_is_faster_than_without_a_limit_on_jerk(ratios):
    assert ratios.min() >= 1


def test_what_the_limit_on_jerk_costs(ratios):
    """As far as that goes here: jerk that is built up within a tenth of a second to a second."""
    assert np.median(ratios) < 1.2
    assert ratios.max() < 2.0
