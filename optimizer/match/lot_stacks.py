"""A lot dealt into stacks of one pattern: choose, nest, deal, even out, compute exactly."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.problem import Task
from optimizer.match.bundles import bundles, discs_wanted, rows_of, spread, with_bundles
from optimizer.match.check import bears_worn, broken
from optimizer.match.dealing import Items, choose, deal_stacks
from optimizer.match.layouts import Arrangement, Layouts
from optimizer.match.local_search import INSIDE
from optimizer.match.lot_layouts import LotLayout, bears, shimmed
from optimizer.match.nominal_curves import NominalCurves
from optimizer.match.packets import PacketTable, columns_of
from optimizer.match.result import Assigned, Matched, discs_of
from optimizer.match.subproblem import Subproblem, subproblem
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index, nesting_order
from optimizer.mechanics.stack import stack_load
from optimizer.model.sizes import sizes
from optimizer.model.stack import Shims

#: sets are told to so many times the spread up to which they match
WIDER = 2.0
#: times a lot is dealt at most, and what is added in N to the load that its packets must bear
DEALT, ABOVE_N = 3, 0.5


def deal(
    task: Task,
    like: dict[int, PacketTable],
    nominal: NominalCurves,
    way: LotLayout,
    spread_n: float,
    limits: Limits,
    rng: np.random.Generator,
) -> tuple[Matched, ...]:
    """Deal the lot into stacks of one pattern; the sets, best first, to `WIDER` times the spread.

    A stack may come out above its target, and then a packet that bears the target alone is
    pressed too far. Where that is so, the lot is dealt again from packets that bear more.
    """
    best: tuple[Matched, ...] = ()
    above = 0.0
    task, use = shimmed(task, way.shims), len(task.use) > 0
    for _ in range(DEALT):
        made, place = _place(task, like, nominal, way, above, limits, rng)
        if made is None or (len(place) <= len(within(task, best, spread_n)) and not use):
            break
        found, above_now = _matched(task, made, way.shims, place, WIDER * spread_n)
        best = max(best, found, key=lambda sets: lot_objective(task, sets, spread_n))
        if above_now <= above or limits.over():
            break
        above = above_now
    return best


def within(task: Task, sets: Sequence[Matched], spread_n: float) -> tuple[Matched, ...]:
    """Return the sets that match."""
    return tuple(one for one in sets if one.answer.spread_n(task.weight) <= spread_n)


def lot_objective(task: Task, sets: Sequence[Matched], spread_n: float) -> tuple[int, int]:
    """Order dealings: discs to be used that are in sets that match, then the number of these."""
    match = within(task, sets, spread_n)
    return len(discs_of(match).intersection(task.use.tolist())), len(match)


def _place(
    task: Task,
    like: dict[int, PacketTable],
    nominal: NominalCurves,
    way: LotLayout,
    above_n: float,
    limits: Limits,
    rng: np.random.Generator,
) -> tuple[Subproblem | None, Index]:
    """Deal the lot into sets (K, S, P) of columns of a subproblem, none where there is no set."""
    pattern = way.pattern
    kinds = pattern.by_size
    fit = {k: bears(task, like[k], above_n) for k in kinds}

    def posed(members: Sequence[Index]) -> Subproblem | None:
        table = columns_of(task, np.concatenate([_as_wide(m, max(kinds)) for m in members]))
        alike, bare = (pattern,) * task.shoes, ((),) * task.shoes  # the rooms are less the shims
        return subproblem(Layouts(task, table, nominal, ()), Arrangement(alike, bare, 0.0), above_n)

    least = _least_size(task, fit)
    grouped = np.concatenate([np.zeros(0, dtype=np.intp), *task.together])
    able = fit[max(kinds)] & ~np.isin(task.usable, grouped)
    groups = bundles(task, pattern.counts, least)
    if groups:
        ready = posed(groups)
        bear = rows_of(ready.columns.members) if ready else {}
        groups = [one for one in groups if rows_of(one).keys() <= bear.keys()]
    held, wanted = spread(groups, pattern.counts, int(able.sum()), way.bound * task.shoes)
    in_bundles = np.concatenate([grouped[:0], *(groups[g].ravel() for g in held[held >= 0])])
    used = _discs(task, like, able, kinds, discs_wanted(wanted), in_bundles)
    rest = np.setdiff1d(task.usable, np.concatenate([used, grouped]))
    made = posed([*_nest(task, used, wanted, least), *_spare(task, rest, min(kinds)), *groups])
    none = np.zeros((0, task.shoes, pattern.packets), dtype=np.intp)
    if made is None:
        return None, none
    members = made.columns.members
    units, singles = with_bundles(_units(task, made), members, groups, task.use)
    chosen = np.flatnonzero(np.isin(members[:, 0], used))
    stacks = _enough(wanted, made.columns.size[chosen]) // task.shoes * task.shoes
    if not stacks:
        return None, none
    shoe = np.tile(np.arange(len(units.room)), stacks // len(units.room))
    counts = {k: wanted[:stacks, k - 1] for k in kinds}
    bundle = np.where(held >= 0, len(members) + held, len(singles) - 1)[:stacks]
    place, off = deal_stacks(units, chosen, counts, shoe, rng, limits.over, bundle)
    packets = singles[place[_in_sets(off, shoe, task.shoes)]]
    return made, packets[packets >= 0].reshape(-1, task.shoes, pattern.packets)


def _enough(wanted: Index, size: Index) -> int:
    """For how many stacks, from the first on, packets of some sizes (U) are enough."""
    sums = np.cumsum(wanted, axis=0)
    return min(
        int(np.searchsorted(sums[:, k - 1], (size == k).sum(), side="right")) for k in (1, 2, 3)
    )


def _discs(
    task: Task,
    like: dict[int, PacketTable],
    able: Mask,
    kinds: dict[int, int],
    loose: int,
    in_bundles: Index,
) -> Index:
    """Choose so many loose discs that the mean stack is nearest the target, of little doubt.

    Those that the job asks for are among them; `able` tells which usable ones may be, and
    `in_bundles` are discs that the stacks have already.
    """
    asked = np.isin(task.usable, task.use)
    rows, must = np.flatnonzero(able & ~asked), np.flatnonzero(able & asked)
    must = must[:loose]
    count = loose - len(must)
    if not count:
        return task.usable[must]
    value = np.asarray(sum(n * like[k].constant_mm.mean(1) for k, n in kinds.items()))
    cost = np.asarray(sum(n * like[k].variance_mm2[rows] for k, n in kinds.items()))
    room = float(task.required_travel_mm(task.travel_mm).mean())
    before = np.concatenate([must, np.flatnonzero(np.isin(task.usable, in_bundles))])
    total = (count + len(before)) * room - float(value[before].sum())
    same = np.zeros(len(rows), dtype=np.intp)
    chosen = choose(value[rows], cost, same, {0: count}, total)
    return np.sort(task.usable[np.concatenate([rows[chosen], must])])


def _least_size(task: Task, fit: dict[int, Mask]) -> Index:
    """For every disc number the smallest packet of the pattern that it bears to be in."""
    least = np.full(len(task.belief), max(fit))
    for k in sorted(fit, reverse=True):
        least[task.usable[fit[k]]] = k
    return least


def _nest(task: Task, used: Index, wanted: Index, least: Index) -> Iterator[Index]:
    """Nest discs with neighbours in cone height: packets (U, k) of each size.

    Stacks want `wanted` (T, 3) of each size. Every size gets discs from all over the lot, and the
    smaller packets only those that bear it. What is left of a size becomes packets of the
    smallest size.
    """
    need = {k: int(n) for k, n in enumerate(wanted.sum(0), 1) if n}
    total = sum(k * n for k, n in need.items())
    for group in _by_size(task, used):
        left = group
        for k in sorted(need):
            able = left[least[left] <= k]
            count = min(len(group) * need[k] // total, len(able) // k) * k
            taken = able[(np.arange(count) * len(able)) // max(count, 1)]
            yield taken.reshape(-1, k)
            left = left[~np.isin(left, taken)]
        yield from _spare(task, left, min(need))


def _spare(task: Task, discs: Index, size: int) -> Iterator[Index]:
    """Packets of one size of discs that no stack has yet."""
    for group in _by_size(task, discs):
        yield group[: len(group) // size * size].reshape(-1, size)


def _by_size(task: Task, discs: Index) -> Iterator[Index]:
    """Yield the discs of each size, tallest cone first."""
    d = task.discs
    rows = discs[nesting_order(d.cone_height_mm[discs])]
    kind = sizes(d.od_mm[rows], d.id_mm[rows])
    for k in range(int(kind.max(initial=-1)) + 1):
        yield rows[kind == k]


def _as_wide(members: Index, width: int) -> Index:
    """Packets as rows of `width` discs, -1 where there is none."""
    lacks = max(width - members.shape[1], 0)
    return np.pad(members[:, :width], ((0, 0), (0, lacks)), constant_values=-1)


def _units(task: Task, made: Subproblem) -> Items:
    """The subproblem as units to deal: its rows, and the height window as one more."""
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
    return Items(stacked, made.columns.size, rooms, np.array(slack), np.array(free))


def _in_sets(off: Array, shoe: Index, shoes: int) -> Index:
    """Stack numbers (sets, S): stacks that follow each other in load, each under its shoe."""
    order = np.argsort(off[:, 0], kind="stable")
    if not shoe.any():
        return order.reshape(-1, shoes)
    return np.stack([order[shoe[order] == i] for i in range(shoes)], axis=-1)


def _matched(
    task: Task, made: Subproblem, shims: Shims, place: Index, spread_n: float
) -> tuple[tuple[Matched, ...], float]:
    """Compute the sets (K, S, P) of columns exactly; keep those that match, best first.

    Returns with them how far above the targets packets would have to bear so that no set is
    lost to the deflection limit; 0 where none is.
    """
    flat = place.reshape(-1, place.shape[-1])
    flat = np.sort(flat, axis=1)  # packets of one size together, as the columns are
    p = made.columns.packets.take(flat)
    turns = len(place)
    shoe = np.arange(task.shoes)
    datum = task.datum.under(np.tile(shoe, turns), task.shoes)
    bear = bears_worn(task, p, datum, np.tile(task.worn_travel_mm, turns))
    whole = np.flatnonzero(bear.reshape(turns, -1).all(1))
    if not len(whole):
        return (), 0.0
    place = flat.reshape(place.shape)[whole]
    p = made.columns.packets.take(place.reshape(-1, place.shape[-1]))
    datum = task.datum.under(np.tile(shoe, len(whole)), task.shoes)
    rest, work, worn = (
        stack_load(p, datum, np.tile(travel, len(whole))).reshape(len(whole), -1)
        for travel in (np.zeros(task.shoes), task.travel_mm, task.worn_travel_mm)
    )
    spread = np.ptp(work * task.weight, axis=1)
    each = replace(task, use=np.zeros(0, dtype=np.intp))  # which no one set holds all of
    found = []
    for k in np.flatnonzero(spread <= spread_n)[np.argsort(spread[spread <= spread_n])]:
        stacks = made.stacks(tuple(place[k]))
        cost = float(made.cost[place[k]].sum())
        answer = Assigned(stacks, shims, made.patterns, rest[k], work[k], worn[k], cost)
        if not broken(each, answer):
            proven = bool(spread[k] <= task.resolution_n)
            found.append(Matched(answer, proven, 0.0, None, ()))
    pressed = work > made.columns.limit_n[place].min(-1)
    above = float((work - task.target_n).max()) + ABOVE_N if pressed.any() else 0.0
    return tuple(found), above
