"""Dealing: even out very many stacks at once by exchanges, on arrays alone.

A unit is a packet ready made, or several that stay together; a stack has a place for each.
Stacks are paired off, every pair makes the exchange of two units of a kind that evens it out
best, and the pairs are drawn anew; spare units come in the same way. Some tens of rounds do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index

#: rounds of exchanges between pairs of stacks, the first of them sorted, the rest at random
SORTED_ROUNDS = 4
MOST_ROUNDS = 400
#: price of being unlike when units are chosen, range and steps of the search for a sum
ALIKE, STEEPEST, HALVINGS = 0.1, 100.0, 40
#: spare units offered to a stack in one round
OFFERED = 64


@dataclass(frozen=True)
@frozen_arrays
class Items:
    """U units: `values` (U, S, R) by shoe and row; `kind` (U) tells which may be exchanged.

    `room` (S, R) is what the units of a stack should add up to, `slack` (R) how far a stack
    may be off; a `free` (R) row is only to be alike. All in N. `must` (U) never become spare.
    """

    values: Array
    kind: Index
    room: Array
    slack: Array
    free: Mask
    must: Mask | None = None


def choose(value: Array, cost: Array, kind: Index, counts: dict[int, int], total: float) -> Index:
    """Choose units of little cost, so many of each kind, with values (U) near a total.

    Notes
    -----
    The least cost at a given sum takes the units with the least cost + lambda value. A
    little of the squared distance from the middle is added to the cost, so that units of
    equal cost are chosen alike. Sums are monotone in lambda, which is found by bisection.
    """
    usual = float(np.median(cost))
    base = cost / usual if usual > 0 else np.zeros(len(cost))
    rows = {k: np.flatnonzero(kind == k) for k in counts}
    if all(len(rows[k]) == count for k, count in counts.items()):
        return np.concatenate(list(rows.values()))
    z = np.zeros_like(value)
    for of_kind in rows.values():
        v = value[of_kind]
        z[of_kind] = (v - v.mean()) / max(float(v.std()), 1e-300)
    base = base + ALIKE * z**2
    low, high = -STEEPEST, STEEPEST
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        score = base + middle * z
        chosen = np.concatenate(
            [rows[k][np.argpartition(score[rows[k]], n - 1)[:n]] for k, n in counts.items() if n]
        )
        if value[chosen].sum() > total:
            low = middle
        else:
            high = middle
    return chosen


def deal_stacks(
    units: Items,
    chosen: Index,
    counts: Mapping[int, int | Index],
    shoe: Index,
    rng: np.random.Generator,
    over: Callable[[], bool],
    held: Index | None = None,
) -> tuple[Index, Array]:
    """Deal units to stacks and exchange them until all are within the slack or none helps.

    Parameters
    ----------
    counts : places of each kind in a stack, or in every stack (T)
    shoe : (T) the shoe of each stack
    held : units (T, Q) that stacks have already; the last unit of all stands for nothing, and
        units of a kind below 0 are not dealt

    Returns
    -------
    Units (T, P) of each stack, and how far (T, R) it is from its room in every row.
    """
    place = _to_and_fro(units, chosen, counts, held, len(shoe))
    spare = np.setdiff1d(np.flatnonzero(units.kind >= 0), place)
    off = _off(units, place, shoe)
    kind_at = units.kind[place]
    if (kind_at == kind_at[:1]).all():
        kind_at = kind_at[:1]
    for turn in range(MOST_ROUNDS):
        if over():
            break
        bad = _bad(units, off, len(spare) > 0)
        if not bad.any():
            break
        if turn < SORTED_ROUNDS:
            order = np.argsort(off[:, 0], kind="stable")
            left, right = order[: len(order) // 2], order[::-1][: len(order) // 2]
        else:
            left, right = _draw_pairs(bad, rng)
        _exchange(units, place, off, shoe, left, right, kind_at)
        if len(spare):
            _bring(units, place, spare, off, shoe, kind_at, bad, rng)
        if turn % 16 == 15:
            off[:] = _off(units, place, shoe)
    return place, _off(units, place, shoe)


def _to_and_fro(
    units: Items,
    chosen: Index,
    counts: Mapping[int, int | Index],
    held: Index | None,
    stacks: int,
) -> Index:
    """Deal units to so many stacks to and fro, greatest first; what is over is left out."""
    held = np.zeros((stacks, 0), dtype=np.intp) if held is None else held
    need = {kind: np.broadcast_to(count, stacks) for kind, count in counts.items()}
    most = held.shape[1] + int(sum(need.values(), np.zeros(stacks, dtype=np.intp)).max(initial=0))
    place = np.full((stacks, most), len(units.kind) - 1)
    place[:, : held.shape[1]] = held
    at = np.full(stacks, held.shape[1])
    for kind, wanted in need.items():
        rows = _middle(units, chosen[units.kind[chosen] == kind], int(wanted.sum()))
        for turn in range(int(wanted.max(initial=0))):
            to = np.flatnonzero(wanted > turn)[:: -1 if turn % 2 else 1]
            place[to, at[to]], rows = rows[: len(to)], rows[len(to) :]
            at[to] += 1
    return place


def _middle(units: Items, rows: Index, count: int) -> Index:
    """Sort units by value and leave out those at both ends that are too many, where they may."""
    rows = rows[np.argsort(units.values[rows, 0, 0], kind="stable")]
    may_go = np.arange(len(rows)) if units.must is None else np.flatnonzero(~units.must[rows])
    low = (len(rows) - count) // 2
    high = len(may_go) - (len(rows) - count - low)
    return np.delete(rows, np.concatenate([may_go[:low], may_go[high:]]))[:count]


def _off(units: Items, place: Index, shoe: Index) -> Array:
    off: Array = units.values[place, shoe[:, None]].sum(1) - units.room[shoe]
    return off


def centred(units: Items, off: Array) -> Array:
    """Distance (T, R) from the room or, in a free row, from the mean of all stacks."""
    return np.where(units.free, off - off.mean(0), off)


def _bad(units: Items, off: Array, has_spare: bool) -> Mask:
    at = centred(units, off)
    if not has_spare:
        at = at - at.mean(0)
    bad: Mask = np.any(np.abs(at) > units.slack, axis=1)
    return bad


def _draw_pairs(bad: Mask, rng: np.random.Generator) -> tuple[Index, Index]:
    """Pair every stack that is off with another one, drawn at random."""
    rows = rng.permutation(np.flatnonzero(bad))
    rest = rng.permutation(np.flatnonzero(~bad))
    order = np.concatenate([rows, rest[: len(rows)]])
    half = len(order) // 2
    return order[:half], order[half : 2 * half]


def _exchange(
    units: Items,
    place: Index,
    off: Array,
    shoe: Index,
    left: Index,
    right: Index,
    kind_at: Index,
) -> None:
    """Make the best exchange of each pair of stacks (H), if it helps."""
    v, weight = units.values, 1 / units.slack
    a, b = place[left], place[right]
    to_left = _gain(v, a, b, shoe[left])  # H, P, P, R
    to_right = to_left if v.shape[1] == 1 else _gain(v, a, b, shoe[right])
    at = centred(units, off)
    new = ((at[left][:, None, None] + to_left) * weight) ** 2
    new += ((at[right][:, None, None] - to_right) * weight) ** 2
    same = _of(kind_at, left)[:, :, None] == _of(kind_at, right)[:, None, :]
    score = np.where(same, new.sum(-1), np.inf).reshape(len(left), -1)
    best = score.argmin(1)
    pair = np.arange(len(left))
    now = ((at[left] * weight) ** 2 + (at[right] * weight) ** 2).sum(1)
    take = np.flatnonzero(score[pair, best] < now * (1 - 1e-9))
    i, j = np.divmod(best[take], place.shape[1])
    l_take, r_take = left[take], right[take]
    off[l_take] += to_left[take, i, j]
    off[r_take] -= to_right[take, i, j]
    place[l_take, i], place[r_take, j] = place[r_take, j], place[l_take, i]


def _of(kind_at: Index, stacks: Index) -> Index:
    """Kinds (H, P) of the places of some stacks, (1, P) where all are alike."""
    return kind_at if len(kind_at) == 1 else kind_at[stacks]


def _gain(values: Array, a: Index, b: Index, shoe: Index) -> Array:
    """Change (H, P, Q, R) of a stack under `shoe` (H) when b (H, Q) comes for a (H, P)."""
    own, other = values[a, shoe[:, None]], values[b, shoe[:, None]]
    return other[:, None, :] - own[:, :, None]


def _bring(
    units: Items,
    place: Index,
    spare: Index,
    off: Array,
    shoe: Index,
    kind_at: Index,
    bad: Mask,
    rng: np.random.Generator,
) -> None:
    """Offer every stack that is off some spare units of its own and take the best in."""
    rows = rng.permutation(np.flatnonzero(bad))[: len(spare)]
    each = min(len(spare) // len(rows), OFFERED)
    slot = rng.permutation(len(spare))[: each * len(rows)].reshape(len(rows), each)
    weight = 1 / units.slack
    gain = _gain(units.values, place[rows], spare[slot], shoe[rows])
    at = centred(units, off)[rows]
    new = (((at[:, None, None] + gain) * weight) ** 2).sum(-1)
    fits = _of(kind_at, rows)[:, :, None] == units.kind[spare[slot]][:, None, :]
    if units.must is not None:
        fits &= ~units.must[place[rows]][:, :, None]
    score = np.where(fits, new, np.inf).reshape(len(rows), -1)
    best = score.argmin(1)
    take = np.flatnonzero(score[np.arange(len(rows)), best] < ((at * weight) ** 2).sum(1))
    i, k = np.divmod(best[take], each)
    where, which = rows[take], slot[take, k]
    off[where] += gain[take, i, k]
    place[where, i], spare[which] = spare[which], place[where, i]


def deal_sets(
    units: Items,
    counts: dict[int, int],
    shoes: int,
    sets: int,
    spread_n: float,
    level_n: float,
    rng: np.random.Generator,
) -> Index:
    """Deal units into at most `sets` sets of S = `shoes` like stacks; return those that match.

    Parameters
    ----------
    units : with values of one shoe, (U, 1, R), as every stack may go under any shoe
    counts : units of each kind in a stack; there must be enough of every kind
    spread_n, level_n : greatest spread of the work row in a set, and distance from its room

    Returns
    -------
    Unit numbers (sets, S, P).
    """
    t = sets * shoes
    need = {k: n * t for k, n in counts.items()}
    work = units.values[:, 0, 0]
    no_cost = np.zeros(len(work))
    chosen = choose(work, no_cost, units.kind, need, t * float(units.room[0, 0]))
    shoe = np.zeros(t, dtype=np.intp)
    place, off = deal_stacks(units, chosen, counts, shoe, rng, lambda: False)
    order = np.argsort(off[:, 0], kind="stable").reshape(sets, shoes)
    off = off[order, 0]
    good = (np.ptp(off, axis=1) <= spread_n) & (np.abs(off).max(1) <= level_n)
    matched: Index = place[order[good]]
    return matched
