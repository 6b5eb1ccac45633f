"""The next move on the bench: stop, read again, swap named discs, or build anew.

Certified is by the chance that the TRUE loads are within tolerance, never by the spread of the
readings: after "the readings agree" sets are truly matched much less often than it seems. Until
then that is done which leads there in the fewest minutes of a person's work.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import permutations
from typing import Literal

import numpy as np

from optimizer.bench.after import After
from optimizer.bench.ahead import HOPE, Ahead, look_ahead
from optimizer.bench.moves import Move, judged_swaps, options
from optimizer.bench.outlook import anew
from optimizer.estimate.gauge import reading_variance, step_variance
from optimizer.estimate.learn import Learned, Loads, loads
from optimizer.estimate.loads import chance_of, weighted
from optimizer.estimate.probability import SEARCHED, spread_within
from optimizer.estimate.problem import Task
from optimizer.mechanics.disc import Array
from optimizer.model.job import Effort
from optimizer.model.stack import Stack, StackSet, shim_totals

Kind = Literal["stop", "reread", "swap", "rebuild", "leave"]

#: what a set must promise before it is certified
STOP_AT = 0.9
#: chance that taking stacks apart which agree, but off the target, must be worth; a choice
COST_APART = 0.2
#: chance of the level below which a rebuild towards the target is thought of
OFF_TARGET = 0.5
#: least gain in chance for which a move is offered: what is shown is a whole per cent
GAIN = 0.01
#: futures drawn for the chance that the next reading certifies the set
FUTURES = 200


@dataclass(frozen=True)
class Advice:
    """What to do next and why; chances are after the readings so far.

    `chance_reread` is the chance that another reading of what stands reaches the chance to
    stop at, `chance_then` that a reading after the move advised does; `moves` are ranked, the
    first is the one advised when `kind` is swap or rebuild, and none gains nothing but that one,
    where a reading of it promises more. `anywhere` tells that no move reaches the target, so that
    moves are ranked by how alike the shoes get. `leave` is for what neither a move nor a
    reading betters.
    """

    kind: Kind
    chance_now: float
    chance_on_target: float
    loads: Loads
    chance_reread: float
    moves: tuple[Move, ...]
    chance_then: float | None = None
    anywhere: bool = False

    @property
    def advised(self) -> Move | None:
        """The move that is decided on; None where nothing is to be moved."""
        return self.moves[0] if self.kind in ("swap", "rebuild") and self.moves else None


def next_move(
    learned: Learned,
    task: Task,
    stacks: tuple[Stack, ...],
    shims_mm: Sequence[float],
    width_n: float,
    rebuild: Callable[[], StackSet | None],
    stop_at: float = STOP_AT,
    effort: Effort = Effort(),  # noqa: B008 - a frozen value
) -> Advice:
    """Weigh stopping, reading again, swaps and a rebuild.

    Parameters
    ----------
    learned, task : what is known; the task poses the learned discs
    stacks, shims_mm : what stands under each shoe (S)
    width_n : spread tolerance in N
    rebuild : gives the best assignment of the learned discs; asked only where swaps promise little
    stop_at : chance at which to stop
    effort : minutes of each piece of work
    """
    now = loads(learned, stacks, shims_mm)
    within, on_target = judged(now, task, width_n)

    def chance(after: Loads) -> float:
        return certified(learned, after, task.weight, width_n, stop_at)

    again, off_target = chance(now), on_target < OFF_TARGET
    said = Advice("stop", within, on_target, now, again, ())
    if within >= stop_at and not off_target:
        return said
    ahead = look_ahead(learned, task, stacks, now, width_n, stop_at, effort)
    weighed = cache(lambda: judged_swaps(ahead))  # ranked twice where the target is out of reach
    swaps = options(ahead, weighed) if within < stop_at else []
    little = not swaps or swaps[0].in_all > anew(effort, len(stacks))
    built = rebuild() if off_target or little else None

    def ranked(swaps: list[Move], anywhere: bool) -> list[Move]:
        whole = [] if built is None else [_rebuilt(ahead, built, anywhere)]
        return sorted(swaps + whole, key=lambda move: move.in_all)

    found = ranked(swaps, False)
    if within >= stop_at and not (found and found[0].both > within * on_target + COST_APART):
        return said
    anywhere = off_target and all(move.on_target < OFF_TARGET for move in found)
    if anywhere:  # alike off the target is better than unlike there
        found = ranked(options(ahead, weighed, anywhere=True), True)
    gaining = [move for move in found if gains(move, within, on_target, anywhere)]
    said = replace(said, kind="reread", moves=tuple(gaining), anywhere=anywhere)
    reading = len(stacks) * effort.reading
    for best in found:
        then = loads(learned, best.stacks, best.shims_mm(shims_mm))
        if best not in gaining and not ahead.nearer(then):
            continue
        anyway = off_target and not best.exchanges
        if again > HOPE and reading < again * best.in_all and not anyway:
            return said
        return replace(
            said,
            kind="swap" if best.exchanges else "rebuild",
            moves=(best, *(move for move in gaining if move is not best)),
            chance_then=chance(then),
        )
    return said if again > HOPE else replace(said, kind="leave")


def gains(option: Move, within: float, on_target: float, anywhere: bool = False) -> bool:
    """Whether a move betters both chances together, or the one at no cost to the other.

    `anywhere` as in `moves.options`.
    """
    both = option.both - within * on_target
    alone = option.chance - within if anywhere or option.on_target > on_target - GAIN else 0.0
    return max(both, alone) >= GAIN


def judged(after: Loads, task: Task, width_n: float) -> tuple[float, float]:
    """Chances that the true spread is within the width, and that the mean is near the target.

    To the precision of shown numbers.
    """
    found = chance_of(task, after.mean_n, after.covariance_n2, width_n)
    return found.within_tolerance, found.on_target


def certified(
    learned: Learned, after: Loads, weight: Array, width_n: float, stop_at: float
) -> float:
    """Chance that one reading of every stack brings the chance to `stop_at`.

    Notes
    -----
    A reading turns the covariance C of the loads into C - T and moves their mean by a draw from
    N(0, T), with T as `told_n2` says.
    """
    cover = after.covariance_n2
    told = told_n2(learned, after)
    values, vectors = np.linalg.eigh(told)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    drawn = np.random.default_rng(0).standard_normal((FUTURES, len(cover)))
    mean = after.mean_n + drawn @ root.T
    left = weighted(cover - told, weight)
    reached = spread_within(mean * weight, left, width_n, SEARCHED) >= stop_at
    return float(reached.mean())


def told_n2(learned: Learned, after: Loads) -> Array:
    """Part (S, S) in N^2 of the covariance of loads that one reading of every stack takes away.

    Notes
    -----
    B S^-1 B', where B is the covariance of loads and readings and S that of the readings. A
    display rounds what was read before as it did: its error is in both.
    """
    gauge = learned.rig.gauge
    with_step = after.slope @ learned.covariance @ after.rounding.T
    step = after.rounding @ learned.covariance @ after.rounding.T
    noise = reading_variance(gauge, after.rate)
    noise -= step_variance(gauge, after.rate) * after.rounding.any(1)
    both = after.covariance_n2 + with_step
    told: Array = both @ np.linalg.solve(both + with_step.T + step + np.diag(noise), both.T)
    return (told + told.T) / 2


def _rebuilt(ahead: Ahead, built: StackSet, anywhere: bool) -> Move:
    """Judge a rebuild, its stacks put where the fewest discs change their shoe."""
    learned, task, stacks = ahead.learned, ahead.task, ahead.stacks
    new, shims = built
    before, after = ([{d for p in s for d in p} for s in which] for which in (stacks, new))
    order: tuple[int, ...] = tuple(range(len(stacks)))
    if task.alike and len(set(shims)) == 1 and len(stacks) <= 4:
        order = max(
            permutations(order),
            key=lambda o: sum(len(b & after[k]) for b, k in zip(before, o, strict=True)),
        )
    placed = tuple(new[k] for k in order)
    moved = len(set().union(*(after[k] - b for b, k in zip(before, order, strict=True))))
    then = loads(learned, placed, shim_totals(shims))
    within, on_target = judged(then, task, ahead.outlook.width_n)
    apart = np.array([not learned.standing.stands(s, p) for s, p in enumerate(placed, 1)])
    one = After(then.mean_n[None], then.covariance_n2[None], apart[None])
    minutes, to_come = ahead.minutes(one, np.array([moved]), np.array([on_target]), anywhere)
    return Move((), placed, within, on_target, moved, shims, float(minutes[0]), float(to_come[0]))
