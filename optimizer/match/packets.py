"""Columns: every packet the bag offers, with its constant at a load.

At a fixed load F a packet contributes a constant c(F), so "the stack carries F at the
travel" is the linear statement sum c(F) = room, exactly:

    seating datum    c(F) = x(F_seat) - x(F)      room = travel
    installed datum  c(F) = -(height + x(F))      room = travel + shims - installed length

c rises with F in both, so a stack carries at least F exactly when sum c(F) <= room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from optimizer.estimate.problem import Task, by_shoe, constants
from optimizer.frozen import Rows, frozen_arrays
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import (
    Index,
    Packets,
    compliance,
    limit_load,
    load,
    nesting_order,
    residual_cone_height,
)
from optimizer.model.sizes import sizes

#: bags up to these sizes get all pairs, all triples; larger ones those of like cone height
ALL_PAIRS = 60
ALL_TRIPLES = 24
LIKE_PAIRS = 30
LIKE_TRIPLES = 10


@dataclass(frozen=True)
@frozen_arrays
class PacketTable(Rows):
    """M packets: `members` (M, m) bottom to top with -1 where shorter, `size` (M).

    `constant_mm` (M, S) is c at each shoe's target load, `compliance` (M, S) its slope in
    mm/N, `variance_mm2` (M) the uncertainty of the constant, `free_mm` (M) the free height,
    `limit_n` (M) the load in N that presses it to the deflection limit.
    """

    members: Index
    size: Index
    packets: Packets
    constant_mm: Array
    compliance: Array
    variance_mm2: Array
    free_mm: Array
    limit_n: Array


def all_over(task: Task, discs: Index, most: int) -> Index:
    """So many of some discs at most, evenly over their cone heights."""
    order = discs[np.argsort(task.discs.cone_height_mm[discs], kind="stable")]
    return order[np.linspace(0, len(order) - 1, min(most, len(order))).astype(np.intp)]


def stacks_of(rows: Sequence[Index]) -> Index:
    """Stacks (S, P, 3) of packets (p, m) of disc numbers each, -1 where there is none."""
    stacks = np.full((len(rows), max(map(len, rows)), 3), -1, dtype=np.intp)
    for i, members in enumerate(rows):
        stacks[i, : len(members), : members.shape[1]] = members
    return stacks


def counts_of(members: Index) -> tuple[int, int, int]:
    """Count the packets (P, m) of one, two and three discs."""
    one, two, three = ((members >= 0).sum(1) == [[1], [2], [3]]).sum(1).tolist()
    return one, two, three


def columns(task: Task) -> PacketTable:
    """Tabulate the packets that stay within the deflection limit at some load allowed."""
    return columns_of(task, candidate_members(task))


def columns_of(task: Task, members: Index) -> PacketTable:
    """Tabulate those of the packets `members` (M, m) that can be in a stack on target."""
    p = task.packets(members)
    fit = np.flatnonzero(bearable(task, p) >= float((task.target_n - reach_n(task)).min()))
    return tabulate(task, members[fit], p.take(fit))


def bearable(task: Task, p: Packets) -> Array:
    """Load in N that presses packets (M) to the deflection limit, flat or near their peak."""
    return _pressed_to(p, task.rules.deflection_limit)


def worn_bearable(task: Task, p: Packets) -> Array:
    """Load in N that packets (M) may carry on a worn drum: short of flat, or to the job's limit."""
    flat, limit = limit_load(p), task.rules.worn_limit
    return flat if limit is None else np.minimum(flat, _pressed_to(p, limit))


def _pressed_to(p: Packets, share: float) -> Array:
    return load(p, np.maximum((1 - share) * p.free_mm, p.low_mm))


def reach_n(task: Task) -> Array:
    """How far the load of each shoe (S) may be from its target, in N."""
    return task.load_tolerance_n / task.weight


def complete(task: Task) -> bool:
    """Whether the candidates are all packets that the bag could give."""
    size = sizes(task.discs.od_mm[task.usable], task.discs.id_mm[task.usable])
    most = int(np.bincount(size).max(initial=0))
    return (2 not in task.rules.packet_sizes or most <= ALL_PAIRS) and (
        3 not in task.rules.packet_sizes or most <= ALL_TRIPLES
    )


def tabulate(task: Task, members: Index, p: Packets) -> PacketTable:
    """Tabulate the packets `p` of `members` (M, m), whatever their deflection."""
    return PacketTable(
        members,
        (members >= 0).sum(1),
        p,
        constants(task, p, task.target_n),
        by_shoe(lambda force: compliance(p, residual_cone_height(p, force)), task.target_n),
        constant_variance(task, members),
        p.height_mm + p.free_mm,
        bearable(task, p),
    )


def constant_variance(task: Task, members: Index) -> Array:
    """Variance in mm^2 of the constants at the mean target load: measurement and scatter."""
    gradient = packet_constant_gradient(
        task.discs, members, task.model, task.datum, float(task.target_n.mean())
    )
    chosen = np.where(members >= 0, members, 0)
    cover = task.belief.covariance[chosen].copy()
    cover[..., 2, 2] += task.belief.scatter[chosen] ** 2
    each = np.einsum("...i,...ij,...j->...", gradient, cover, gradient)
    variance: Array = np.where(members >= 0, each, 0.0).sum(-1)
    return variance


def candidate_members(task: Task) -> Index:
    """List the packets of the allowed sizes worth a column: (M, 3), bottom to top.

    Only discs of one size are nested; in larger bags only those of like cone height,
    since a much shorter cone hardly carries.
    """
    packet_sizes = task.rules.packet_sizes
    rows: list[tuple[int, ...]] = []
    cone = task.discs.cone_height_mm
    size = sizes(task.discs.od_mm, task.discs.id_mm)
    by_size: dict[int, list[int]] = {}
    for disc in task.usable[nesting_order(cone[task.usable])].tolist():
        by_size.setdefault(int(size[disc]), []).append(disc)
    for like in by_size.values():
        n = len(like)
        if 1 in packet_sizes:
            rows += [(disc, -1, -1) for disc in like]
        if 2 in packet_sizes:
            reach = n if n <= ALL_PAIRS else LIKE_PAIRS
            rows += [
                (like[i], like[j], -1)
                for i in range(n)
                for j in range(i + 1, min(i + 1 + reach, n))
            ]
        if 3 in packet_sizes:
            reach = n if n <= ALL_TRIPLES else LIKE_TRIPLES
            rows += [
                (like[i], like[j], like[k])
                for i in range(n)
                for j, k in combinations(range(i + 1, min(i + 1 + reach, n)), 2)
            ]
    return np.array(rows, dtype=np.intp).reshape(-1, 3)
