"""Small bags: list every possible stack, then pick disjoint ones. Exact and complete.

Where a bag is so small that its stacks can all be written down, their loads are computed
on the exact mechanics and the best disjoint choice is found by enumeration, so the answer
is proven without any linear model.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import comb

import numpy as np

from optimizer.control import Limits, Report, Work
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.check import bears_worn, broken
from optimizer.match.layouts import Arrangement, Layouts
from optimizer.match.packets import PacketTable, stacks_of
from optimizer.match.result import LEEWAY, Assigned, Matched, exact, rank
from optimizer.match.subproblem import place_mm2
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.mechanics.stack import free_height, stack_load
from optimizer.model.pattern import Pattern

#: a bag with more possible stacks than this is not small
MOST_STACKS = 6000
#: counted work of looking whether a stack shares a disc with another
LOOK = 8
#: counted work for looking at every stack of a small bag
SMALL_WORK = 100_000_000


def listable(task: Task, choices: Sequence[Arrangement]) -> bool:
    """Whether every stack of every arrangement can be written down."""
    kinds = {
        (p, s) for choice in choices for p, s in zip(choice.patterns, choice.shims, strict=True)
    }
    return sum(_count(p, len(task.usable)) for p, _ in kinds) <= MOST_STACKS


def _count(pattern: Pattern, discs: int) -> int:
    """Number of stacks of a pattern when any discs may be nested."""
    count, left = 1, discs
    for size, times in enumerate(pattern.counts, 1):
        for already in range(times):
            count = count * comb(left, size) // (already + 1)
            left -= size
    return count


def every_stack(layouts: Layouts, limits: Limits, report: Report) -> tuple[Matched | None, bool]:
    """Find the best of all stacks that can be written down, and whether all were looked at."""
    task, best, work = layouts.task, None, Work(SMALL_WORK)
    for at, choice in enumerate(layouts.choices):
        report("listing every stack", at / len(layouts.choices))
        answer = _best_of(layouts, choice, limits, work)
        if answer is None or broken(task, answer):
            continue
        if best is None or rank(task, answer) < rank(task, best):
            best = answer
    complete = not limits.over() and work.left >= 0
    if best is None:
        return None, complete
    if complete:
        return Matched(best, True, best.spread_n(task.weight), 0.0, ()), True
    return Matched(best, False, 0.0, None, ("stopped before every stack was looked at",)), False


def _best_of(layouts: Layouts, choice: Arrangement, limits: Limits, work: Work) -> Assigned | None:
    """Find the best set of an arrangement by enumeration; None when there is none.

    It is the best, and None a proof, unless the limits or `work` are over by then.

    Raises
    ------
    MechanicsError
        never for a listed stack: those that would go flat are left out.
    """
    task = layouts.task
    stacks = _list(task, layouts.table, choice)
    nominal = layouts.nominal
    rate = float(np.mean([nominal.rate(p, nominal.target_n) for p in choice.patterns]))
    window = LEEWAY * task.resolution_n
    reach = 2 * task.load_tolerance_n
    best: tuple[tuple[float, ...], Assigned] | None = None
    while best is None and window < 2 * reach and not limits.over() and work.left >= 0:
        for picks in _disjoint(stacks, min(window, reach), task.shoes, limits, work):
            if not _allowed(task, stacks, picks):
                continue
            answer = _answer(layouts, stacks, picks, choice, rate)
            value = rank(task, answer)
            if best is None or value < best[0]:
                best = value, answer
        window *= 2
    return None if best is None else exact(task, best[1].stacks, choice.shims, best[1].cost)


@dataclass(frozen=True)
@frozen_arrays
class StackTable:
    """M possible stacks, sorted by weighted load deviation (M) in N.

    `chosen` (M) are the column numbers of each, `mask` (M) has a bit for each disc and, where shoes
    differ, one for the shoe; `shoe` (M) is 0 where any shoe will do. `load_n` (M, 3) are the
    loads at rest, at the travel and on a worn drum.
    """

    chosen: list[Index]
    mask: list[int]
    shoe: Index
    load_n: Array
    deviation_n: Array


def _list(task: Task, columns: PacketTable, choice: Arrangement) -> StackTable:
    same = task.alike and len(set(zip(choice.patterns, choice.shims, strict=True))) == 1
    bits = [sum(1 << int(d) for d in row if d >= 0) for row in columns.members]
    chosen, mask, shoe, loads, deviation = [], [], [], [], []
    for i in range(1 if same else task.shoes):
        rows = _combine(columns, bits, choice.patterns[i])
        if len(rows) == 0:
            continue
        load = _loads(task, columns, rows, i, choice.shims[i])
        off = (load[:, 1] - task.target_n[i]) * task.weight[i]
        bears = load[:, 1] <= columns.limit_n[rows].min(-1)
        own = 0 if same else 1 << (len(task.belief) + i)
        for k in np.flatnonzero((np.abs(off) <= task.load_tolerance_n) & bears):
            chosen.append(rows[k])
            mask.append(own | sum(bits[c] for c in rows[k]))
            shoe.append(i)
            loads.append(load[k])
            deviation.append(off[k])
    order = np.argsort(deviation, kind="stable")
    return StackTable(
        [chosen[k] for k in order],
        [mask[k] for k in order],
        np.array(shoe, dtype=np.intp)[order],
        np.array(loads).reshape(-1, 3)[order],
        np.array(deviation)[order],
    )


def _combine(columns: PacketTable, bits: list[int], pattern: Pattern) -> Index:
    """Column numbers (M, P) of every stack of a pattern whose packets share no disc."""
    found: list[tuple[tuple[int, ...], int]] = [((), 0)]
    for size, times in zip((3, 2, 1), reversed(pattern.counts), strict=True):
        rows = [int(r) for r in np.flatnonzero(columns.size == size)]
        for turn in range(times):
            found = [
                ((*before, row), taken | bits[row])
                for before, taken in found
                for row in rows
                if not taken & bits[row] and (turn == 0 or row > before[-1])
            ]
    return np.array([c for c, _ in found], dtype=np.intp).reshape(-1, pattern.packets)


def _loads(
    task: Task, columns: PacketTable, rows: Index, shoe: int, shims: tuple[float, ...]
) -> Array:
    """Loads (M, 3) of stacks at rest, work and worn; -inf where not allowed in height or worn."""
    p = columns.packets.take(rows)
    datum = task.datum_of(shoe)
    fit = bears_worn(task, p, datum, task.worn_travel_mm[shoe], sum(shims))
    (low, high), height = task.rules.height_window_mm, free_height(p)
    fit &= (height >= low) & (height <= high)
    load = np.full((len(rows), 3), -np.inf)
    travels = (0.0, task.travel_mm[shoe], task.worn_travel_mm[shoe])
    if fit.any():
        for at, travel in enumerate(travels):
            load[fit, at] = stack_load(p.take(np.flatnonzero(fit)), datum, travel, sum(shims))
    return load


def _disjoint(
    stacks: StackTable, window_n: float, count: int, limits: Limits, work: Work
) -> Iterator[tuple[int, ...]]:
    """Yield every choice of `count` disjoint stacks within a window of deviation, while it may."""
    deviation, mask = stacks.deviation_n, stacks.mask
    ends = np.searchsorted(deviation, deviation + window_n, side="right")

    def extend(picks: tuple[int, ...], taken: int, pool: list[int]) -> Iterator[tuple[int, ...]]:
        if len(picks) == count:
            yield picks
            return
        for at, k in enumerate(pool):
            if len(pool) - at < count - len(picks):
                return
            if not taken & mask[k]:
                if not work.spend(LOOK * (len(pool) - at)) or limits.over():
                    return
                rest = [j for j in pool[at + 1 :] if not mask[j] & mask[k]]
                yield from extend((*picks, k), taken | mask[k], rest)

    for first in range(len(deviation)):
        if not work.spend(LOOK * (int(ends[first]) - first)) or limits.over():
            return
        pool = [j for j in range(first + 1, int(ends[first])) if not mask[j] & mask[first]]
        yield from extend((first,), mask[first], pool)


def _allowed(task: Task, stacks: StackTable, picks: tuple[int, ...]) -> bool:
    """Whether discs that must be used are, and groups share a shoe."""
    masks = [stacks.mask[k] for k in picks]
    union = sum(masks)
    if not all(union >> int(d) & 1 for d in task.use):
        return False
    for group in task.together:
        bits = sum(1 << int(d) for d in group)
        if union & bits and not any(m & bits == bits for m in masks):
            return False
    return True


def _answer(
    layouts: Layouts,
    stacks: StackTable,
    picks: tuple[int, ...],
    choice: Arrangement,
    rate: float,
) -> Assigned:
    table = layouts.table
    order = sorted(picks, key=lambda k: int(stacks.shoe[k]))
    rows = [stacks.chosen[k] for k in order]
    variance = float(table.variance_mm2[np.concatenate(rows)].sum()) + place_mm2(layouts.task)
    discs = stacks_of([table.members[r] for r in rows])
    rest, work, worn = stacks.load_n[order].T
    cost = variance * rate**2
    return Assigned(discs, choice.shims, choice.patterns, rest, work, worn, cost)
