"""Our times of planning against those of other people's planners, on the cases that `cargo bench --bench outside` wrote.

Ruckig (0.19, Berscheid and Kröger 2021, C++) tells the time of each calculation itself, without the call from Python. Toppra
(0.6, Pham and Pham 2018, its inner loop compiled) is timed from Python; it lays the spline through the marks and times it
without a limit on jerk. SciPy smooths a take by its own rule (generalised cross-validation), and knows no limits. Each case is
asked several times, and the least time counts, as with ours."""

import json
import logging
import os
import sys
import time
from collections import defaultdict

import numpy as np
import toppra
from ruckig import InputParameter, OutputParameter, Ruckig, Synchronization
from scipy.interpolate import make_smoothing_spline
from toppra.algorithm import TOPPRA
from toppra.constraint import JointAccelerationConstraint, JointVelocityConstraint

logging.disable(logging.CRITICAL)
RUNS = 5
GRID = 100


def ask_ruckig(case, together):
    """s of calculating, s that the motion lasts; or why not."""
    axes = case["axes"]
    parameter = InputParameter(len(axes))
    if not together:
        parameter.synchronization = Synchronization.No
    for end, key in (("current", "from"), ("target", "to")):
        for index, quantity in enumerate(("position", "velocity", "acceleration")):
            setattr(parameter, f"{end}_{quantity}", [axis[key][index] for axis in axes])
    for index, quantity in enumerate(("velocity", "acceleration", "jerk")):
        setattr(parameter, f"max_{quantity}", [axis["limits"][index] for axis in axes])
    took = []
    for _ in range(RUNS):
        output = OutputParameter(len(axes))
        result = Ruckig(len(axes), 0.002).update(parameter, output)
        if result.value < 0:
            return None
        took.append(output.calculation_duration * 1e-6)
    return min(took), output.trajectory.duration


def ask_toppra(case):
    axes = case["axes"]
    both = lambda which: np.array([[-axis["limits"][which], axis["limits"][which]] for axis in axes])
    marks = np.array([axis["at"] for axis in axes]).T
    even = np.linspace(0.0, 1.0, len(marks))
    took = []
    for _ in range(RUNS):
        begun = time.perf_counter()
        path = toppra.SplineInterpolator(even, marks, bc_type="clamped")
        limits = [JointVelocityConstraint(both(0)), JointAccelerationConstraint(both(1))]
        found = TOPPRA(limits, path, gridpoints=np.linspace(0.0, 1.0, GRID)).compute_trajectory(0, 0)
        took.append(time.perf_counter() - begun)
    return (min(took), found.duration) if found else None


def ask_scipy(case):
    times, values = np.array(case["times"]), np.array(case["values"])
    # Once, since it takes seconds.
    begun = time.perf_counter()
    make_smoothing_spline(times, values)
    return time.perf_counter() - begun, times[-1]


def asked(line):
    if line["name"].startswith("take"):
        return ask_scipy(line["case"])
    if line["name"].startswith("way"):
        return ask_toppra(line["case"])
    return ask_ruckig(line["case"], together=line["name"].startswith("move"))


def safely(lines):
    """Ruckig dies of a few valid cases: each kind is asked in a child, which goes on after a case that ended one."""
    if lines[0]["name"].startswith("take"):
        # SciPy's threads do not live on in a child, and it does not die.
        return [asked(line) for line in lines]
    answers = []
    while len(answers) < len(lines):
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.close(read)
                for line in lines[len(answers):]:
                    os.write(write, (json.dumps(asked(line)) + "\n").encode())
            finally:
                os._exit(0)
        os.close(write)
        with os.fdopen(read) as told:
            answers.extend(json.loads(line) for line in told)
        os.waitpid(child, 0)
        if len(answers) < len(lines):
            answers.append(None)
    return answers


def main(path):
    kinds = defaultdict(list)
    with open(path) as lines:
        for line in map(json.loads, lines):
            kinds[line["name"]].append(line)
    print("                      ours, µs          theirs, µs        ours / theirs")
    print("                    median     p99     median     p99     median    p99    our motion lasts")
    for name, lines in kinds.items():
        pairs = [(line, answer) for line, answer in zip(lines, safely(lines)) if answer]
        ours, theirs = np.array([line["seconds"] for line, _ in pairs]), np.array([answer[0] for _, answer in pairs])
        lasts = np.median([line["case"]["duration"] / answer[1] for line, answer in pairs])
        half_late = lambda values: np.percentile(values, [50, 99])
        figures = np.concatenate([half_late(1e6 * ours), half_late(1e6 * theirs), half_late(ours / theirs)])
        row = "{:9.1f} {:9.1f} {:9.1f} {:9.1f} {:9.3f} {:7.3f}".format(*figures)
        print(f"{name:<18}{row}     {lasts:.3f} of theirs; {len(lines) - len(pairs)} of {len(lines)} unanswered")


main(sys.argv[1] if len(sys.argv) > 1 else "target/motion-times.jsonl")
