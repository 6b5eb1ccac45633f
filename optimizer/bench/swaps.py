"""Every single swap of two discs, between two stacks or with a spare, and the packets it makes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.frozen import Rows, frozen_arrays
from optimizer.match.packets import worn_bearable
from optimizer.mechanics.constant import packet_constant, packet_constant_gradient
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index, limit_load, residual_cone_height
from optimizer.mechanics.stack import free_height
from optimizer.model.sizes import sizes


@dataclass(frozen=True)
@frozen_arrays
class SwapPackets:
    """U packets: constant in mm, its `slope` (U, 3n + 1 + S) by the durable state, the variance
    in mm^2 that edges give it at a build, free height in mm, and whether it may be built."""

    constant_mm: Array
    slope: Array
    scatter_mm2: Array
    free_mm: Array
    allowed: Mask


def tabulate(task: Task, members: Index, force_n: float, worn_n: float) -> SwapPackets:
    """Tabulate packets `members` (U, 3) of discs in any order at a load, `worn_n` on a worn drum.

    A packet may be built when its discs are of one size, none is pressed beyond the
    deflection limit, and it is not flat at the load, nor beyond its limit on a worn drum.
    """
    cone = np.where(members >= 0, task.discs.cone_height_mm[members], -1.0)
    nested = np.take_along_axis(members, np.argsort(-cone, axis=1, kind="stable"), 1)
    present = nested >= 0
    at = np.where(present, nested, nested[:, :1])
    p = task.packets(nested)
    each = packet_constant_gradient(task.discs, nested, task.model, task.datum, force_n)
    each = np.where(present[..., None], each, 0.0)
    n = len(task.belief)
    slope = np.zeros((len(nested), 3 * n + 1 + task.shoes))
    rows = np.arange(len(nested))[:, None]
    np.add.at(slope[:, : 3 * n].reshape(-1, n, 3), (rows, at), each)
    slope[:, 3 * n] = each[..., 2].sum(1)
    size = sizes(task.discs.od_mm, task.discs.id_mm)[at]
    alike = (size == size[:, :1]).all(1)
    share = 1 - residual_cone_height(p, force_n) / p.free_mm
    return SwapPackets(
        packet_constant(task.discs, nested, task.model, task.datum, force_n),
        slope,
        ((each[..., 2] * task.belief.scatter[at]) ** 2).sum(1),
        p.height_mm + p.free_mm,
        alike
        & (share <= task.rules.deflection_limit)
        & (force_n < limit_load(p))
        & (worn_n < worn_bearable(task, p)),
    )


@dataclass(frozen=True)
@frozen_arrays
class Swaps(Rows):
    """N swaps of disc `disc[:, 0]` with `disc[:, 1]`: arrays (N, 2), one column a side.

    `stack`, `packet` and `seat` say where each disc sits now; a spare has stack -1. `old`
    and `new` are the rows in the packet table of the packet there before and after; a spare
    has -1.
    """

    disc: Index
    stack: Index
    packet: Index
    seat: Index
    old: Index
    new: Index

    def __len__(self) -> int:
        """Return the number of swaps."""
        return len(self.disc)

    def touched(self, stacks: int) -> Mask:
        """Which stacks (N, S) a swap takes apart."""
        touched: Mask = (self.stack[..., None] == np.arange(stacks)).any(1)
        return touched

    @property
    def moved(self) -> Index:
        """Discs (N) put into a stack they were not in: two of a swap of stacks, or one."""
        moved: Index = (self.stack >= 0).sum(1)
        return moved

    def change(self, value: Array, stacks: int) -> Array:
        """Sum over each stack (N, S, ...) of what its packets gain of `value` (U, ...)."""
        total = np.zeros((len(self), stacks, *value.shape[1:]))
        rows = np.arange(len(self))
        for side in (0, 1):
            placed = self.stack[:, side] >= 0
            gain = value[self.new[placed, side]] - value[self.old[placed, side]]
            np.add.at(total, (rows[placed], self.stack[placed, side]), gain)
        return total


def single_swaps(
    task: Task, members: Index, force_n: float, worn_n: float
) -> tuple[Swaps, SwapPackets]:
    """List the swaps that the rules of the job allow.

    Parameters
    ----------
    task : poses the discs as they are believed now
    members : what stands (S, P, 3), -1 where there is none
    force_n : load in N at which packets are tabulated
    worn_n : the greatest load in N that they carry on a worn drum
    """
    stack, packet, seat = np.nonzero(members >= 0)
    disc = members[stack, packet, seat]
    tied = np.concatenate([np.zeros(0, dtype=np.intp), *task.together])
    spare = np.setdiff1d(task.usable, np.concatenate([disc, tied]))
    free = ~np.isin(disc, tied)
    leaves = np.flatnonzero(free & ~np.isin(disc, task.use))
    out, bring = np.repeat(leaves, len(spare)), np.tile(spare, len(leaves))
    i, j = np.triu_indices(len(disc), 1)
    across = (stack[i] != stack[j]) & free[i] & free[j]
    first = np.concatenate([out, i[across]])
    second = np.concatenate([np.full(len(out), -1), j[across]])
    place = np.stack([first, second], 1)
    held = place >= 0
    discs = np.where(held, disc[place], -1)
    discs[: len(bring), 1] = bring
    at = [np.where(held, where[place], -1) for where in (stack, packet, seat)]

    now = members[at[0], at[1]]  # N, 2, 3
    then = now.copy()
    rows, sides = np.nonzero(held)
    then[rows, sides, at[2][rows, sides]] = discs[rows, 1 - sides]
    every = -np.sort(-np.concatenate([now[held], then[held]]), axis=1)  # one spelling a packet
    unique, row = np.unique(every, axis=0, return_inverse=True)
    table = tabulate(task, unique, force_n, worn_n)
    old, new = np.full((2, *place.shape), -1)
    old[held], new[held] = row.reshape(2, -1)
    swaps = Swaps(discs, at[0], at[1], at[2], old, new)
    fit = np.where(held, table.allowed[new], True).all(1)
    if task.rules.free_height_mm is not None:
        low, high = task.rules.free_height_mm
        whole = free_height(task.packets(members))
        height = whole + swaps.change(table.free_mm, len(members))
        touched = np.zeros(height.shape, dtype=bool)
        touched[rows, at[0][rows, sides]] = True
        fit &= (~touched | ((height >= low) & (height <= high))).all(1)
    return swaps.take(np.flatnonzero(fit)), table
