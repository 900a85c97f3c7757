"""Our passages between moving states against PyPI ruckig, on the cases that the Rust tests wrote down.

Each line of the file is one case: its kind, both ends (position, speed, acceleration), the bounds (speed, acceleration,
jerk), our duration, and our pieces as time and jerk. Ours are integrated here once more; then ruckig is asked."""

import os
from collections import Counter, defaultdict
from pathlib import Path

import pytest
from ruckig import InputParameter, Ruckig, RuckigError, Trajectory

# s; ruckig itself promises 1e-8. Long durations are compared by their share.
TIME = 1e-7
RELATIVE = 1e-7
# A limit, an end: what rounding may be of it.
ROUNDING = 1e-9


class Case:
    def __init__(self, line):
        self.line = line
        self.kind, *numbers = line.split()
        numbers = [float(number) for number in numbers]
        self.begin, self.end = numbers[0:3], numbers[3:6]
        self.speed, self.acceleration, self.jerk = numbers[6:8], numbers[8:10], numbers[10]
        self.duration = numbers[11]
        self.pieces = list(zip(numbers[12::2], numbers[13::2]))


def within(value, limits, slack):
    return limits[0] - slack <= value <= limits[1] + slack


def check_ours(case):
    """It ends where it should; what is within the bounds stays there; the jerk never passes its limit."""
    position, speed, acceleration = case.begin
    way, haste, pull, total = abs(position), abs(speed), abs(acceleration), 0.0
    settles_at = speed + acceleration * abs(acceleration) / (2.0 * case.jerk)
    speed_is_in = within(speed, case.speed, 0.0) and within(settles_at, case.speed, 0.0)
    acceleration_is_in = within(acceleration, case.acceleration, 0.0)
    for time, jerk in case.pieces:
        assert time > 0.0 and abs(jerk) <= case.jerk * (1.0 + ROUNDING), case.line
        turn = -acceleration / jerk if jerk != 0.0 else -1.0
        between = speed + turn * (acceleration + turn * jerk / 2.0) if 0.0 < turn < time else speed
        position += time * (speed + time * (acceleration / 2.0 + time * jerk / 6.0))
        way += time * (abs(speed) + time * (abs(acceleration) + time * abs(jerk)))
        speed += time * (acceleration + time * jerk / 2.0)
        haste += time * (abs(acceleration) + time * abs(jerk))
        acceleration += time * jerk
        pull += time * abs(jerk)
        total += time
        # Summed up from one end, an acceleration that is off by a rounding is off all the way.
        drift = ROUNDING * haste + 1e-15 * pull * total
        assert not speed_is_in or within(between, case.speed, drift) and within(speed, case.speed, drift), case.line
        assert not acceleration_is_in or within(acceleration, case.acceleration, ROUNDING * pull), case.line
        settles_at = speed + acceleration * abs(acceleration) / (2.0 * case.jerk)
        speed_is_in |= within(speed, case.speed, 0.0) and within(settles_at, case.speed, 0.0)
        acceleration_is_in |= within(acceleration, case.acceleration, 0.0)
    assert abs(acceleration - case.end[2]) <= ROUNDING * pull, case.line
    assert abs(speed - case.end[1]) <= ROUNDING * haste + 1e-15 * pull * total, case.line
    assert abs(position - case.end[0]) <= ROUNDING * way + 1e-15 * (haste + pull * total) * total, case.line
    assert total == pytest.approx(case.duration, rel=1e-12), case.line


def ask(case):
    """Ruckig's duration, or what it says instead."""
    parameter = InputParameter(1)
    for name, end in (("current", case.begin), ("target", case.end)):
        for quantity, value in zip(("position", "velocity", "acceleration"), end):
            setattr(parameter, f"{name}_{quantity}", [value])
    parameter.min_velocity, parameter.max_velocity = [case.speed[0]], [case.speed[1]]
    parameter.min_acceleration, parameter.max_acceleration = [case.acceleration[0]], [case.acceleration[1]]
    parameter.max_jerk = [case.jerk]
    trajectory = Trajectory(1)
    try:
        result = Ruckig(1).calculate(parameter, trajectory)
    except RuckigError:
        return "no answer"
    return repr(trajectory.duration) if result.value >= 0 else "no answer"


def ask_in_a_child(cases):
    """Ruckig dies of a few valid cases, so it is asked in a child process: one answer a line, and another child after the
    case that ended one."""
    answers = []
    while len(answers) < len(cases):
        read, write = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.close(read)
                for case in cases[len(answers) :]:
                    os.write(write, (ask(case) + "\n").encode())
            finally:
                os._exit(0)
        os.close(write)
        with os.fdopen(read) as lines:
            answers.extend(line.strip() for line in lines)
        os.waitpid(child, 0)
        if len(answers) < len(cases):
            answers.append("crash")
    return answers


def verdict(case, answer):
    if answer in ("no answer", "crash"):
        return answer
    theirs = float(answer)
    if abs(case.duration - theirs) <= TIME + RELATIVE * theirs:
        return "same"
    return "ours is longer" if case.duration > theirs else "ours is shorter"


# s; longer passages than this only wide limits and starts far outside ask for. Their positions are cubes of such times, whose last
# digits are more than what is asked of a root.
LONG = 900.0
# A stroke that is less than this part of its passage, or the number of them below which one is missing.
NO_STROKE, STROKES = 1e-9, 5
# What share of a kind ruckig may leave unanswered, die of, or take longer for.
MOST_APART = defaultdict(lambda: 0.01, {"wide": 0.3})


def why(case):
    """What may explain that ruckig does not find what ours does; None if nothing that is known."""
    if case.begin == case.end:
        return "it is there already"
    if case.duration > LONG:
        return "lasts long"
    _, speed, acceleration = case.begin
    if not within(acceleration, case.acceleration, 0.0) or not within(speed, case.speed, 0.0):
        return "begins outside its limits"
    if len(case.pieces) < STROKES or min(time for time, _ in case.pieces) < NO_STROKE * case.duration:
        return "a stroke vanishes, where two kinds of passage meet"
    return None


@pytest.mark.timeout(0)
def test_passages():
    """Each disagreement is written down, with what explains it, beside the cases."""
    path = os.environ.get("BELLWIRE_PASSAGE_CASES")
    assert path, "BELLWIRE_PASSAGE_CASES must name the file that the Rust tests wrote"
    counts, reasons, examples = defaultdict(Counter), Counter(), defaultdict(list)
    with Path(path).open() as lines, Path(path + ".apart").open("w") as listed:
        while batch := [Case(line) for _, line in zip(range(20_000), lines)]:
            for case in batch:
                check_ours(case)
            for case, answer in zip(batch, ask_in_a_child(batch)):
                said = verdict(case, answer)
                counts[case.kind][said] += 1
                if said != "same":
                    reasons[said, why(case)] += 1
                    examples[said, why(case)].append(case.line.strip())
                    listed.write(f"{said}\t{answer}\t{why(case)}\t{case.line.strip()}\n")
    assert sum(sum(count.values()) for count in counts.values()) >= 1000
    for kind, count in sorted(counts.items()):
        print(f"{kind:<14} {dict(count)}")
    for (said, reason), count in sorted(reasons.items(), key=str):
        print(f"{said}, {reason}: {count}; such as {examples[said, reason][0]}")
    print(f"each of them: {path}.apart")
    assert not any("longer" in said for said, _ in reasons), reasons
    unexplained = [lines[:3] for (_, reason), lines in examples.items() if reason is None]
    assert not unexplained, unexplained
    for kind, count in counts.items():
        apart = count.total() - count["same"]
        assert apart <= MOST_APART[kind] * count.total() + 2, (kind, count)
