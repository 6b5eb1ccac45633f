"""Arrangements worth trying: patterns and shims that the bag's packets could fit at all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement, islice, product

import numpy as np

from optimizer.estimate.problem import Task, constants
from optimizer.frozen import frozen_arrays
from optimizer.match.nominal_curves import NominalCurves, nominal_curves
from optimizer.match.packets import PacketTable, columns, complete, reach_n
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.model.pattern import Pattern, patterns
from optimizer.model.stack import Shims

#: unlike patterns are combined from this many of the most promising ones, and so many ways
MIXED_FROM = 6
MOST_MIXED = 300


@dataclass(frozen=True)
class Arrangement:
    """The pattern and shims of every stack; `low_cost` is an optimistic variance in mm^2."""

    patterns: tuple[Pattern, ...]
    shims: Shims
    low_cost: float


@dataclass(frozen=True)
class Layouts:
    """A task with its packets, their nominal curves, and the arrangements that may be on target.

    `choices` come most promising first; there are none where no packet bears the target.
    """

    task: Task
    table: PacketTable
    nominal: NominalCurves
    choices: Sequence[Arrangement]

    @staticmethod
    def of(task: Task, choices: Sequence[Arrangement] | None = None) -> Layouts:
        """Tabulate the packets of a task, and list its arrangements where none are given."""
        table = columns(task)
        if choices is None:
            choices = arrangements(task, table) if len(table.size) else ()
        return Layouts(task, table, nominal_curves(task, table), choices)


@dataclass(frozen=True)
@frozen_arrays
class Reach:
    """Sums of the k least and greatest values of packets of each size, k = 0, 1, ...

    A bound on what any packets can add up to, since it ignores that they share discs.
    """

    least: dict[int, Array]
    most: dict[int, Array]

    @staticmethod
    def of(size: Index, values_low: Array, values_high: Array) -> Reach:
        """Sort and sum the values of packets (M) of some sizes, size by size."""
        least, most = {}, {}
        for k in (1, 2, 3):
            rows = size == k
            least[k] = np.concatenate([[0.0], np.cumsum(np.sort(values_low[rows]))])
            most[k] = np.concatenate([[0.0], np.cumsum(np.sort(values_high[rows])[::-1])])
        return Reach(least, most)

    def range(self, group: Iterable[Pattern], times: int = 1) -> tuple[float, float]:
        """Least and greatest sum of the packets of some patterns, each so many times.

        None lies between the two, inf and -inf, where there are fewer packets.
        """
        low = high = 0.0
        for size, counts in enumerate(zip(*(p.counts for p in group), strict=True), 1):
            count = times * sum(counts)
            if count >= len(self.least[size]):
                return np.inf, -np.inf
            low += self.least[size][count]
            high += self.most[size][count]
        return low, high


def arrangements(task: Task, table: PacketTable) -> list[Arrangement]:
    """List arrangements that may reach the target within tolerance, most promising first.

    Every test is necessary: an arrangement left out cannot be built within the tolerance.
    """
    constant, free = _constants(task, table), Reach.of(table.size, table.free_mm, table.free_mm)
    cost = Reach.of(table.size, table.variance_mm2, table.variance_mm2)
    most = len(task.usable) // task.shoes
    kinds = patterns(task.rules.packet_sizes, task.rules.discs_to(most))
    groups = [g for p in kinds if _height_fits(task, free, g := (p,) * task.shoes)]
    if not task.rules.same_pattern:
        single = _single_kinds(task, table)
        near = sorted(single, key=lambda p: cost.range((p,))[0])[:MIXED_FROM]
        mixed = (g for g in _mixtures(task, near) if len(set(g)) > 1)
        groups += [g for g in islice(mixed, MOST_MIXED) if _height_fits(task, free, g)]
    shims = shims_of(task)
    rooms = [float(task.required_travel_mm(task.travel_mm, choice).sum()) for choice in shims]
    found = []
    for group in groups:
        (low, high), (low_cost, _) = constant.range(group), cost.range(group)
        for choice, room in zip(shims, rooms, strict=True):
            if low <= room <= high:
                found.append(Arrangement(group, choice, low_cost))
    return sorted(found, key=lambda a: (sum(map(len, a.shims)), a.low_cost))


def nothing_fits(task: Task, table: PacketTable) -> bool:
    """Whether it is proven by sums alone that no set of any arrangement is on target."""
    return complete(task) and not _single_kinds(task, table)


def every_arrangement(task: Task, table: PacketTable) -> bool:
    """Whether `arrangements` leaves out none that could be built within the tolerance.

    It does where shims are on hand, which it deals out evenly, where there are more patterns
    to combine than it does combine, and where the packets are not all there are.
    """
    if task.rules.shims_mm and task.datum.has_room:
        return False
    if task.rules.same_pattern or task.shoes == 1:
        return complete(task)
    single = _single_kinds(task, table)
    few = len(single) <= MIXED_FROM
    return complete(task) and few and sum(1 for _ in _mixtures(task, single)) <= MOST_MIXED


def _single_kinds(task: Task, table: PacketTable) -> list[Pattern]:
    """Patterns of which one stack could be built under some shoe, on any shims at hand."""
    most = len(task.usable)
    lowest, highest = task.rules.height_window_mm
    constant, free = _constants(task, table), Reach.of(table.size, table.free_mm, table.free_mm)
    bare = task.required_travel_mm(task.travel_mm)
    least, greatest = float(bare.min()), float(bare.max()) + sum(task.rules.shims_mm)
    found = []
    for pattern in patterns(task.rules.packet_sizes, task.rules.discs_to(most)):
        sums, heights = constant.range((pattern,)), free.range((pattern,))
        reaches = least <= sums[1] and sums[0] <= greatest
        if reaches and heights[0] <= highest and heights[1] >= lowest:
            found.append(pattern)
    fewest = min((p.discs for p in found), default=0)
    return [p for p in found if p.discs + (task.shoes - 1) * fewest <= most]


def _constants(task: Task, table: PacketTable) -> Reach:
    """What constants can add up to at the ends of the load tolerance."""
    tolerance = reach_n(task)
    low = constants(task, table.packets, task.target_n - tolerance)
    high = constants(task, table.packets, task.target_n + tolerance)
    return Reach.of(table.size, low.min(1), high.max(1))


def _height_fits(task: Task, free: Reach, group: tuple[Pattern, ...]) -> bool:
    """Whether stacks of these patterns could keep the window of free heights on average."""
    least, most = free.range(group)
    low, high = task.rules.height_window_mm
    return least <= high * task.shoes and most >= low * task.shoes


def _mixtures(task: Task, kinds: list[Pattern]) -> Iterator[tuple[Pattern, ...]]:
    """Patterns of all stacks together; which shoe has which counts where the shoes differ."""
    if task.alike:
        groups: Iterator[tuple[Pattern, ...]] = combinations_with_replacement(kinds, task.shoes)
    else:
        groups = product(kinds, repeat=task.shoes)
    return (g for g in groups if sum(p.discs for p in g) <= len(task.usable))


def shims_of(task: Task) -> list[Shims]:
    """List the ways to shim the shoes of one clutch; none but nothing at a seating load."""
    if not task.datum.has_room:
        return [((),) * task.shoes]
    length = task.datum.lengths_mm(task.shoes)
    extra = tuple(float(x) for x in length - length.min())
    return shim_choices(task.rules.shims_mm, extra)


MOST_SHIMS = 3
STEP_MM = 1e-4
#: thicknesses tried at most, evenly over what the shims reach, and stacks of shims looked at
#: for each shoe
MOST_TOTALS, NEAREST = 150, 300
#: of two equally near the one of fewer shims
FEWER = 0.1


def shim_choices(on_hand_mm: tuple[float, ...], extra_mm: tuple[float, ...]) -> list[Shims]:
    """List ways to shim all shoes alike from the shims on hand, fewest shims first.

    Parameters
    ----------
    on_hand_mm : every entry is one shim
    extra_mm : how much more than the others each shoe wants, such as a deeper seat

    Returns
    -------
    For every reachable thickness, or so many of them, one choice: the shims of each shoe whose
    sums come nearest to that thickness plus the shoe's extra. No shim at all is the first.
    """
    places = range(len(on_hand_mm))
    subsets = [s for size in range(MOST_SHIMS + 1) for s in combinations(places, size)]
    steps = np.array([round(sum(on_hand_mm[k] for k in s) / STEP_MM) for s in subsets])
    count = np.array([len(s) for s in subsets])
    totals = np.unique(steps)
    if len(totals) > MOST_TOTALS:
        totals = totals[np.linspace(0, len(totals) - 1, MOST_TOTALS).astype(np.intp)]
    found: dict[Shims, None] = {}
    for total in totals:
        taken: set[int] = set()
        choice = []
        for extra in extra_mm:
            wanted = total + round(extra / STEP_MM)
            off = np.abs(steps - wanted) + FEWER * count
            order = np.argpartition(off, min(NEAREST, len(off) - 1))[: NEAREST + 1]
            order = order[np.lexsort((order, off[order]))]
            best = next((subsets[k] for k in order if taken.isdisjoint(subsets[k])), ())
            taken.update(best)
            choice.append(tuple(sorted((on_hand_mm[k] for k in best), reverse=True)))
        found[tuple(choice)] = None
    return sorted(found, key=lambda choice: sum(len(s) for s in choice))
