"""The least time that any change has, beside what ours takes."""

import numpy as np
from ruckig import ControlInterface, InputParameter, Ruckig, Trajectory

from .change import Case, flow
from .narrowed import none_within
from .programme import Programme

# Ways that are tried at first, as parts of ours, looks closer in, and how near is near enough.
WAYS = (0.7, 0.9, 1.0)
CLOSER = 10
NEAR = 1e-3
# A way within which nothing can be told, and a time.
NO_WAY = 1e-9
NO_TIME = 0.02
# What is promised: no more than a twentieth longer, and a fiftieth of a second.
LONGER, BESIDES = 1.05, 0.02
# Ways along which each is asked whether any motion is so much sooner: every so many parts of ours.
EVERY = 0.05


def alone(written, course):
    """s, of the stop of one axis wherever that is: a change of its speed, by PyPI ruckig."""
    knots, time = course["knots"], course["time"]
    begin = next((begin for begin, end in zip(knots, knots[1:]) if begin[0] <= time < end[0]), None)
    if begin is None:
        return 0.0
    gone, rate = time - begin[0], written["rate"]
    speed, pull = begin[2] + gone * (begin[3] + gone * begin[4] / 2), begin[3] + gone * begin[4]
    parameter, found = InputParameter(1), Trajectory(1)
    parameter.control_interface = ControlInterface.Velocity
    parameter.current_velocity = [speed * rate]
    parameter.current_acceleration = [pull * rate**2 + speed * written["drift"]]
    parameter.max_velocity, parameter.max_acceleration, parameter.max_jerk = ([limit] for limit in course["limits"])
    assert Ruckig(1).calculate(parameter, found).value >= 0
    return found.duration


class Judged:
    """A change and what it is held against, all in s; `upper` is None where no motion was found, `along` the programme that found it."""

    def __init__(self, written, also_upper):
        self.kind, self.seed, self.moves = written["kind"], written["seed"], written["moves"]
        case = Case(written, 1.0)
        takes, ended, way, self.breach = case.ours()
        # At the full rate a path at its limits leaves no room: then it counts when every path has ended.
        self.full = written["to"] == 1.0
        self.ours = ended if self.full else takes
        self.programme = self.lower = self.upper = self.ours
        self.upper_breach, self.along = 0.0, None
        if self.ours < NO_TIME or way < NO_WAY or case.left < NO_WAY:
            return
        self.case = Case(written, self.ours)
        bound, found = self.through(self.ramp(), also_upper) if self.full else self.ends(way / self.ours, also_upper)
        self.programme = self.lower = bound * self.ours
        if written["to"] == 0.0:
            # However all go, each axis has to come to rest within its own limits.
            self.lower = max([self.lower] + [alone(written, course) for course in written["courses"]])
        if self.over(self.ours) and self.none_is_sooner():
            self.lower = (self.ours - BESIDES) / LONGER
        self.upper = None
        if found:
            self.upper, self.upper_breach = found[0] * self.ours, found[1]

    def over(self, ours):
        """Whether that is longer than promised, as far as the bound tells."""
        return ours > LONGER * self.lower + BESIDES

    def none_is_sooner(self):
        """Where the bound does not tell: whether it is certain that no motion is so much sooner that ours takes longer than promised.
        What is asked along one way is answered for those as near it as the next."""
        case, most = self.case, (1.0 - BESIDES / self.ours) / LONGER
        if self.full:
            asked = [(case.left, self.ramp(), None)]
        elif self.ended() <= most:
            return False
        else:
            longest = min(case.left, max(1.0, case.rate, case.to) * most)
            asked = [(way, way, (case.to**2, 0.0)) for way in np.arange(longest, EVERY / 2, -EVERY)]
        for way, ramp, ends in asked:
            programme = Programme(case, way, ramp, ends)
            bound = programme.lower()
            nothing = bound is None and programme.says_none()
            if not nothing and not (bound and bound[0] > most) and not none_within(programme, most):
                return False
        return True

    def ramp(self):
        """The way in which ours comes to nine tenths of the new rate."""
        state = (0.0, self.case.rate, self.case.drift)
        for piece in self.case.pieces:
            state = tuple(flow(state, piece, piece[0])[:3])
            if state[1] >= 0.9 * self.case.to:
                break
        return min(state[0], 0.7 * self.case.left)

    def through(self, ramp, also_upper):
        """To where every path has ended."""
        case = self.case
        programme = Programme(case, case.left, ramp, None)
        bound = programme.lower()
        if bound is None:
            return np.nan, None
        return bound[0], programme.upper(bound[1]) if also_upper else None

    def ended(self):
        """The least time until every path has ended."""
        case = self.case
        return case.left / max(1.0, case.rate) if case.to == 0 else self.through(case.left, False)[0]

    def ends(self, ours, also_upper):
        """To the new rate, wherever that is met, or to where every path has ended."""
        case, known = self.case, {}

        def lower(way, bounded=True):
            programme = Programme(case, way, way, (case.to**2, 0.0), bounded)
            bound = programme.lower()
            known[way] = (programme, bound)
            return bound[0] if bound else np.inf

        seen, floor, way = least_way(lower, ours, case.left)
        if not np.isfinite(seen[way]):
            seen, floor, way = least_way(lambda way: lower(way, False), ours, case.left)
        ended = self.ended()
        if ended <= floor:
            # Not that they could.
            return ended, None
        found = []
        for near in sorted(seen, key=seen.get)[:3] if also_upper else []:
            programme, bound = known[near]
            upper = programme.upper(bound[1]) if bound else None
            if upper:
                found.append((upper, programme))
        if not found:
            return floor, None
        upper, self.along = min(found, key=lambda one: one[0])
        return floor, upper


def least_way(lower, ours, left):
    """The bounds of some ways about the least one; what any way has at the least; and that way. A bound falls to its least and
    rises again, bent one way: so between two looks it lies above the lines through those beyond them."""
    seen = {}
    for part in WAYS:
        seen[min(part * ours, left)] = lower(min(part * ours, left))
    while True:
        best, ways = min(seen, key=seen.get), sorted(seen)
        if best == ways[0] and best > 0.02 * ours:
            farther = 0.8 * best
        elif best == ways[-1] and best < left:
            farther = min(1.15 * best, left)
        else:
            break
        seen[farther] = lower(farther)
    for _ in range(CLOSER):
        best = min(seen, key=seen.get)
        floor, way = under(sorted(seen.items()), best)
        if not seen[best] - floor > NEAR:
            break
        seen[way] = lower(way)
    best = min(seen, key=seen.get)
    return seen, min(floor, seen[best]), best


def under(looks, best):
    """What the bound is at the least beside the least of some looks, and where to look next."""
    ways, bounds = map(np.array, zip(*looks))
    place = int(np.flatnonzero(ways == best)[0])
    found = []
    for first in (place - 1, place):
        if first < 0 or first + 2 > len(ways):
            continue
        lines = []
        for one in (first - 1, first + 1):
            if one >= 0 and one + 2 <= len(ways) and np.isfinite(bounds[one : one + 2]).all():
                slope = (bounds[one + 1] - bounds[one]) / (ways[one + 1] - ways[one])
                lines.append((slope, bounds[one] - slope * ways[one]))
        begin, end = ways[first], ways[first + 1]
        places = [begin, end]
        if len(lines) == 2 and lines[0][0] != lines[1][0]:
            places += [(lines[0][1] - lines[1][1]) / (lines[1][0] - lines[0][0])]
        places = [way for way in places if begin <= way <= end]
        floor, way = min((max((slope * way + at for slope, at in lines), default=-np.inf), way) for way in places)
        # Not at an end, where all is known already.
        way = way if way not in (begin, end) else (begin + end) / 2
        found.append((floor, min(max(way, begin + (end - begin) / 10), end - (end - begin) / 10)))
    return min(found)
