"""Our motion against PyPI ruckig, on the cases that the Rust tests wrote down.

Each line of the file is one case: a straight move from rest to rest, with its axes in proportion, or a change of
speed. Limits are the same both ways."""

import json
import os
from pathlib import Path

import pytest
from ruckig import ControlInterface, InputParameter, Result, Ruckig, Synchronization, Trajectory

# s. Ruckig itself promises 1e-8 on durations; cases of long durations are compared by their share.
TIME = 1e-7
RELATIVE = 1e-7


@pytest.fixture(scope="session")
def cases():
    path = os.environ.get("BELLWIRE_MOTION_CASES")
    assert path, "BELLWIRE_MOTION_CASES must name the file that the Rust tests wrote"
    return [json.loads(line) for line in Path(path).read_text().splitlines()]


def calculate(parameter):
    trajectory = Trajectory(parameter.degrees_of_freedom)
    result = Ruckig(parameter.degrees_of_freedom).calculate(parameter, trajectory)
    return trajectory if result in (Result.Working, Result.Finished) else None


def fastest_move(axes):
    """Ruckig's time for a straight line. Its limits are those of the path parameter from 0 to 1, as the contract
    has them: the least over the axes of each limit by the way."""
    axes = [axis for axis in axes if axis["delta"] != 0.0]
    parameter = InputParameter(1)
    parameter.current_position = [0.0]
    parameter.target_position = [1.0]
    for ours, theirs in (("speed", "velocity"), ("acceleration", "acceleration"), ("jerk", "jerk")):
        setattr(parameter, f"max_{theirs}", [min(axis[ours] / abs(axis["delta"]) for axis in axes)])
    return calculate(parameter)


def in_phase(axes):
    """Ruckig's time with all axes in phase: never longer than a straight line under the least of each limit, and
    the same where one axis has the least of all three."""
    parameter = InputParameter(len(axes))
    parameter.synchronization = Synchronization.Phase
    parameter.current_position = [0.0] * len(axes)
    parameter.target_position = [axis["delta"] for axis in axes]
    parameter.max_velocity = [axis["speed"] for axis in axes]
    parameter.max_acceleration = [axis["acceleration"] for axis in axes]
    parameter.max_jerk = [axis["jerk"] for axis in axes]
    return calculate(parameter)


def one_axis_has_all_the_least(axes):
    least = lambda limit: min(axes, key=lambda axis: axis[limit] / max(abs(axis["delta"]), 1e-300))
    return least("speed") is least("acceleration") is least("jerk")


def test_straight_moves(cases):
    moves = [case for case in cases if case["kind"] == "move"]
    assert len(moves) >= 1000
    unanswered, phased = 0, 0
    for case in moves:
        theirs = fastest_move(case["axes"])
        if theirs is None:
            unanswered += 1
            continue
        assert case["duration"] == pytest.approx(theirs.duration, rel=RELATIVE, abs=TIME), case
        if len(case["axes"]) > 1 and (together := in_phase(case["axes"])):
            assert case["duration"] >= together.duration - TIME - RELATIVE * together.duration, case
            if one_axis_has_all_the_least(case["axes"]):
                assert case["duration"] == pytest.approx(together.duration, rel=RELATIVE, abs=TIME), case
                phased += 1
    # Ruckig fails on a few valid cases in a hundred thousand.
    assert unanswered <= len(moves) // 1000
    assert phased > 0


def test_changes_of_speed(cases):
    changes = [case for case in cases if case["kind"] == "speed-change"]
    assert len(changes) >= 1000
    unanswered = 0
    for case in changes:
        parameter = InputParameter(1)
        parameter.control_interface = ControlInterface.Velocity
        parameter.current_position = [0.0]
        parameter.current_velocity = [case["v0"]]
        parameter.current_acceleration = [case["a0"]]
        parameter.target_velocity = [case["v1"]]
        parameter.target_acceleration = [0.0]
        parameter.max_acceleration = [case["acceleration"]]
        parameter.max_jerk = [case["jerk"]]
        theirs = calculate(parameter)
        if theirs is None:
            unanswered += 1
            continue
        assert case["time"] == pytest.approx(theirs.duration, rel=RELATIVE, abs=TIME), case
        way = theirs.at_time(theirs.duration)[0][0]
        assert case["distance"] == pytest.approx(way, rel=1e-6, abs=1e-6), case
    assert unanswered <= len(changes) // 1000
