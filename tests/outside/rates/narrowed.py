"""Whether a change may take no longer than so much: the bound of `programme`, made as tight as it takes.

The bound lets time pass unused where a path turns, since the time from one instant to the next may be longer there than it is. How much
longer depends on how far the rates at both are known. So whatever rates a motion of no more than that time may have at an instant is
found, each by a cone programme of its own, again and again, until no motion is left or nothing is gained: optimality-based bound
tightening (Belotti, Lee, Liberti, Margot and Wächter, "Branching and bounds tightening techniques for non-convex MINLP", 2009).
"""

import numpy as np

# Rounds at most, and what one must take off the widths of all bounds to be worth another.
ROUNDS = 8
WORTH = 0.02
# What a bound is left by, for what an answer may be off.
SLACK = 1e-5


def none_within(programme, most):
    """Whether it is certain that no motion along the programme's way takes at most so long."""
    case, count = programme.case, len(programme.along)
    fastest = max(1.0, case.rate) if case.to == 0 else case.to
    low, high = np.zeros(count), np.full(count, fastest**2)
    low[0] = high[0] = case.rate**2
    if programme.ends:
        low[-1] = high[-1] = programme.ends[0]
    for _ in range(ROUNDS):
        before = (high - low).sum()
        for instant in range(1, count - 1):
            for sign in (1.0, -1.0):
                found = programme.solve(room=(low, high, most), seek=(instant, sign))
                if found is None:
                    if programme.says_none():
                        return True
                    continue
                z = found[0][instant]
                if sign > 0:
                    low[instant] = max(low[instant], z - SLACK)
                else:
                    high[instant] = min(high[instant], z + SLACK)
        if (high - low).sum() > (1 - WORTH) * before:
            return False
    return False
