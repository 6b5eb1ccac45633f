"""Moves on the bench: which discs change places, what that makes likely, and the minutes of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.bench.after import After
from optimizer.bench.ahead import Ahead
from optimizer.bench.candidates import candidates
from optimizer.estimate.learn import Learned
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index, nesting_order
from optimizer.model.stack import Packet, Shims, Stack, shim_totals


@dataclass(frozen=True)
class Exchange:
    """Disc `out` leaves its place (shoe, packet, seat), `bring` comes; from `bring_from`.

    `bring_from` is None for a spare. All places count from 1.
    """

    out: str
    place: tuple[int, int, int]
    bring: str
    bring_from: tuple[int, int, int] | None


def position(stacks: Sequence[Stack], place: tuple[int, int, int]) -> int:
    """Count the discs from the bottom of its stack up to a place, as a drawing shows them.

    An exchange leaves the number of discs of every packet, so stacks before and after it tell.
    """
    shoe, packet, seat = place
    return sum(len(below) for below in stacks[shoe - 1][: packet - 1]) + seat


@dataclass(frozen=True)
class Move:
    """Stacks after a move, the chances then, and how many discs are moved.

    `chance`: the true spread is within tolerance; `on_target`: the mean is near the target;
    `discs_moved` counts discs put into a stack they were not in; `minutes` are those of the move
    and of reading what it changed, `to_come` those foreseen from then on until a set is certified.
    A rebuild has no exchanges but may have other shims; `shims` is empty where they stay.
    """

    exchanges: tuple[Exchange, ...]
    stacks: tuple[Stack, ...]
    chance: float
    on_target: float
    discs_moved: int
    shims: Shims = ()
    minutes: float = 0.0
    to_come: float = 0.0

    @property
    def in_all(self) -> float:
        """Minutes from now until a set is certified."""
        return self.minutes + self.to_come

    @property
    def both(self) -> float:
        """The chances together."""
        return self.chance * self.on_target

    def shims_mm(self, now_mm: Sequence[float]) -> tuple[float, ...]:
        """Total of the shims of each shoe after the move, from those there now."""
        return shim_totals(self.shims) or tuple(now_mm)


#: rows of exchanges (K, m), loads after each, discs moved (K), and both chances (K)
Judged = tuple[Index, After, Index, Array, Array]


def judged_swaps(ahead: Ahead) -> list[Judged]:
    """Judge the moves of up to four exchanges that lead nearest together, by their chances."""
    if not len(ahead.swaps):
        return []
    found = []
    for rows in candidates(ahead):
        after = ahead.after(rows)
        found.append((rows, after, ahead.swaps.moved[rows].sum(1), *ahead.chances(after)))
    return found


def options(
    ahead: Ahead, swaps: Callable[[], list[Judged]], most: int = 5, anywhere: bool = False
) -> list[Move]:
    """List the best of the moves that `swaps` judges, fewest minutes first.

    `anywhere`: the target is out of reach, and only that the shoes are alike counts.
    """
    found: list[Move] = []
    for rows, after, moved, chance, on_target in swaps():
        minutes, to_come = ahead.minutes(after, moved, on_target, anywhere)
        for k in np.argsort(minutes + to_come, kind="stable")[:most]:
            figures = (float(each[k]) for each in (chance, on_target, minutes, to_come))
            found.append(_move(ahead, rows[k], int(moved[k]), *figures))
    return sorted(found, key=lambda move: move.in_all)[:most]


def _move(
    ahead: Ahead,
    rows: Index,
    moved: int,
    chance: float,
    on_target: float,
    minutes: float,
    to_come: float,
) -> Move:
    new = [[list(packet) for packet in stack] for stack in ahead.stacks]
    exchanges = tuple(_exchange(ahead, row, new) for row in rows)
    after = tuple(tuple(_nested(ahead.learned, packet) for packet in stack) for stack in new)
    return Move(exchanges, after, chance, on_target, moved, (), minutes, to_come)


def _exchange(ahead: Ahead, row: int, new: list[list[list[str]]]) -> Exchange:
    """Make one exchange in the stacks `new`, and say it."""
    names, swaps = ahead.learned.rig.belief.names, ahead.swaps
    discs = [names[d] for d in swaps.disc[row]]
    at = [
        (int(swaps.stack[row, q]), int(swaps.packet[row, q]), int(swaps.seat[row, q]))
        for q in (0, 1)
    ]
    for q in (0, 1):
        if at[q][0] >= 0:
            new[at[q][0]][at[q][1]][at[q][2]] = discs[1 - q]
    (a, b, c), other = at
    second = None if other[0] < 0 else (other[0] + 1, other[1] + 1, other[2] + 1)
    return Exchange(discs[0], (a + 1, b + 1, c + 1), discs[1], second)


def _nested(learned: Learned, packet: list[str]) -> Packet:
    """Order the discs of a packet bottom to top, as they may be nested."""
    if len(packet) == 1:
        return tuple(packet)
    numbers = learned.rig.members(((tuple(packet),),))[0, 0, : len(packet)]
    order = nesting_order(learned.rig.discs.cone_height_mm[numbers])
    return tuple(packet[k] for k in order)
