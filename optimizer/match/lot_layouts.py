"""Which patterns a lot could be dealt into, and how many sets each could give at most."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.match.layouts import Reach
from optimizer.match.packets import PacketTable, tabulate
from optimizer.match.result import surcharge
from optimizer.mechanics.disc import Array, Mask
from optimizer.model.pattern import MOST_PACKETS, Pattern
from optimizer.model.stack import Shims, shim_totals


@dataclass(frozen=True)
class LotLayout:
    """A pattern on shims, with the greatest number of sets that it could give.

    `off_n` is how far from its target the mean stack of so many sets stays at least; `loose`
    tells whether it hangs loose at rest; `cost` is the variance of its load in N^2 with the
    surcharge on what is less steady.
    """

    pattern: Pattern
    shims: Shims
    bound: int
    off_n: float
    loose: bool
    cost: float


def like_packets(task: Task, size: int) -> PacketTable:
    """Tabulate, for every usable disc, the packet of `size` discs just like it."""
    members = np.repeat(task.usable[:, None], size, axis=1)
    return tabulate(task, members, task.packets(members))


def bears(task: Task, like: PacketTable, above_n: float = 0.0) -> Mask:
    """Tell which packets stay within the deflection limit so far above every target."""
    return like.limit_n >= float(task.target_n.max()) + above_n


def lot_layouts(
    task: Task, like: dict[int, PacketTable], shims: Shims, most: int
) -> list[LotLayout]:
    """Patterns that could give a set on some shims, with how many they could give."""
    room = shimmed(task, shims).required_travel_mm(task.travel_mm)
    tolerance = task.load_tolerance_n / task.weight
    fit = {k: one.take(np.flatnonzero(bears(task, one))) for k, one in like.items()}
    low = [(c.constant_mm - c.compliance * tolerance).min(1) for c in fit.values()]
    high = [(c.constant_mm + c.compliance * tolerance).max(1) for c in fit.values()]
    size = np.repeat(list(fit), [len(values) for values in low])
    none = [np.zeros(0)]
    reach = Reach.of(size, np.concatenate(none + low), np.concatenate(none + high))
    found = []
    for pattern in _patterns(task, reach, room):
        kinds = pattern.by_size

        def too_many(sets: int, pattern: Pattern = pattern) -> bool:
            least, greatest = reach.range((pattern,), sets * task.shoes)
            return not least <= sets * room.sum() <= greatest

        top = min(most, len(task.usable) // (pattern.discs * task.shoes))
        count = bisect_left(range(1, top + 1), True, key=too_many)
        if count and _height_fits(task, fit, kinds):
            cost = _cost(fit, kinds) * surcharge((pattern,))
            off = _off_target(task, like, kinds, count * task.shoes, float(room.mean()))
            loose = _loose(task, fit, kinds)
            found.append(LotLayout(pattern, shims, count, off, loose, cost))
    return found


def shimmed(task: Task, shims: Shims) -> Task:
    """The same task with rooms shorter by the shims of each shoe."""
    if not any(shims):
        return task
    return replace(task, datum=task.datum.with_shims(np.array(shim_totals(shims))))


def _off_target(
    task: Task, like: dict[int, PacketTable], kinds: dict[int, int], stacks: int, room_mm: float
) -> float:
    """Least distance in N of the mean of so many stacks from the target, all discs nested alike."""
    able = np.flatnonzero(bears(task, like[max(kinds)]))
    value = np.sort(sum(n * like[k].constant_mm[able].mean(1) for k, n in kinds.items()))
    count = min(stacks * sum(k * n for k, n in kinds.items()), len(value))
    low, high = value[:count].mean(), value[len(value) - count :].mean()
    yielding = sum(n * float(like[k].compliance[able].mean()) for k, n in kinds.items())
    return float(max(low - room_mm, room_mm - high, 0.0)) / yielding


def _cost(fit: dict[int, PacketTable], kinds: dict[int, int]) -> float:
    """Variance in N^2 of the load of the mean stack."""
    variance = sum(n * float(fit[k].variance_mm2.mean()) for k, n in kinds.items())
    yielding = sum(n * float(fit[k].compliance.mean()) for k, n in kinds.items())
    return variance / yielding**2


def _loose(task: Task, fit: dict[int, PacketTable], kinds: dict[int, int]) -> bool:
    """Whether the mean stack gives less at work than the travel, so that it is free at rest."""
    if not task.datum.has_room:
        return False
    deflection = sum(
        n * float((fit[k].free_mm + fit[k].constant_mm.mean(1)).mean()) for k, n in kinds.items()
    )
    return deflection <= float(task.travel_mm.max())


def _patterns(task: Task, reach: Reach, room_mm: Array) -> Iterator[Pattern]:
    """Yield patterns between whose least and greatest stack a room lies."""
    sizes = np.array([1, 2, 3])
    # the least and the greatest constant of each size, 0 for a size that there is none of
    least, greatest = (
        np.array([sums[k][1] if len(sums[k]) > 1 else 0.0 for k in (1, 2, 3)])
        for sums in (reach.least, reach.most)
    )
    low, high = task.rules.discs_to(len(task.usable) // task.shoes)
    most = np.where((least != 0) | (greatest != 0), np.minimum(high // sizes, MOST_PACKETS), 0)
    grid = np.stack(np.meshgrid(*(np.arange(m + 1) for m in most), indexing="ij"), axis=-1)
    grid = grid.reshape(-1, 3)
    discs = grid @ sizes
    fit = (discs >= max(low, 1)) & (discs <= high) & (grid.sum(1) <= MOST_PACKETS)
    fit &= (grid @ least <= room_mm.max()) & (grid @ greatest >= room_mm.min())
    for row in grid[fit]:
        yield Pattern(*(int(count) for count in row))


def _height_fits(task: Task, fit: dict[int, PacketTable], kinds: dict[int, int]) -> bool:
    low, high = task.rules.height_window_mm
    shortest = sum(n * float(fit[k].free_mm.min()) for k, n in kinds.items())
    tallest = sum(n * float(fit[k].free_mm.max()) for k, n in kinds.items())
    return shortest <= high and tallest >= low
