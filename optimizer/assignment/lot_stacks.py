"""A lot dealt into stacks of one pattern: choose, nest, deal, even out, compute exactly."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer.arrangement.pattern import Pattern
from optimizer.assignment.columns import Columns, columns_of
from optimizer.assignment.dealing import Dealing, Units, choose, even_out, snake
from optimizer.assignment.frame import Frame, frame
from optimizer.assignment.levels import Levels
from optimizer.assignment.limits import Limits
from optimizer.assignment.lot_ways import Way
from optimizer.assignment.problem import Task
from optimizer.assignment.result import Assigned
from optimizer.assignment.search import INSIDE, stacks_of
from optimizer.assignment.solver import Matched
from optimizer.physics.packet import Index, limit_load, nesting_order
from optimizer.physics.stack import (
    Datum,
    Installed,
    deflection,
    free_height,
    required_deflection,
    stack_load,
)

#: rounding of a free height that is no breach of its window
HEIGHT_MM = 1e-6


def deal(
    task: Task,
    like: dict[int, Columns],
    level: Levels,
    way: Way,
    spread_n: float,
    limits: Limits,
    rng: np.random.Generator,
) -> tuple[Matched, ...]:
    """Deal the lot into stacks of one pattern; the sets that match, best first."""
    pattern = way.pattern
    kinds = {k: n for k, n in enumerate(pattern.counts, 1) if n}
    width = max(kinds)
    used = _discs(task, like, kinds, way.bound * task.shoes)
    members = _nest(task, used, pattern, width)
    table = columns_of(task, np.concatenate([members, _spare(task, used, min(kinds), width)]))
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
    return _matched(task, made, dealt.place[_in_sets(dealt, shoe, task.shoes)], spread_n)


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


def _nest(task: Task, used: Index, pattern: Pattern, width: int) -> Index:
    """Nest discs with neighbours in cone height: packets (U, width), -1 where shorter.

    Discs in order of cone height are cut into runs of one stack's number; each run gives
    the packets of one stack, so every size gets discs from all over the lot. What is left
    of a diameter becomes single discs.
    """
    starts = np.cumsum([0, *pattern.sizes])
    packed = [np.zeros((0, width), dtype=np.intp)]
    for group in _by_diameter(task, used):
        runs = len(group) // pattern.discs
        block = group[: runs * pattern.discs].reshape(runs, pattern.discs)
        for size, start in zip(pattern.sizes, starts[:-1], strict=True):
            packed.append(_padded(block[:, start : start + size], width))
        packed.append(_padded(group[runs * pattern.discs :, None], width))
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


def _spare(task: Task, used: Index, size: int, width: int) -> Index:
    """Packets of the discs left over, of the smallest size of the pattern."""
    left = np.setdiff1d(task.usable, used)
    return _nest(task, left, Pattern(*(int(k == size) for k in (1, 2, 3))), width)


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


def _in_sets(dealt: Dealing, shoe: Index, shoes: int) -> Index:
    """Stack numbers (sets, S): stacks that follow each other in load, each under its shoe."""
    order = np.argsort(dealt.off[:, 0], kind="stable")
    if not shoe.any():
        return order.reshape(-1, shoes)
    return np.stack([order[shoe[order] == i] for i in range(shoes)], axis=-1)


def _matched(task: Task, made: Frame, place: Index, spread_n: float) -> tuple[Matched, ...]:
    """Compute the sets (K, S, P) of columns exactly; keep those that match, best first."""
    flat = place.reshape(-1, place.shape[-1])
    flat = np.sort(flat, axis=1)  # packets of one size together, as the columns are
    p = made.columns.packets.take(flat)
    turns = len(place)
    datum: Datum = task.datum
    if isinstance(datum, Installed):
        length = np.broadcast_to(datum.length_mm, (task.shoes,))
        datum = Installed(np.tile(length, turns))
    worn = required_deflection(p, datum, np.tile(task.worn_travel_mm, turns))
    good = worn < deflection(p, limit_load(p).min(-1))
    if task.rules.free_height_mm is not None:
        low, high = task.rules.free_height_mm
        height = free_height(p)
        good &= (height >= low - HEIGHT_MM) & (height <= high + HEIGHT_MM)
    whole = np.flatnonzero(good.reshape(turns, -1).all(1))
    if not len(whole):
        return ()
    place = flat.reshape(place.shape)[whole]
    p = made.columns.packets.take(place.reshape(-1, place.shape[-1]))
    if isinstance(datum, Installed):
        datum = Installed(np.tile(length, len(whole)))
    rest, work, worn = (
        stack_load(p, datum, np.tile(travel, len(whole))).reshape(len(whole), -1)
        for travel in (np.zeros(task.shoes), task.travel_mm, task.worn_travel_mm)
    )
    spread = np.ptp(work * task.weight, axis=1)
    off = np.abs((work - task.target_n) * task.weight).max(1)
    keep = np.flatnonzero((spread <= spread_n) & (off <= task.load_tolerance_n))
    found = []
    for k in keep[np.argsort(spread[keep], kind="stable")]:
        stacks = stacks_of(made, tuple(place[k]))
        cost = float(made.cost[place[k]].sum())
        answer = Assigned(stacks, made.shims, made.patterns, rest[k], work[k], worn[k], cost)
        proven = bool(spread[k] <= task.resolution_n)
        found.append(Matched(answer, proven, 0.0, None, ()))
    return tuple(found)
