"""Packets that a swap could make, tabulated once at the loads that stand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.match.packets import worn_bearable
from optimizer.mechanics.constant import packet_constant, packet_constant_gradient
from optimizer.mechanics.disc import Array, Mask
from optimizer.mechanics.packet import Index, limit_load, packets, residual_cone_height
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
    p = packets(task.discs, nested, task.model)
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
