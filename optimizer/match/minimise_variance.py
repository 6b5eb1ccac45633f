"""Search within one subproblem: descent to a match, then towards the least variance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.problem import StackDiscs, Task
from optimizer.frozen import frozen_arrays
from optimizer.match.bounds import Relaxation
from optimizer.match.local_search import Descent, Score
from optimizer.match.subproblem import Subproblem
from optimizer.mechanics.disc import Array
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
#: part of a row's window that the search uses, leaving the rest to rounding
INSIDE = 0.9
#: columns given to the constraint solver, and its deterministic time
MOST_COLUMNS = 240
WORK = 0.3
#: deterministic time of the least spread where no set keeps every window
SPREAD_WORK = 1.5


@dataclass(frozen=True)
@frozen_arrays
class Found:
    """Columns of each stack, their variance in N^2, and whether every window is kept."""

    chosen: tuple[Index, ...]
    cost: float
    kept: bool


def misfit(subproblem: Subproblem, chosen: tuple[Index, ...]) -> Array:
    """Excess (R) in N of each row's deviation over its window, 0 where kept."""
    excess = []
    for row in subproblem.rows:
        at = np.array([row.constant_n[c, i].sum() for i, c in enumerate(chosen)]) - row.room_n
        wide = np.ptp(at) if row.centred else 2 * np.abs(at).max()
        excess.append(max(float(wide) - row.window_n, 0.0))
    return np.array(excess)


def off_target(subproblem: Subproblem, found: Found) -> float:
    """Greatest distance in N of a stack from its target."""
    row = subproblem.rows[0]
    at = np.array([row.constant_n[c, i].sum() for i, c in enumerate(found.chosen)])
    return float(np.abs(at - row.room_n).max())


def slack(subproblem: Subproblem) -> Array:
    """Deviation (R) in N from target or from the mean that keeps each row's window."""
    return np.array([INSIDE * row.window_n / 2 for row in subproblem.rows])


def match(
    subproblem: Subproblem,
    descent: Descent,
    relaxation: Relaxation,
    rng: np.random.Generator,
    limits: Limits,
    rounds: int = MATCH_ROUNDS,
) -> Found | None:
    """Find any assignment that keeps all windows by descents, None when they do not."""
    score = Score(slack(subproblem), np.ones(len(subproblem.rows)), 0.0)
    starts = _starts(descent)
    rounds = rounds * starts // STARTS
    starts //= 2  # the first that is kept will do
    for turn in range(rounds):
        if turn % 2:
            dealt = descent.deal_like(rng, starts, relaxation.share)
        else:
            dealt = descent.deal(rng, starts)
        dealt, value = descent.run(dealt, score, limits.over, 0.0)
        found = found_in(subproblem, descent, dealt[value.argmin()])
        if found.kept:
            return found
        if limits.over():
            break
    return None


def _starts(descent: Descent) -> int:
    """How many descents to run at once: fewer where a step looks at very many exchanges."""
    return max(min(STARTS, LOOKED_AT // descent.options), FEWEST)


def found_in(subproblem: Subproblem, descent: Descent, dealt: Index) -> Found:
    """Read the columns of a dealing (n)."""
    first = np.unique(descent.places.packet, return_index=True)[1]
    column = descent.columns_at(dealt[None], first)[0]
    stack = descent.places.stack[first]
    chosen = tuple(column[stack == i] for i in range(len(subproblem.patterns)))
    valid = bool(column.max() < len(subproblem.cost))
    cost = float(subproblem.cost[column].sum()) if valid else np.inf
    kept = (
        valid
        and _upright(subproblem, descent.height, chosen)
        and not misfit(subproblem, chosen).any()
    )
    return Found(chosen, cost, bool(kept))


def _upright(
    subproblem: Subproblem, window_mm: tuple[float, float] | None, chosen: tuple[Index, ...]
) -> bool:
    """Whether the free height of every stack lies in the window, if there is one."""
    if window_mm is None:
        return True
    height = np.array([subproblem.columns.free_mm[c].sum() for c in chosen])
    return bool((height >= window_mm[0]).all() and (height <= window_mm[1]).all())


def steady(
    subproblem: Subproblem,
    descent: Descent,
    relaxation: Relaxation,
    rng: np.random.Generator,
    limits: Limits,
) -> Found | None:
    """Descend towards the least variance among matches, from packets the relaxation takes.

    The first descents go at rising prices for misfit; then all are shaken and descend again,
    `SHAKES` times or until one comes near the bound. Where a step looks at very many
    exchanges there are fewer starts and shakes.
    """
    best: Found | None = None
    starts = _starts(descent)
    shakes = SHAKES * starts // STARTS
    dealt = descent.deal_like(rng, starts, relaxation.share)
    for price in PRICES[:-1]:
        dealt, _ = descent.run(dealt, _priced(subproblem, price), limits.over)
    last = _priced(subproblem, PRICES[-1])
    tried, reached = descent.run(dealt, last, limits.over)
    dealt, value = tried.copy(), reached.copy()
    for turn in range(shakes + 1):
        for row in tried[reached <= value]:
            found = found_in(subproblem, descent, row)
            if found.kept and (best is None or found.cost < best.cost):
                best = found
        near = best is not None and best.cost - relaxation.bound <= ENOUGH * best.cost
        if near or turn == shakes or limits.over():
            break
        tried, reached = descent.run(_shaken(descent, dealt.copy(), rng), last, limits.over)
        better = reached <= value
        dealt[better], value[better] = tried[better], reached[better]
    return best


def _priced(subproblem: Subproblem, price: float) -> Score:
    return Score(slack(subproblem), np.full(len(subproblem.rows), price), 1.0)


def _shaken(descent: Descent, dealt: Index, rng: np.random.Generator) -> Index:
    """Exchange some placed discs of each dealing with any others, at random."""
    rows = np.arange(len(dealt))
    for _ in range(KICKS):
        left = rng.integers(len(descent.places), size=len(dealt))
        right = rng.integers(dealt.shape[1], size=len(dealt))
        dealt[rows, left], dealt[rows, right] = dealt[rows, right], dealt[rows, left]
    return dealt


def model(
    task: Task, subproblem: Subproblem, relaxation: Relaxation, limits: Limits, seed: int
) -> tuple[Found | None, float]:
    """Let the constraint solver find little variance over the columns of least reduced cost.

    For what descents do not know: discs that must be used or kept together. Returns what was
    found and a bound on the variance of the subproblem in N^2.
    """
    from optimizer.match.cpsat import Assignment  # takes half a second to import

    order = np.argsort(relaxation.reduced, kind="stable")
    rows, left_out = np.sort(order[:MOST_COLUMNS]), order[MOST_COLUMNS:]
    assignment = Assignment(task, subproblem, rows)
    assignment.within_rows()
    unit = assignment.least_variance()
    verdict = assignment.solve(limits, WORK, seed)
    if verdict.chosen is None:
        return None, relaxation.bound
    cost = float(subproblem.cost[np.concatenate(verdict.chosen)].sum())
    beyond = relaxation.bound + relaxation.reduced[left_out].min(initial=np.inf)
    bound = max(relaxation.bound, min(verdict.bound * unit, beyond))
    return Found(verdict.chosen, cost, not misfit(subproblem, verdict.chosen).any()), bound


def stacks_of(subproblem: Subproblem, chosen: tuple[Index, ...]) -> tuple[StackDiscs, ...]:
    """Disc numbers of the chosen columns, packets of one size together, biggest first."""
    members = subproblem.columns.members
    return tuple(
        tuple(
            tuple(int(d) for d in members[c] if d >= 0)
            for c in sorted(columns, key=lambda c: (-subproblem.columns.size[c], *members[c]))
        )
        for columns in chosen
    )
