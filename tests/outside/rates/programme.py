"""How soon several axes that follow their paths at one rate can come to another along a given way, by a cone programme.

A path's own time s is the way, z = r² the square of the rate and a = r' its derivative in time. Between two instants of the way
that are near each other z' = 2a, an axis's acceleration q''z + q'a is linear in both, and its jerk is what that changes by over
the time it takes: |Δ(q''z + q'a)| ≤ J·Δt. That time, 2Δs/(√z + √z₊), is convex. So of the limits only the one on jerk is not
convex, and only in one way: Δt must not be longer than it is. Let it be longer, and what is left is a cone programme, whose
optimum is global and no more than the true one: the lower bound. Held to its tangent at the motion before, the programme is
again convex, and every answer is a motion that keeps the limits: the upper bound, found in a few rounds.

This is direct transcription (Betts, *Practical Methods for Optimal Control and Estimation*, 2010) of time-optimal motion along a
path (Bobrow, Dubowsky and Gibson, "Time-optimal control of robotic manipulators along specified paths", 1985) in the convex form
of Verscheure et al., "Time-optimal path tracking for robots: a convex optimization approach", 2009, with limits of third order
(Pham and Pham, "On the structure of the time-optimal path parameterization problem with third-order constraints", 2017) by the
convex-concave rounds of Debrouwere et al., "Time-optimal path following for robots with convex-concave constraints using
sequential convex programming", 2013. Pieces of constant r'' make it exact between the instants.
"""

import clarabel
import numpy as np
from scipy.sparse import csc_matrix

# Instants of the way.
INSTANTS = 70
# Rounds of the upper bound.
UPPER = 8
# A jerk that is overdrawn costs so much more than the time that it saves.
OVERDRAWN = 30.0
# What a hardest brake may take longer than by its closed form, for what the pieces stray.
LONGER = 1.02
NO_BOUNDS = ()


def instants(case, way, ramp, stops):
    """Along the way: those at which a cubic rate over the ramp passes equal times, as many at which ours does over as much of its own
    way, beyond the ramp some evenly; and wherever the jerk of any path changes."""
    time = np.linspace(0.0, 1.0, INSTANTS // 2 + 1)
    cubic = 2 * (time - time**3 + time**4 / 2) if stops else 2 * (time**3 - time**4 / 2)
    along = np.concatenate([ramp * cubic, ramp * case.passes(ramp if ramp < way else np.inf, INSTANTS // 2)])
    if ramp < way:
        along = np.concatenate([along, np.linspace(ramp, way, INSTANTS)])
    along = spaced(along, way)
    changes = spaced(np.concatenate([course.changes() for course in case.courses]), way)[1:-1]
    if not len(changes):
        return along
    places = np.interp(changes, along, np.arange(len(along)))
    near = {round(place) for place in places if abs(place - round(place)) < 0.3} - {0, len(along) - 1}
    return np.sort(np.concatenate([np.delete(along, sorted(near)), changes]))


def spaced(along, way):
    """In order from 0 to the way, none so near the next that nothing lies between."""
    along = np.unique(along)
    along = along[(along > 1e-9 * way) & (along < way * (1 - 1e-9))]
    along = along[np.diff(along, prepend=-1.0) > 1e-7 * way]
    return np.concatenate([[0.0], along, [way]])


def hardest(course, begin, ways):
    """s that a course may take at the most for ways in its own unit, as long as it brakes: from its speed and acceleration, by
    its jerk down to its limit."""
    speed, pull = begin
    reach = (pull + course.acceleration) / course.jerk
    onset = np.linspace(0.0, max(reach, 0.0), 400)
    steady = np.linspace(0.0, 3.0 * abs(speed) / course.acceleration + 1e-9, 400)[1:]
    gone = onset * (speed + onset * (pull / 2 - onset * course.jerk / 6))
    fast = speed + onset * (pull - onset * course.jerk / 2)
    time = np.concatenate([onset, onset[-1] + steady])
    gone = np.concatenate([gone, gone[-1] + steady * (fast[-1] - steady * course.acceleration / 2)])
    fast = np.concatenate([fast, fast[-1] - steady * course.acceleration])
    rests = int(np.argmax(fast <= 1e-3 * abs(speed))) or len(fast)
    return np.interp(ways, gone[:rests], time[:rests], right=np.inf)


class Programme:
    """The least time along one way, whose rate changes within the ramp, to one end: (z, a) there, or None where they are free."""

    def __init__(self, case, way, ramp, ends, bounded=True):
        along = instants(case, way, ramp, case.to == 0)
        self.case, self.along, self.ends = case, along, ends
        self.paths = [course.at(along) for course in case.courses]
        # What a piece of constant r'' goes is not quite as if r' were linear in s; at a rest it is half as much again.
        self.ways = np.diff(along)
        self.ways[0] *= 1.0 if case.rate > 0 else 1.5
        self.ways[-1] *= 1.5 if ends and ends[0] == 0 else 1.0
        self.about = np.ones(len(along))
        for rests, far in ((case.rate == 0, along), (bool(ends) and ends[0] == 0, along[-1] - along)):
            if rests:
                far = np.maximum(far, np.sort(far)[1] / 2)
                self.about = np.minimum(self.about, (far / min(ramp, way)) ** (2 / 3))
        self.bounds = self.brakes() if bounded else NO_BOUNDS

    def brakes(self):
        """No motion is later at an instant than the hardest brake of any one axis from the start, or, seen from the end, than the
        hardest rise of any to it. So nothing waits where z is known."""
        case, along = self.case, self.along
        latest, last = np.full(len(along), np.inf), np.full(len(along), np.inf)
        for course, (position, q1, q2, _) in zip(case.courses, self.paths):
            if case.rate > 0 and q1[0] != 0:
                same = np.logical_and.accumulate(q1 * q1[0] > 0)
                begin = np.sign(q1[0]) * np.array([q1[0] * case.rate, q2[0] * case.rate**2 + q1[0] * case.drift])
                ways = np.abs(position - position[0])
                latest = np.minimum(latest, np.where(same, hardest(course, begin, ways), np.inf))
            if self.ends and self.ends[0] > 0 and q1[-1] != 0:
                same = np.logical_and.accumulate((q1 * q1[-1] > 0)[::-1])[::-1]
                end = np.array([np.abs(q1[-1]) * case.to, -np.sign(q1[-1]) * q2[-1] * case.to**2])
                ways = np.abs(position - position[-1])
                last = np.minimum(last, np.where(same, hardest(course, end, ways), np.inf))
        return (latest, 1.0, 0), (last, -1.0, len(along) - 1)

    def times(self, z):
        rate = np.sqrt(np.maximum(z, 0.0))
        return 2 * self.ways / np.maximum(rate[:-1] + rate[1:], 1e-12)

    def solve(self, tangent=None, room=None, seek=None):
        """z, a and the times at which the instants are passed; with a tangent, the motion before, also what is overdrawn. Within a
        room: the lowest and the highest z at every instant, and the most time. Instead of the least time it may seek the lowest z at
        an instant, or the highest: (instant, 1 or -1)."""
        case, ways, last = self.case, self.ways, len(self.along) - 1
        node, piece = np.arange(last + 1), np.arange(last)
        z, a, r, t = (node + index * (last + 1) for index in range(4))
        # In units of what they may be about, so that a rate near a rest is as exact as any other.
        rate, square = self.about, self.about**2
        lapse = 1.0 / last
        over = 4 * (last + 1) + piece
        count = 4 * (last + 1) + (last if tangent else 0)
        rows, columns, values, rights, height = [], [], [], [], 0

        def block(entries, right):
            nonlocal height
            for row, column, value in entries:
                rows.append(np.broadcast_to(row + height, np.shape(column)))
                columns.append(column)
                values.append(np.broadcast_to(value, np.shape(column)))
            rights.append(np.atleast_1d(right))
            height += len(rights[-1])

        # It begins where it does, and z' = 2a.
        unit = 1.0 / square[1:]
        changes = [(piece, z[1:], 1.0), (piece, z[:-1], -unit * square[:-1])]
        block(changes + [(piece, a[1:], -unit * ways), (piece, a[:-1], -unit * ways)], np.zeros(last))
        fixed = [(z[:1], case.rate**2 / square[0]), (a[:1], case.drift), (t[:1], 0.0)]
        fixed += [(z[-1:], self.ends[0] / square[-1]), (a[-1:], self.ends[1])] if self.ends else []
        for column, value in fixed:
            block([(np.zeros(1, int), column, 1.0)], value)
        cones = [clarabel.ZeroConeT(height)]
        begin = height
        # Faster than planned it never runs.
        fastest = max(1.0, case.rate) if case.to == 0 else case.to
        block([(piece, z[1:], 1.0)], fastest**2 / square[1:])
        for course, (_, q1, q2, _) in zip(case.courses, self.paths):
            moves = np.abs(q1) + np.abs(q2) > 1e-12
            some = np.flatnonzero(moves[1:]) + 1
            row = np.arange(len(some))
            block([(row, z[some], square[some] * (q1[some] / course.speed) ** 2)], np.full(len(some), 1.0 + 1e-9))
            for sign in (1.0, -1.0):
                pull = sign / course.acceleration
                block([(row, z[some], pull * square[some] * q2[some]), (row, a[some], pull * q1[some])], np.ones(len(some)))
            here = np.flatnonzero(moves[:-1] | moves[1:])
            there, row = here + 1, np.arange(len(here))
            for sign in (1.0, -1.0):
                jerk = sign / course.jerk / lapse
                pulls = [(row, z[there], jerk * square[there] * q2[there]), (row, a[there], jerk * q1[there])]
                pulls += [(row, z[here], -jerk * square[here] * q2[here]), (row, a[here], -jerk * q1[here])]
                block([*pulls, (row, t[there], -1.0), (row, t[here], 1.0)], np.zeros(len(here)))
                if tangent:
                    time, before, after = (value[here] for value in tangent)
                    held = [(row, z[here], -square[here] * before / lapse), (row, z[there], -square[there] * after / lapse)]
                    block([*pulls, *held, (row, over[here], -1.0)], time / lapse)
        if tangent:
            block([(piece, over, -1.0)], np.zeros(last))
        if room:
            low, high, most = room
            block([(node, z, 1.0)], high / square)
            block([(node, z, -1.0)], -low / square)
            block([(np.zeros(1, int), t[-1:], 1.0)], most / lapse)
            for some, level, before, after in self.chords(low, high):
                row, there = np.arange(len(some)), some + 1
                lapses = [(row, t[there], 1.0), (row, t[some], -1.0)]
                along = [(row, z[some], -square[some] * before / lapse), (row, z[there], -square[there] * after / lapse)]
                block(lapses + along, level / lapse)
        for bound, sign, end in self.bounds:
            some = np.flatnonzero(np.isfinite(bound) & (node != end))
            row = np.arange(len(some))
            ended = [(row, np.full(len(some), t[end]), -sign)]
            block([(row, t[some], sign), *ended], (bound[some] * LONGER + 1e-6) / lapse)
        cones.append(clarabel.NonnegativeConeT(height - begin))
        # r² ≤ z, and (t₊ − t)(r + r₊) ≥ 2Δs.
        block([(3 * node, z, -1.0), (3 * node + 1, r, -2.0), (3 * node + 2, z, -1.0)], np.tile([1.0, 0.0, -1.0], last + 1))
        middle = np.maximum(rate[1:], rate[:-1])
        lapses = [(t[1:], -1.0), (t[:-1], 1.0)]
        rates = [(r[1:], -rate[1:] / middle), (r[:-1], -rate[:-1] / middle)]
        entries = [(3 * piece, column, value) for column, value in lapses + rates]
        entries += [(3 * piece + 2, column, value) for column, value in lapses]
        entries += [(3 * piece + 2, column, -value) for column, value in rates]
        block(entries, np.stack([np.zeros(last), np.sqrt(8 * ways / middle / lapse), np.zeros(last)], 1).ravel())
        cones += [clarabel.SecondOrderConeT(3)] * (2 * last + 1)

        cost = np.zeros(count)
        if seek:
            cost[z[seek[0]]] = seek[1]
        else:
            cost[t[-1]] = 1.0
        cost[4 * (last + 1) :] = OVERDRAWN
        places = (np.concatenate(rows), np.concatenate(columns))
        matrix = csc_matrix((np.concatenate(values), places), shape=(height, count))
        settings = clarabel.DefaultSettings()
        settings.verbose, settings.max_threads = False, 1
        settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = 1e-7
        still = csc_matrix((count, count))
        found = clarabel.DefaultSolver(still, cost, matrix, np.concatenate(rights), cones, settings).solve()
        self.status = str(found.status)
        if self.status not in ("Solved", "AlmostSolved"):
            return None
        x = np.array(found.x)
        return np.maximum(x[z], 0.0) * square, x[a], x[t] * lapse, x[over].sum() * lapse if tangent else 0.0

    def chords(self, low, high):
        """Planes that no time from one instant to the next lies above, as long as z stays within those bounds: which instants, and a
        level with slopes by both z. That time is convex, and the more one rate takes off it the less the other does: so it lies below
        the planes through its values at both low, both high, and one of each (Tawarmalani and Sahinidis, *Convexification and Global
        Optimization*, 2002)."""
        some = np.flatnonzero((low[:-1] > 0) & (low[1:] > 0) & (high[:-1] > low[:-1]) & (high[1:] > low[1:]))
        begin, end, ways = (low[some], high[some]), (low[some + 1], high[some + 1]), self.ways[some]
        time = [[2 * ways / (np.sqrt(one) + np.sqrt(other)) for other in end] for one in begin]
        spans = begin[1] - begin[0], end[1] - end[0]
        for first in (0, 1):
            # By way of the corner at which the first, or the second, is high already.
            corner = time[1][0] if first else time[0][1]
            rise, rest = corner - time[0][0], time[1][1] - corner
            before, after = (rise, rest) if first else (rest, rise)
            before, after = before / spans[0], after / spans[1]
            yield some, time[0][0] - before * begin[0] - after * end[0], before, after

    def says_none(self):
        """Whether the last answer was that nothing keeps all bounds."""
        return "PrimalInfeasible" in self.status

    def correct(self, z, a):
        straight = np.diff(self.along)
        self.ways = np.clip(straight + self.times(z) ** 2 * np.diff(a) / 12, 0.3 * straight, 1.7 * straight)

    def lower(self):
        """The lower bound and its motion; None where nothing goes this way."""
        found = self.solve()
        if found is None and self.bounds:
            # Perhaps only for what the pieces stray, which a motion that may wait tells.
            bounds, self.bounds = self.bounds, NO_BOUNDS
            waiting = self.solve()
            self.bounds = bounds
            if waiting is None:
                return None
            self.correct(*waiting[:2])
            found = self.solve()
        return found and (found[2][-1], found[0])

    def upper(self, z):
        """The time of a motion that keeps the limits, and its pieces; None if none is found from there."""
        found, known = None, np.inf
        for _ in range(UPPER):
            rate = np.sqrt(np.maximum(z, 1e-12))
            time = self.times(z)
            slope = -2 * self.ways / np.maximum(rate[:-1] + rate[1:], 1e-9) ** 2
            before, after = slope / (2 * rate[:-1]), slope / (2 * rate[1:])
            before[0] *= self.case.rate > 0
            after[-1] *= not (self.ends and self.ends[0] == 0)
            answer = self.solve((time - before * z[:-1] - after * z[1:], before, after))
            if answer is None:
                break
            z, a, _, over = answer
            takes = self.times(z).sum()
            if over < 1e-4 * takes:
                found = (takes, self.breach(z, a))
                if abs(known - takes) < 2e-4 * takes:
                    break
            known = takes
            self.correct(z, a)
        return found

    def breach(self, z, a):
        """The greatest part by which a motion breaks a limit within its pieces of constant r''."""
        states = zip(self.along, np.sqrt(z), a)
        pieces = zip(self.times(z), np.diff(a) / self.times(z), np.zeros(len(a) - 1))
        stretches = zip(self.along, self.along[1:])
        return max(map(self.case.breach, states, pieces, stretches))
