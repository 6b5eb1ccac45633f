"""Two steps to the least variance: which packets for the whole set, then which stack.

Nearly always the cheapest packets, or some next to them, can be shared out evenly; a choice
that cannot is passed over for the next.
"""

from __future__ import annotations

from itertools import islice

import numpy as np

from optimizer.assignment.bound import Relaxation
from optimizer.assignment.descent import Descent, Score
from optimizer.assignment.frame import Frame
from optimizer.assignment.limits import Limits
from optimizer.assignment.problem import Task
from optimizer.assignment.search import ROUNDS, STARTS, Found, found_in, slack
from optimizer.assignment.selection import Selection
from optimizer.assignment.sharing import INSIDE, share_first, ways_to_fill
from optimizer.assignment.variants import variants
from optimizer.physics.packet import Index

#: columns among which packets are chosen: a few first, more where that leaves much open
MOST_COLUMNS = 240, 2000
#: part of the variance of a choice at which a bound counts as near
NEAR = 0.995
#: choices of discs tried before they are searched together with their places
CHOICES = 12
#: part of the work row's window in which the mean of a second choice of singles is put: at
#: its edge no single stack would have room to either side
MIDDLE = 0.3
#: rounds of looking round a set of packets, and ways to fill a stack listed in all of them
TURNS, LISTED = 16, 8_000_000
#: sets looked at in a round at least, and sets of which one is drawn to go on from
LEAST_ROUND, LIKELY = 50, 400
#: a set to go on from may be this much dearer than the best, and this far off target
DEARER, ASIDE = 1.04, 8.0


def singles(
    task: Task,
    frame: Frame,
    descent: Descent,
    rng: np.random.Generator,
    limits: Limits,
    seed: int,
) -> tuple[Found | None, float]:
    """Choose single discs of least variance, then share them out; and a bound on it."""
    every = np.arange(len(frame.cost))
    chosen, bound = Selection(task, frame, every, 1.0).best(limits, seed)
    if chosen is None:
        return None, bound
    middle = Selection(task, frame, every, MIDDLE)
    score = Score(slack(frame), np.ones(len(frame.rows)), 0.0)
    for _ in range(CHOICES):
        if chosen is None or limits.over():
            break
        discs = frame.columns.members[chosen, 0]
        for _ in range(ROUNDS):
            dealt, value = descent.run(
                rng.permuted(np.tile(discs, (STARTS, 1)), axis=1), score, limits.over, 0.0
            )
            found = found_in(frame, descent, dealt[value.argmin()])
            if found.kept:
                return found, bound
        middle.rule_out(chosen)
        chosen, _ = middle.best(limits, seed)
    return None, bound


def choose_packets(
    task: Task, frame: Frame, relaxation: Relaxation, limits: Limits, seed: int
) -> tuple[Index | None, float]:
    """Columns of least variance for the whole set, and a bound on that of any set."""
    order = np.argsort(relaxation.reduced, kind="stable")
    best, bound = None, relaxation.bound
    for most in MOST_COLUMNS:
        rows, left_out = np.sort(order[:most]), order[most:]
        chosen, least = Selection(task, frame, rows, 1.0).best(limits, seed)
        beyond = relaxation.bound + relaxation.reduced[left_out].min(initial=np.inf)
        bound = max(bound, min(least, beyond))
        if chosen is not None and (
            best is None or frame.cost[chosen].sum() < frame.cost[best].sum()
        ):
            best = chosen
        if bound == np.inf or (best is not None and frame.cost[best].sum() * NEAR <= bound):
            break
        if not len(left_out):
            break
    return best, bound


def look_round(
    task: Task,
    frame: Frame,
    descent: Descent,
    start: Index,
    best: Found | None,
    enough: float,
    rng: np.random.Generator,
    limits: Limits,
) -> Found | None:
    """Share out packets next to those of `start`, then next to what was found, and so on.

    Stops at a variance of `enough` N^2. Where nothing near is cheaper and can be shared out,
    it goes on from another set that is hardly dearer.
    """
    a_round = max(LISTED // (TURNS * ways_to_fill(frame)), LEAST_ROUND)
    base = start
    for _ in range(TURNS):
        if limits.over() or (best is not None and best.cost <= enough):
            break
        below = np.inf if best is None else best.cost * (1 - 1e-4)
        tried = list(islice(variants(frame, descent, base, INSIDE, below), a_round))
        hit = share_first(frame, np.array(tried), task.rules.free_height_mm) if tried else None
        if hit is not None:
            base = start = np.concatenate(hit)
            best = Found(hit, float(frame.cost[start].sum()), True)
            continue
        dearest = frame.cost[start].sum() * DEARER
        near = list(islice(variants(frame, descent, start, ASIDE, dearest), LIKELY))
        base = near[rng.integers(len(near))] if near else start
    return best
