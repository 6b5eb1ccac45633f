"""Search within one subproblem: descent to a match, then towards the least variance."""

from __future__ import annotations

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.problem import Task
from optimizer.match.bounds import Relaxation
from optimizer.match.local_search import Descent
from optimizer.match.subproblem import Chosen, Subproblem
from optimizer.mechanics.packet import Index

STARTS = 16
MATCH_ROUNDS = 20
#: prices of a newton^2 beyond the windows, rising so that variance gives way in the end
PRICES = (1.0, 10.0, 100.0, 1000.0)
#: exchanges of all starts that a step looks at, where that leaves so few starts
LOOKED_AT, FEWEST = 20_000, 4
#: shakes of descents towards the least variance, and exchanges in a shake
SHAKES, KICKS = 6, 2
#: share of the variance by which an answer may exceed the bound to count as good enough
ENOUGH = 0.003
#: columns given to the constraint solver, and its deterministic time
MOST_COLUMNS = 240
WORK = 0.3


def matched_by_descents(
    descent: Descent,
    relaxation: Relaxation,
    rng: np.random.Generator,
    limits: Limits,
    rounds: int = MATCH_ROUNDS,
) -> Chosen | None:
    """Find any set that keeps all windows by descents, None when they do not."""
    starts = _starts(descent)
    rounds = rounds * starts // STARTS
    starts //= 2  # the first that is kept will do
    for turn in range(rounds):
        if turn % 2:
            dealt = descent.deal_like(rng, starts, relaxation.share)
        else:
            dealt = descent.deal(rng, starts)
        dealt, value = descent.run(dealt, 1.0, 0.0, limits.over, 0.0)
        found = kept_in(descent, dealt[value.argmin()])
        if found is not None:
            return found
        if limits.over():
            break
    return None


def _starts(descent: Descent) -> int:
    """How many descents to run at once: fewer where a step looks at very many exchanges."""
    return max(min(STARTS, LOOKED_AT // descent.options), FEWEST)


def kept_in(descent: Descent, dealt: Index) -> Chosen | None:
    """Read the columns of a dealing (n); None where it breaks a window."""
    chosen = descent.chosen(dealt)
    if chosen is None or not _upright(descent.subproblem, descent.height, chosen):
        return None
    return None if descent.subproblem.misfit_n(chosen).any() else chosen


def _upright(subproblem: Subproblem, window_mm: tuple[float, float] | None, chosen: Chosen) -> bool:
    """Whether the free height of every stack lies in the window, if there is one."""
    if window_mm is None:
        return True
    height = np.array([subproblem.columns.free_mm[c].sum() for c in chosen])
    return bool((height >= window_mm[0]).all() and (height <= window_mm[1]).all())


def least_by_descents(
    descent: Descent, relaxation: Relaxation, rng: np.random.Generator, limits: Limits
) -> Chosen | None:
    """Descend towards the least variance among matches, from packets the relaxation takes.

    The first descents go at rising prices for misfit; then all are shaken and descend again,
    `SHAKES` times or until one comes near the bound. Where a step looks at very many
    exchanges there are fewer starts and shakes.
    """
    best: Chosen | None = None
    least = np.inf
    starts = _starts(descent)
    shakes = SHAKES * starts // STARTS
    dealt = descent.deal_like(rng, starts, relaxation.share)
    for price in PRICES[:-1]:
        dealt, _ = descent.run(dealt, price, 1.0, limits.over)
    tried, reached = descent.run(dealt, PRICES[-1], 1.0, limits.over)
    dealt, value = tried.copy(), reached.copy()
    for turn in range(shakes + 1):
        for row in tried[reached <= value]:
            found = kept_in(descent, row)
            if found is not None and descent.subproblem.variance_n2(found) < least:
                best, least = found, descent.subproblem.variance_n2(found)
        near = best is not None and least - relaxation.bound <= ENOUGH * least
        if near or turn == shakes or limits.over():
            break
        shaken = _shaken(descent, dealt.copy(), rng)
        tried, reached = descent.run(shaken, PRICES[-1], 1.0, limits.over)
        better = reached <= value
        dealt[better], value[better] = tried[better], reached[better]
    return best


def _shaken(descent: Descent, dealt: Index, rng: np.random.Generator) -> Index:
    """Exchange some placed discs of each dealing with any others, at random."""
    rows = np.arange(len(dealt))
    for _ in range(KICKS):
        left = rng.integers(descent.places, size=len(dealt))
        right = rng.integers(dealt.shape[1], size=len(dealt))
        dealt[rows, left], dealt[rows, right] = dealt[rows, right], dealt[rows, left]
    return dealt


def least_by_model(
    task: Task, relaxation: Relaxation, limits: Limits, seed: int
) -> tuple[Chosen | None, float]:
    """Let CP-SAT find little variance over the columns of least reduced cost.

    For what descents do not know: discs that must be used or kept together. Returns what was
    found and a bound on the variance of the subproblem in N^2.
    """
    from optimizer.match.cpsat import Assignment  # takes half a second to import

    made = relaxation.subproblem
    order = np.argsort(relaxation.reduced, kind="stable")
    rows, left_out = np.sort(order[:MOST_COLUMNS]), order[MOST_COLUMNS:]
    assignment = Assignment(task, made, rows)
    assignment.within_rows()
    unit = assignment.least_variance()
    verdict = assignment.solve(limits, WORK, seed)
    if verdict.chosen is None:
        return None, relaxation.bound
    beyond = relaxation.bound + relaxation.reduced[left_out].min(initial=np.inf)
    bound = max(relaxation.bound, min(verdict.bound * unit, beyond))
    return None if made.misfit_n(verdict.chosen).any() else verdict.chosen, bound
