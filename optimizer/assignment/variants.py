"""Sets of packets next to a given one: one or two exchanges of discs away, cheapest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.assignment.descent import Descent
from optimizer.assignment.frame import Frame
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index

#: exchanges that are combined two by two, the cheapest ones
MOST_MOVES = 600


@dataclass(frozen=True)
class _Moves:
    """V exchanges: packets they change and the columns these become (V, 2), -1 for none.

    `change` (V, 2) is that of the sum of the work row and of the variance; `spare` (V) the
    disc brought in from outside, -1 for none.
    """

    packet: Index
    column: Index
    spare: Index
    change: Array


def variants(
    frame: Frame, descent: Descent, chosen: Index, share: float, below: float
) -> Iterator[Index]:
    """Yield sets of columns near `chosen` (P) in order of variance, all below `below` N^2.

    Only sets whose mean stack is within `share` of the work row's window; the first is
    `chosen` itself, if it is.
    """
    row = frame.rows[0]
    sum_off = row.constant_n[chosen, 0].sum() - row.room_n.sum()
    cost = frame.cost[chosen].sum()
    reach = share * len(frame.patterns) * row.window_n / 2
    if abs(sum_off) <= reach and cost < below:
        yield chosen
    ordered, moves = _moves(frame, descent, chosen)
    left, right = np.triu_indices(len(moves.spare))  # with itself: the one exchange alone
    single = left == right
    change = moves.change[left] + np.where(single[:, None], 0.0, moves.change[right])
    good = (np.abs(sum_off + change[:, 0]) <= reach) & (cost + change[:, 1] < below)
    left, right, single, change = left[good], right[good], single[good], change[good]
    apart = _apart(moves, left, right)
    apart &= (moves.spare[left] != moves.spare[right]) | (moves.spare[left] == -1)
    rows = np.flatnonzero(apart | single)
    for at in rows[np.argsort(change[rows, 1], kind="stable")]:
        new = ordered.copy()
        for move in {int(left[at]), int(right[at])}:
            touched = moves.packet[move] >= 0
            new[moves.packet[move][touched]] = moves.column[move][touched]
        yield new


def _apart(moves: _Moves, left: Index, right: Index) -> NDArray[np.bool_]:
    """Whether two exchanges change different packets."""
    a, b = moves.packet[left][:, :, None], moves.packet[right][:, None]
    apart: NDArray[np.bool_] = ((a != b) | (a == -1)).all((1, 2))
    return apart


def _moves(frame: Frame, descent: Descent, chosen: Index) -> tuple[Index, _Moves]:
    """The cheapest exchanges, and the columns of the packets in the order they number them."""
    dealt = _dealt(frame, descent, chosen)[None]
    at = descent.places
    every = np.arange(len(at))
    old = descent.columns_at(dealt, every)[0]
    ordered = old[np.unique(at.packet, return_index=True)[1]]
    new = descent.replaced(dealt)[0]  # N, n: place takes the disc at position
    value = np.stack([frame.rows[0].constant_n[:, 0], frame.cost], axis=-1)
    value = np.concatenate([value, [[0.0, np.inf]]])
    gain = value[new] - value[old][:, None]
    size = 1 + (at.mates >= 0).sum(1)
    a, b = descent.first, descent.second
    real = (size[a] > 1) | (size[b] > 1)  # two single discs only change places
    a, b = a[real], b[real]
    spare = dealt.shape[1] - len(at)
    place = np.repeat(every, spare)
    position = np.tile(np.arange(len(at), dealt.shape[1]), len(at))
    none = np.full(len(place), -1)
    moves = _Moves(
        np.concatenate([_two(at.packet[a], at.packet[b]), _two(at.packet[place], none)]),
        np.concatenate([_two(new[a, b], new[b, a]), _two(new[place, position], none)]),
        np.concatenate([np.full(len(a), -1), dealt[0, position]]),
        np.concatenate([gain[a, b] + gain[b, a], gain[place, position]]),
    )
    best = np.argsort(moves.change[:, 1], kind="stable")[:MOST_MOVES]
    best = best[np.isfinite(moves.change[best, 1])]
    return ordered, _Moves(
        moves.packet[best], moves.column[best], moves.spare[best], moves.change[best]
    )


def _two(first: Index, second: Index) -> Index:
    return np.stack([first, second], axis=-1)


def _dealt(frame: Frame, descent: Descent, chosen: Index) -> Index:
    """Deal the discs of some columns into places of their size, in any order; spares last."""
    at = descent.places
    first = np.unique(at.packet, return_index=True)[1]
    size = 1 + (at.mates[first] >= 0).sum(1)
    seats = {int(k): list(first[size == k]) for k in np.unique(size)}
    dealt = np.empty(len(descent.usable), dtype=np.intp)
    for column in chosen:
        discs = frame.columns.members[column]
        discs = discs[discs >= 0]
        seat = seats[len(discs)].pop()
        dealt[seat : seat + len(discs)] = discs
    placed = dealt[: len(at)]
    dealt[len(at) :] = descent.usable[~np.isin(descent.usable, placed)]
    return dealt
