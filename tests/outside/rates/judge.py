"""The least time that any change has, beside what ours takes."""

import numpy as np

from .change import Case, flow
from .programme import Programme

# Ways that are tried at first, as parts of ours, looks closer in, and how near is near enough.
WAYS = (0.7, 0.9, 1.0)
CLOSER = 10
NEAR = 1e-3
# A way within which nothing can be told, and a time.
NO_WAY = 1e-9
NO_TIME = 0.02


class Judged:
    """A change and what it is held against, all in s; `upper` is None where no motion was found."""

    def __init__(self, written, also_upper):
        self.kind, self.seed, self.moves = written["kind"], written["seed"], written["moves"]
        case = Case(written, 1.0)
        takes, ended, way, self.breach = case.ours()
        # At the full rate a path at its limits leaves no room: then it counts when every path has ended.
        self.full = written["to"] == 1.0
        self.ours = ended if self.full else takes
        self.lower = self.upper = self.ours
        self.upper_breach = 0.0
        if self.ours < NO_TIME or way < NO_WAY or case.left < NO_WAY:
            return
        self.case = Case(written, self.ours)
        bound, found = self.through(self.ramp(), also_upper) if self.full else self.ends(way / self.ours, also_upper)
        self.lower = bound * self.ours
        self.upper = None
        if found:
            self.upper, self.upper_breach = found[0] * self.ours, found[1]

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

    def ends(self, ours, also_upper):
        """To the new rate, wherever that is met, or to where every path has ended."""
        case, known = self.case, {}
        stops = case.to == 0

        def lower(way, bounded=True):
            programme = Programme(case, way, way, (case.to**2, 0.0), bounded)
            bound = programme.lower()
            known[way] = (programme, bound)
            return bound[0] if bound else np.inf

        seen, floor, way = least_way(lower, ours, case.left)
        if not np.isfinite(seen[way]):
            seen, floor, way = least_way(lambda way: lower(way, False), ours, case.left)
        ended = case.left / max(1.0, case.rate) if stops else self.through(case.left, False)[0]
        if ended <= floor:
            return ended, (ended, 0.0) if also_upper else None
        found = []
        for near in sorted(seen, key=seen.get)[:3] if also_upper else []:
            programme, bound = known[near]
            found += [programme.upper(bound[1])] if bound else []
        return floor, min(filter(None, found), key=lambda one: one[0], default=None)


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
