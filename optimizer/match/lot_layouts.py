"""Which patterns a lot could be dealt into, and how many sets each could give at most."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.match.packets import PacketTable, tabulate
from optimizer.match.result import surcharge
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import packets
from optimizer.model.pattern import MOST_PACKETS, Pattern


@dataclass(frozen=True)
class LotLayout:
    """A pattern with the greatest number of sets that it could give.

    `off_n` is how far from its target the mean stack of so many sets stays at least; `loose`
    tells whether it hangs loose at rest; `cost` is the variance of its load in N^2 with the
    surcharge on what is less steady.
    """

    pattern: Pattern
    bound: int
    off_n: float
    loose: bool
    cost: float


def like_packets(task: Task, size: int) -> PacketTable:
    """Tabulate, for every usable disc, the packet of `size` discs just like it."""
    members = np.repeat(task.usable[:, None], size, axis=1)
    return tabulate(task, members, packets(task.discs, members, task.model))


def bears(task: Task, like: PacketTable, above_n: float = 0.0) -> Mask:
    """Tell which packets stay within the deflection limit so far above every target."""
    return like.limit_n >= float(task.target_n.max()) + above_n


def lot_layouts(task: Task, like: dict[int, PacketTable], most: int) -> list[LotLayout]:
    """Patterns that could give a set, with how many they could give."""
    room = task.required_travel_mm(task.travel_mm)
    tolerance = task.load_tolerance_n / task.weight
    fit = {k: one.take(np.flatnonzero(bears(task, one))) for k, one in like.items()}
    low = {k: (c.constant_mm - c.compliance * tolerance).min(1) for k, c in fit.items()}
    high = {k: (c.constant_mm + c.compliance * tolerance).max(1) for k, c in fit.items()}
    least = {k: np.concatenate([[0.0], np.cumsum(np.sort(v))]) for k, v in low.items()}
    greatest = {k: np.concatenate([[0.0], np.cumsum(np.sort(v)[::-1])]) for k, v in high.items()}
    ends = np.zeros((4, 2))
    for k in fit:
        ends[k] = low[k].min(), high[k].max()
    found = []
    for pattern in _patterns(task, ends[1:], room):
        kinds = {k: n for k, n in enumerate(pattern.counts, 1) if n}

        def fits(sets: int, kinds: dict[int, int] = kinds) -> bool:
            t = sets * task.shoes
            need = {k: t * n for k, n in kinds.items()}
            if any(n >= len(least[k]) for k, n in need.items()):
                return False
            total = sets * room.sum()
            return bool(
                sum(least[k][n] for k, n in need.items()) <= total
                and sum(greatest[k][n] for k, n in need.items()) >= total
            )

        top = min(most, len(task.usable) // (pattern.discs * task.shoes))
        count = _greatest(fits, top)
        if count and _height_fits(task, fit, kinds):
            cost = _cost(fit, kinds) * surcharge((pattern,))
            off = _off_target(task, like, kinds, count * task.shoes, float(room.mean()))
            found.append(LotLayout(pattern, count, off, _loose(task, fit, kinds), cost))
    return found


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


def _greatest(fits: Callable[[int], bool], top: int) -> int:
    """Greatest number to `top` that fits, where what fits less is fitted by less."""
    low = 0
    while low < top:
        middle = (low + top + 1) // 2
        low, top = (middle, top) if fits(middle) else (low, middle - 1)
    return low


def _patterns(task: Task, ends_mm: Array, room_mm: Array) -> Iterator[Pattern]:
    """Yield patterns between whose least and greatest stack a room lies.

    `ends_mm` (3, 2) are the least and greatest constant of packets of each size, 0 for a
    size that there is none of.
    """
    sizes = np.array([1, 2, 3])
    low, high = task.rules.discs or (1, 3 * MOST_PACKETS)
    high = min(high, len(task.usable) // task.shoes)
    most = np.where(ends_mm.any(1), np.minimum(high // sizes, MOST_PACKETS), 0)
    grid = np.stack(np.meshgrid(*(np.arange(m + 1) for m in most), indexing="ij"), axis=-1)
    grid = grid.reshape(-1, 3)
    discs = grid @ sizes
    fit = (discs >= max(low, 1)) & (discs <= high) & (grid.sum(1) <= MOST_PACKETS)
    fit &= (grid @ ends_mm[:, 0] <= room_mm.max()) & (grid @ ends_mm[:, 1] >= room_mm.min())
    for row in grid[fit]:
        yield Pattern(*(int(count) for count in row))


def _height_fits(task: Task, fit: dict[int, PacketTable], kinds: dict[int, int]) -> bool:
    low, high = task.rules.free_height_mm or (0.0, np.inf)
    shortest = sum(n * float(fit[k].free_mm.min()) for k, n in kinds.items())
    tallest = sum(n * float(fit[k].free_mm.max()) for k, n in kinds.items())
    return shortest <= high and tallest >= low
