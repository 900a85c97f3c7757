"""Our changes of rate against the least time that there is, on the cases that the Rust tests wrote down: stops, returns and resumes
of one to three moves, some of them through marks.

`rates` finds that time from both sides: a bound that no change can beat, and a change that reaches it nearly (the sources are named
there). `BELLWIRE_RATES=300 cargo test --test rate_cases` writes 2,100 cases instead of 84."""

import json
import os
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from rates.judge import Judged
from ruckig import ControlInterface, InputParameter, Ruckig, Trajectory

# What is promised: no more than a twentieth longer, and a fiftieth of a second.
LONGER, BESIDES = 1.05, 0.02
# What is not: so many of 300 cases of a kind, and at worst so many times the bound. Where several moves near their limits leave but a
# narrow way between them, the drive gets into what it cannot leave again, and the search waits, or goes round by a rest at a lower
# rate. Six of the seven stops from full rate are along curves through marks, most of them where an axis turns round: there r'' does
# nothing to it and its jerk binds r' itself, the plan fails, and the plain search is what is left. The bound is not tight there
# either. A resume at full rate nears it in several plans.
OF_300 = {
    "stop": (7, 2.95),
    "stop-slow": (1, 1.7),
    "stop-resume": (3, 1.2),
    "return": (4, 1.35),
    "resume-slow": (2, 1.35),
    "resume": (1, 1.15),
}
# What a limit may be broken by is rounding.
ROUNDING = 1e-9
# Every so many cases also the change itself is found, which is slow.
ALSO_FOUND = 3


def over(case, ours):
    return ours > LONGER * case.lower + BESIDES


@pytest.fixture(scope="module")
def kinds():
    path = os.environ.get("BELLWIRE_RATE_CASES")
    assert path, "BELLWIRE_RATE_CASES must name the file that the Rust tests wrote"
    kinds = defaultdict(list)
    for line in Path(path).read_text().splitlines():
        written = json.loads(line)
        case = Judged(written, written["seed"] % ALSO_FOUND == 0)
        case.written = written
        kinds[case.kind].append(case)
    assert len(kinds) == 7 and min(map(len, kinds.values())) >= 10
    return kinds


@pytest.mark.timeout(0)
def test_no_limit_is_broken(kinds):
    for cases in kinds.values():
        for case in cases:
            assert case.breach <= ROUNDING, (case.kind, case.seed)


def test_changes_take_hardly_longer_than_they_must(kinds):
    for kind, cases in kinds.items():
        ratios = np.array([case.ours / case.lower for case in cases])
        longer = [(case.seed, case.ours, case.lower) for case in cases if over(case, case.ours)]
        told = [f"{part} {np.percentile(ratios, part):.3f}" for part in (50, 95, 99, 100)]
        print(f"{kind:<12} {len(cases)} cases, ours by the least that is possible: {', '.join(told)}; too long: {longer}")
        assert np.median(ratios) < 1.01, kind
        some, worst = OF_300.get(kind, (0, LONGER))
        assert len(longer) <= round(some * len(cases) / 300), (kind, longer)
        assert all(ours < worst * lower + BESIDES for _, ours, lower in longer), (kind, longer)


def test_the_bound_is_one_and_nearly_reached(kinds):
    """No change beats it, neither ours nor what is found; and mostly what is found is as good."""
    for kind, cases in kinds.items():
        assert all(case.ours >= 0.995 * case.lower for case in cases), kind
        found = np.array([case.upper / case.lower for case in cases if case.upper])
        breach = [case.upper_breach for case in cases if case.upper]
        print(f"{kind:<12} {len(found)} found, by their bounds: 50 {np.median(found):.4f}, 95 {np.percentile(found, 95):.4f}")
        assert len(found) >= len(cases) / ALSO_FOUND / 2 and found.min() >= 0.995, kind
        assert np.median(found) < 1.01 and np.percentile(found, 90) < 1.05, kind
        # They keep the limits on the average of each piece; at worst by so much not within it.
        assert np.median(breach) < 0.2, kind


def alone(case):
    """s, of the stop of one straight move: a change of its speed, by PyPI ruckig."""
    (course,) = case.written["courses"]
    speed, pull = next(
        (begin[2] + gone * (begin[3] + gone * begin[4] / 2), begin[3] + gone * begin[4])
        for begin, end in zip(course["knots"], course["knots"][1:])
        for gone in [course["time"] - begin[0]]
        if begin[0] <= course["time"] < end[0]
    )
    rate, drift = case.written["rate"], case.written["drift"]
    parameter, found = InputParameter(1), Trajectory(1)
    parameter.control_interface = ControlInterface.Velocity
    parameter.current_velocity = [speed * rate]
    parameter.current_acceleration = [pull * rate**2 + speed * drift]
    parameter.max_velocity, parameter.max_acceleration, parameter.max_jerk = ([limit] for limit in course["limits"])
    assert Ruckig(1).calculate(parameter, found).value >= 0
    return found.duration


def test_the_bound_of_a_move_alone_is_what_others_find(kinds):
    judged = []
    for kind in ("stop", "stop-slow", "stop-return", "stop-resume"):
        for case in kinds[kind]:
            if len(case.written["courses"]) == 1 and case.ours > BESIDES and case.lower < case.ours:
                judged.append(case.lower / alone(case))
    print(f"{len(judged)} stops of one move, the bound by the least: {min(judged):.4f} to {max(judged):.4f}")
    assert len(judged) >= 5 and min(judged) > 0.99 and max(judged) < 1.002


def test_a_stop_that_takes_seven_hundredths_longer_is_seen(kinds):
    """Where it lasts long enough that the fiftieth of a second is less."""
    cases = [case for kind in ("stop", "stop-slow", "stop-return", "stop-resume") for case in kinds[kind]]
    seen = [over(case, 1.07 * case.ours) for case in cases if case.ours > 1.2]
    assert len(seen) >= 5 and all(seen)
