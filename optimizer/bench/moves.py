"""Swaps judged by the chances after them.

At the loads that stand every packet has a constant (see `mechanics.constant`), so a swap
moves the load of a stack by -rate times the change of its constants. Those that bring the
loads nearest together are judged by chance: with the covariance that the state gives them,
and with new scatter of the edges for every stack that is taken apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.bench.swaps import SwapPackets, Swaps, single_swaps
from optimizer.estimate.learn import Learned, Loads
from optimizer.estimate.probability import SEARCHED, mean_within, spread_within
from optimizer.estimate.problem import Task
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index, limit_load, nesting_order, packets
from optimizer.mechanics.stack import deflection, load_at
from optimizer.model.stack import Packet, Shims, Stack

#: single and double swaps whose chances are worked out, nearest predicted loads first
JUDGED = 200
#: discs moved that are counted: with all stacks open, a few more hardly matter
MOST_COUNTED = 8
#: single swaps that are combined by two
COMBINED = 700


@dataclass(frozen=True)
class Exchange:
    """Disc `out` leaves its place (shoe, packet, seat), `bring` comes; from `bring_from`.

    `bring_from` is None for a spare. All places count from 1.
    """

    out: str
    place: tuple[int, int, int]
    bring: str
    bring_from: tuple[int, int, int] | None


@dataclass(frozen=True)
class Move:
    """Stacks after a move, the chances then, and how many discs are moved.

    `odds`: the true spread is within tolerance; `on_target`: the mean is near the target;
    `discs_moved` counts discs put into a stack they were not in.
    A rebuild has no exchanges but may have other shims; `shims` is empty where they stay.
    """

    exchanges: tuple[Exchange, ...]
    stacks: tuple[Stack, ...]
    odds: float
    on_target: float
    discs_moved: int
    shims: Shims = ()

    def worth(self, cost_per_disc: float, anywhere: bool = False) -> float:
        """What `worth_of` says of its chances."""
        return worth_of(self.odds, self.on_target, self.discs_moved, cost_per_disc, anywhere)

    def shims_mm(self, now_mm: Sequence[float]) -> tuple[float, ...]:
        """Total of the shims of each shoe after the move, from those there now."""
        return tuple(sum(s) for s in self.shims) or tuple(now_mm)


def worth_of(
    odds: float, on_target: float, discs_moved: int, cost_per_disc: float, anywhere: bool
) -> float:
    """Both chances together, less what moving discs costs; past some the rest come easy.

    `anywhere`: the target is out of reach, and only that the shoes are alike counts.
    """
    chance = odds if anywhere else odds * on_target
    return chance - cost_per_disc * min(discs_moved, MOST_COUNTED)


def options(
    learned: Learned,
    task: Task,
    stacks: tuple[Stack, ...],
    now: Loads,
    width_n: float,
    cost_per_disc: float,
    most: int = 5,
    anywhere: bool = False,
) -> list[Move]:
    """List the best single and double swaps, best chance less cost first.

    Parameters
    ----------
    learned, task : what is known; the task poses the learned discs
    stacks, now : what stands (S), and its loads
    width_n : the spread asked for
    cost_per_disc : chance that handling one more disc must be worth
    anywhere : as in `worth_of`
    """
    members = learned.rig.members(stacks)
    worn_n = _worn_n(task, members, now)
    swaps, table = single_swaps(task, members, float(now.mean_n.mean()), worn_n)
    if not len(swaps):
        return []
    change = -swaps.change(table.constant_mm, len(stacks)) * now.rate
    spread = np.ptp((now.mean_n + change) * task.weight, axis=1)
    order = np.argsort(spread, kind="stable")
    found: list[tuple[float, float, Index]] = []
    for rows in (order[:JUDGED, None], _pairs(swaps, change, order, now.mean_n, task.weight)):
        odds, on_target = _judged(learned, task, swaps, table, rows, change, now, width_n)
        found += zip(odds.tolist(), on_target.tolist(), rows, strict=True)
    worth = [
        worth_of(odds, on_target, _moved(swaps, rows), cost_per_disc, anywhere)
        for odds, on_target, rows in found
    ]
    best = np.argsort(-np.array(worth), kind="stable")[:most]
    return [_option(learned, stacks, swaps, *found[b]) for b in best]


def _worn_n(task: Task, members: Index, now: Loads) -> float:
    """Load in N of the hardest pressed stack on a worn drum; 0, no limit, where it is flat there.

    Then no swap makes it worse, and the next move is not to be nothing.
    """
    p = packets(task.discs, members, task.model)
    further = deflection(p, now.mean_n) + task.worn_travel_mm - task.travel_mm
    if (further >= deflection(p, limit_load(p).min(-1))).any():
        return 0.0
    return float(load_at(p, further).max())


def _pairs(swaps: Swaps, change: Array, order: Index, mean_n: Array, weight: Array) -> Index:
    """Pairs of single swaps (K, 2) that share no disc and no packet, nearest loads first.

    Single swaps are taken evenly from those that bring loads together and those that do
    not: two far ones may cancel.
    """
    some = order[:: max(1, -(-len(order) // COMBINED))]
    i, j = np.triu_indices(len(some), 1)
    i, j = some[i], some[j]
    spread = np.ptp((mean_n + change[i] + change[j]) * weight, axis=1)
    near = np.argpartition(spread, min(4 * JUDGED, len(spread) - 1))[: 4 * JUDGED]
    near = near[np.argsort(spread[near], kind="stable")]
    i, j = i[near], j[near]
    apart = np.ones(len(i), dtype=bool)
    for a in (0, 1):
        for b in (0, 1):
            held = (swaps.stack[i, a] >= 0) & (swaps.stack[i, a] == swaps.stack[j, b])
            apart &= swaps.disc[i, a] != swaps.disc[j, b]
            apart &= ~(held & (swaps.packet[i, a] == swaps.packet[j, b]))
    return np.stack([i, j], 1)[apart][:JUDGED]


def _judged(
    learned: Learned,
    task: Task,
    swaps: Swaps,
    table: SwapPackets,
    rows: Index,
    change: Array,
    now: Loads,
    width_n: float,
) -> tuple[Array, Array]:
    """Chances (K) of the spread and of the level after the swaps `rows` (K, m)."""
    stacks = len(now.mean_n)
    durable = table.slope.shape[1]
    slope = np.broadcast_to(now.slope, (len(rows), *now.slope.shape)).copy()
    mean = now.mean_n + change[rows].sum(1)
    build_n = now.slope[:, durable : durable + len(learned.build_mm)] @ learned.build_mm
    scatter = np.broadcast_to(now.scatter_n2, mean.shape).copy()
    apart = np.zeros(mean.shape, dtype=bool)
    for m in range(rows.shape[1]):
        one = swaps.take(rows[:, m])
        slope[:, :, :durable] -= one.change(table.slope, stacks) * now.rate[:, None]
        scatter += one.change(table.scatter_mm2, stacks) * now.rate**2
        for side in (0, 1):
            held = np.flatnonzero(one.stack[:, side] >= 0)
            apart[held, one.stack[held, side]] = True
    slope[:, :, durable:] *= ~apart[..., None]
    mean -= np.where(apart, build_n, 0.0)
    cover = slope @ learned.covariance @ slope.transpose(0, 2, 1)
    each = np.arange(stacks)
    cover[:, each, each] += np.where(apart, scatter, _unread(now, learned))
    weight = task.weight
    deviation = (mean - task.target_n) * weight
    cover = cover * weight[:, None] * weight
    return (
        spread_within(deviation, cover, width_n, SEARCHED),
        mean_within(deviation, cover, task.load_tolerance_n),
    )


def _unread(now: Loads, learned: Learned) -> Array:
    """Variance in N^2 (S) of stacks that were never on the gauge, which no build explains."""
    explained = now.slope @ learned.covariance @ now.slope.T
    return np.diag(now.covariance_n2 - explained)


def _option(
    learned: Learned,
    stacks: tuple[Stack, ...],
    swaps: Swaps,
    odds: float,
    on_target: float,
    rows: Index,
) -> Move:
    names = learned.rig.belief.names
    new = [[list(packet) for packet in stack] for stack in stacks]
    exchanges = []
    for row in rows:
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
        exchanges.append(Exchange(discs[0], (a + 1, b + 1, c + 1), discs[1], second))
    after = tuple(tuple(_nested(learned, packet) for packet in stack) for stack in new)
    return Move(tuple(exchanges), after, odds, on_target, _moved(swaps, rows))


def _moved(swaps: Swaps, rows: Index) -> int:
    """Discs put into a stack they were not in: two of a swap of stacks, one with a spare."""
    return int((swaps.stack[rows] >= 0).sum())


def _nested(learned: Learned, packet: list[str]) -> Packet:
    """Order the discs of a packet bottom to top, as they may be nested."""
    if len(packet) == 1:
        return tuple(packet)
    numbers = learned.rig.members(((tuple(packet),),))[0, 0, : len(packet)]
    order = nesting_order(learned.rig.discs.cone_height_mm[numbers])
    return tuple(packet[k] for k in order)
