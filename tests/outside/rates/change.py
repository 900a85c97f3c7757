"""A change of the rate of several axes, each along its path, as the Rust tests wrote it down."""

import numpy as np


class Course:
    """One axis along its path, over the way ahead, s of the path's own time."""

    def __init__(self, course, way):
        self.times, self.positions, self.speeds, self.accelerations, self.jerks = np.array(course["knots"]).T
        self.time, self.way = course["time"], way
        self.speed, self.acceleration, self.jerk = course["limits"]

    def at(self, ahead):
        """Position and its first three derivatives by the way."""
        time = self.time + self.way * np.asarray(ahead)
        knot = np.clip(np.searchsorted(self.times, time, side="right") - 1, 0, len(self.times) - 1)
        gone = np.clip(time, self.times[0], self.times[-1]) - self.times[knot]
        moves = (time >= self.times[0]) & (time < self.times[-1])
        speed, pull, jerk = self.speeds[knot], self.accelerations[knot], self.jerks[knot]
        position = self.positions[knot] + gone * (speed + gone * (pull / 2 + gone * jerk / 6))
        speed, pull = speed + gone * (pull + gone * jerk / 2), pull + gone * jerk
        return position, self.way * moves * speed, moves * pull, self.way * moves * jerk

    def changes(self):
        """Where on the way ahead its jerk changes."""
        return self.way * (self.times - self.time)


class Case:
    """A change of rate as the Rust tests write it down, forwards, and in units of time in which ours takes about 1."""

    def __init__(self, written, unit):
        self.way = 1.0 if written["rate"] + written["to"] > 0 else -1.0
        self.courses = [Course(course, self.way) for course in written["courses"]]
        for course in self.courses:
            course.times, course.time = course.times / unit, course.time / unit
            course.speeds, course.speed = course.speeds * unit, course.speed * unit
            course.accelerations, course.acceleration = course.accelerations * unit**2, course.acceleration * unit**2
            course.jerks, course.jerk = course.jerks * unit**3, course.jerk * unit**3
        self.rate, self.to = self.way * written["rate"], self.way * written["to"]
        self.drift = self.way * written["drift"] * unit
        self.pieces = [
            (time / unit, self.way * bend * unit**2, self.way * twist * unit**3)
            for time, bend, twist in written["pieces"]
        ]
        # Until every path has ended.
        self.left = max(course.changes().max() for course in self.courses)

    def breach(self, begin, piece, within):
        """The greatest part by which any limit is broken over one piece of linear r'' that lies within a stretch of the way."""
        way, rate, drift, bend = flow(begin, piece, np.linspace(0.0, piece[0], 33))
        # Strictly within it: at its ends the jerk of a path may change.
        way = np.clip(way, within[0] + 1e-7, max(within[1] - 1e-7, within[0] + 1e-7))
        most = 0.0
        for course in self.courses:
            _, q1, q2, q3 = course.at(way)
            pull, jerk = q2 * rate**2 + q1 * drift, q3 * rate**3 + 3 * q2 * rate * drift + q1 * bend
            felt = ((q1 * rate, course.speed), (pull, course.acceleration), (jerk, course.jerk))
            most = max([most] + [np.abs(value).max() / limit - 1.0 for value, limit in felt])
        return most

    def ours(self):
        """How long ours takes until the rate is the new one or every path has ended, when every path ends if the rate stays, the way
        that it goes, and the greatest breach."""
        state, takes, ended, most = (0.0, self.rate, self.drift), 0.0, None, 0.0
        for piece in self.pieces:
            end = tuple(flow(state, piece, piece[0])[:3])
            if piece[0] > 1e-12:
                most = max(most, self.breach(state, piece, (state[0], end[0])))
            if ended is None and end[0] >= self.left - 1e-12:
                before, after = 0.0, piece[0]
                for _ in range(50):
                    middle = (before + after) / 2
                    there = flow(state, piece, middle)[0] >= self.left - 1e-12
                    before, after = (before, middle) if there else (middle, after)
                ended = takes + after
            state, takes = end, takes + piece[0]
        if ended is None and self.to > 0:
            ended = takes + (self.left - state[0]) / self.to
        return (takes if ended is None else min(takes, ended)), ended, state[0], most

    def passes(self, until, count):
        """Where ours is at equal times, as parts of its way until then."""
        state, times, ways = (0.0, self.rate, self.drift), [np.zeros(1)], [np.zeros(1)]
        for piece in self.pieces:
            time = np.linspace(0.0, piece[0], 9)
            times.append(times[-1][-1] + time[1:])
            ways.append(flow(state, piece, time)[0][1:])
            state = tuple(flow(state, piece, piece[0])[:3])
        time, way = np.concatenate(times), np.concatenate(ways)
        end = np.interp(min(until, way[-1]), way, time)
        way = np.interp(np.linspace(0.0, end, count), time, way)
        return way / way[-1]


def flow(begin, piece, time):
    """Way, rate, r' and r'' after so long of a piece of linear r''."""
    (way, rate, drift), (_, bend, twist) = begin, piece
    return (
        way + time * (rate + time * (drift / 2 + time * (bend / 6 + time * twist / 24))),
        rate + time * (drift + time * (bend / 2 + time * twist / 6)),
        drift + time * (bend + time * twist / 2),
        bend + time * twist,
    )
