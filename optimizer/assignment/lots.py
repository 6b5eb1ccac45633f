"""Lots: as many matched sets as hundreds or thousands of discs admit.

One pattern for all sets: the one that the lot admits most sets of. The discs that bring the
mean stack to its target are chosen, nested with their neighbours in cone height, dealt to
all stacks at once and evened out; sorted by load, stacks that follow each other are a set.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.arrangement.pattern import MOST_PACKETS, Pattern
from optimizer.assignment.columns import Columns, columns, columns_of
from optimizer.assignment.dealing import Dealing, Units, choose, even_out, snake
from optimizer.assignment.frame import Frame, frame
from optimizer.assignment.levels import Levels, levels
from optimizer.assignment.limits import Limits, Report, quiet
from optimizer.assignment.problem import Task
from optimizer.assignment.refusal import refuse
from optimizer.assignment.result import Assigned, StackDiscs, key, members_of, surcharge
from optimizer.assignment.search import INSIDE
from optimizer.assignment.solver import Matched
from optimizer.errors import InputError, Problem
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index, packets
from optimizer.physics.stack import Datum, Installed, stack_load

#: patterns dealt before the best result is taken
MOST_TRIED = 4
#: discs on which loads at other travels are tabulated
SAMPLE = 40
#: part of the load tolerance that the mean of all stacks may use up
LEVEL_SHARE = 0.9


@dataclass(frozen=True)
class Lots:
    """Matched sets of one pattern, the proven greatest number of them, and the share reached.

    The bound holds for sets of one pattern whose nested discs are of like cone height, and
    is no greater than the number asked for.
    """

    sets: tuple[Matched, ...]
    bound: int
    share: float


@dataclass(frozen=True)
class _Way:
    """A pattern with the greatest number of sets that it could give."""

    pattern: Pattern
    bound: int
    cost: float


def match_lots(
    task: Task,
    sets: int | None,
    spread_n: float,
    limits: Limits,
    seed: int = 0,
    report: Report = quiet,
) -> Lots:
    """Deal a lot into `sets` matched sets, or as many as it admits when None.

    Parameters
    ----------
    spread_n : spread up to which a set counts as matched, on the exact mechanics

    Raises
    ------
    CannotBuildError
        when not one set can be built; says what binds.
    InputError
        when the job asks for certain discs, which has no meaning for a lot.
    """
    _check(task)
    report("looking at the lot", 0.0)
    like = {k: _like(task, k) for k in task.rules.packet_sizes}
    like = {k: table for k, table in like.items() if len(table.size)}
    ways = _ways(task, like, sets or len(task.usable))
    if not ways:
        raise refuse(_sample(task), columns(_sample(task)))
    level = levels(_sample(task), columns(_sample(task)))
    best: tuple[Matched, ...] = ()
    bound = max(way.bound for way in ways)
    for at, way in enumerate(ways[:MOST_TRIED]):
        if way.bound <= len(best) or (best and limits.over()):
            break
        report(f"dealing {way.bound} sets", at / MOST_TRIED)
        rng = np.random.default_rng([seed, at])
        found = _deal(task, like, level, way, spread_n, limits, rng)
        if len(found) > len(best):
            best = found
    if not best:
        raise refuse(_sample(task), columns(_sample(task)))
    return Lots(best[:sets], bound, len(best[:sets]) / bound)


def _check(task: Task) -> None:
    if len(task.use) or task.together:
        raise InputError(
            Problem(
                "names discs to use or to keep together, which several sets cannot heed.",
                "[stack] use, together",
                "Take these keys out of the job, or match a single set.",
            )
        )


def _sample(task: Task) -> Task:
    """The same task with a few discs from all over the lot."""
    order = task.usable[np.argsort(task.discs.cone_height_mm[task.usable], kind="stable")]
    places = np.unique(np.linspace(0, len(order) - 1, SAMPLE).astype(np.intp))
    return replace(task, usable=order[places])


def _like(task: Task, size: int) -> Columns:
    """For every usable disc the packet of `size` discs just like it."""
    return columns_of(task, np.repeat(task.usable[:, None], size, axis=1))


def _ways(task: Task, like: dict[int, Columns], most: int) -> list[_Way]:
    """Patterns by the number of sets they could give, then evenness, then doubt."""
    room = task.room_mm(task.travel_mm, np.zeros(task.shoes))
    tolerance = task.load_tolerance_n / task.weight
    low = {k: (c.constant_mm - c.compliance * tolerance).min(1) for k, c in like.items()}
    high = {k: (c.constant_mm + c.compliance * tolerance).max(1) for k, c in like.items()}
    least = {k: np.concatenate([[0.0], np.cumsum(np.sort(v))]) for k, v in low.items()}
    greatest = {k: np.concatenate([[0.0], np.cumsum(np.sort(v)[::-1])]) for k, v in high.items()}
    ends = np.zeros((4, 2))
    for k in like:
        ends[k] = low[k].min(), high[k].max()
    ways = []
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
        if count and _height_fits(task, like, kinds):
            cost = sum(n * float(like[k].variance_mm2.mean()) for k, n in kinds.items())
            ways.append(_Way(pattern, count, cost * surcharge((pattern,))))
    return sorted(ways, key=lambda way: (-way.bound, way.cost))


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


def _height_fits(task: Task, like: dict[int, Columns], kinds: dict[int, int]) -> bool:
    low, high = task.rules.free_height_mm or (0.0, np.inf)
    shortest = sum(n * float(like[k].free_mm.min()) for k, n in kinds.items())
    tallest = sum(n * float(like[k].free_mm.max()) for k, n in kinds.items())
    return shortest <= high and tallest >= low


def _deal(
    task: Task,
    like: dict[int, Columns],
    level: Levels,
    way: _Way,
    spread_n: float,
    limits: Limits,
    rng: np.random.Generator,
) -> tuple[Matched, ...]:
    """Deal the lot into stacks of one pattern; the sets that match, best first."""
    pattern = way.pattern
    kinds = {k: n for k, n in enumerate(pattern.counts, 1) if n}
    used = _discs(task, like, kinds, way.bound * task.shoes)
    members = _nest(task, used, pattern)
    table = columns_of(task, np.concatenate([members, _spare(task, used, min(kinds))]))
    made = frame(task, table, level, (pattern,) * task.shoes, ((),) * task.shoes)
    if made is None:
        return ()
    units = _units(task, made)
    chosen = np.flatnonzero(np.isin(made.columns.members[:, 0], used))
    sets = min(int((units.kind[chosen] == k).sum()) // n for k, n in kinds.items()) // task.shoes
    if not sets:
        return ()
    shoe = np.tile(np.arange(len(units.room)), sets * task.shoes // len(units.room))
    dealt = even_out(units, snake(units, chosen, kinds, shoe), shoe, rng, limits.over)
    stacks = [stack for stack in _in_sets(dealt, shoe, sets, task.shoes)]
    return _matched(task, made, np.array(stacks), pattern, spread_n)


def _discs(task: Task, like: dict[int, Columns], kinds: dict[int, int], stacks: int) -> Index:
    """Choose the discs whose mean stack is nearest the target, of little doubt."""
    every = task.usable
    value, cost = np.zeros(len(every)), np.zeros(len(every))
    fit = np.ones(len(every), dtype=bool)
    for k, n in kinds.items():
        place = np.searchsorted(every, like[k].members[:, 0])
        fit &= np.isin(np.arange(len(every)), place)
        value[place] += n * like[k].constant_mm.mean(1)
        cost[place] += n * like[k].variance_mm2
    rows = np.flatnonzero(fit)
    size = sum(k * n for k, n in kinds.items())
    count = min(stacks, len(rows) // size) * size
    if not count:
        return np.zeros(0, dtype=np.intp)
    room = task.room_mm(task.travel_mm, np.zeros(task.shoes)).mean()
    same = np.zeros(len(rows), dtype=np.intp)
    chosen = choose(value[rows], cost[rows], same, {0: count}, count * float(room))
    picked: Index = every[rows[chosen]]
    return picked


def _nest(task: Task, used: Index, pattern: Pattern) -> Index:
    """Nest discs with neighbours in cone height: packets (U, m), -1 where shorter.

    Discs in order of cone height are cut into runs of one stack's number; each run gives
    the packets of one stack, so every size gets discs from all over the lot. What is left
    of a diameter becomes single discs.
    """
    most = max(pattern.sizes)
    starts = np.cumsum([0, *pattern.sizes])
    packed = []
    for group in _by_diameter(task, used):
        runs = len(group) // pattern.discs
        block = group[: runs * pattern.discs].reshape(runs, pattern.discs)
        for size, start in zip(pattern.sizes, starts[:-1], strict=True):
            packed.append(_padded(block[:, start : start + size], most))
        packed.append(_padded(group[runs * pattern.discs :, None], most))
    return np.concatenate(packed)


def _by_diameter(task: Task, discs: Index) -> Iterator[Index]:
    """Yield the discs of each diameter, tallest cone first."""
    d = task.discs
    rows = discs[nesting_order(d.cone_height_mm[discs])]
    _, kind = np.unique(np.stack([d.od_mm, d.id_mm])[:, rows], axis=1, return_inverse=True)
    for k in range(int(kind.max(initial=-1)) + 1):
        yield rows[kind == k]


def _padded(members: Index, width: int) -> Index:
    return np.pad(members, ((0, 0), (0, width - members.shape[1])), constant_values=-1)


def _spare(task: Task, used: Index, size: int) -> Index:
    """Packets of the discs left over, of the smallest size of the pattern."""
    left = np.setdiff1d(task.usable, used)
    return _nest(task, left, Pattern(*(int(k == size) for k in (1, 2, 3))))


def _units(task: Task, made: Frame) -> Units:
    """The frame as units to deal: its rows, and the height window as one more."""
    values = [row.constant_n for row in made.rows]
    room = [row.room_n for row in made.rows]
    slack = [INSIDE * row.window_n / 2 for row in made.rows]
    free = [row.centred for row in made.rows]
    if task.rules.free_height_mm is not None:
        low, high = (mm * made.rate_n_per_mm for mm in task.rules.free_height_mm)
        height = made.columns.free_mm * made.rate_n_per_mm
        values.append(np.repeat(height[:, None], task.shoes, axis=1))
        room.append(np.full(task.shoes, (low + high) / 2))
        slack.append(max((high - low) / 2, 1e-9))
        free.append(False)
    stacked, rooms = np.stack(values, axis=-1), np.stack(room, axis=-1)
    if made.alike:
        stacked, rooms = stacked[:, :1], rooms[:1]
    return Units(stacked, made.columns.size, rooms, np.array(slack), np.array(free))
