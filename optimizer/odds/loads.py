"""Doubt in the loads of stacks, from what is known of their discs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.assignment.columns import constant_gradient
from optimizer.assignment.problem import Task
from optimizer.assignment.result import StackDiscs, members_of
from optimizer.physics.disc import Array
from optimizer.physics.packet import packets
from optimizer.physics.stack import rate

#: where the doubt comes from, in the order of the last axis of `parts_n2`
SOURCES = ("thickness", "cone height", "stiffness", "edges")

#: relative sd of the modulus from lot to lot, and so of all loads together before any
#: reading; an assumption, not a measurement
LOT_MODULUS_SD = 0.015


@dataclass(frozen=True)
class LoadDoubt:
    """Doubt of the working loads of S stacks.

    `disc_n2` (S, P, m, 4) is the variance in N^2 that each disc brings, by source;
    `common_n` (S) how far each load moves, in N, when all stiffness factors rise by the
    factor e (so by 1 % for a hundredth of it).
    """

    disc_n2: Array
    common_n: Array

    @property
    def parts_n2(self) -> Array:
        """Variance in N^2 of each stack's load by source, (S, 4)."""
        parts: Array = self.disc_n2.sum((1, 2))
        return parts

    @property
    def sd_n(self) -> Array:
        """Standard deviation in N of each stack's load (S), beside what all share."""
        return np.sqrt(self.parts_n2.sum(-1))

    def covariance_n2(self, common_sd: float = 0.0) -> Array:
        """Covariance (S, S) in N^2, with a relative sd of the factor common to all discs.

        Stacks share no disc, so nothing but the common factor ties their loads.
        """
        alone = np.diag(self.parts_n2.sum(-1))
        cover: Array = alone + common_sd**2 * np.outer(self.common_n, self.common_n)
        return cover


def load_doubt(task: Task, stacks: tuple[StackDiscs, ...], load_n: Array) -> LoadDoubt:
    """Doubt of the loads `load_n` (S) of stacks, by the first-order sensitivities.

    Notes
    -----
    The load error is less the stack's rate times the sum of its packets' constant errors.
    Where thickness and cone height err together (the height was measured, not the cone) the
    shared part is laid to the thickness.
    """
    members = members_of(stacks)
    gradient = constant_gradient(task, members, load_n[:, None])
    slope = rate(packets(task.discs, members, task.model), load_n)
    present = members >= 0
    gradient = np.where(present[..., None], -slope[:, None, None, None] * gradient, 0.0)
    by_t, by_h, by_stiffness = np.moveaxis(gradient, -1, 0)
    chosen = np.where(present, members, 0)
    cover = task.belief.covariance[chosen]
    var_t, shared, var_h = cover[..., 0, 0], cover[..., 0, 1], cover[..., 1, 1]
    tie = np.divide(shared, var_t, out=np.zeros_like(shared), where=var_t > 0)
    parts = (
        var_t * (by_t + tie * by_h) ** 2,
        (var_h - tie * shared) * by_h**2,
        cover[..., 2, 2] * by_stiffness**2,
        task.belief.scatter[chosen] ** 2 * by_stiffness**2,
    )
    return LoadDoubt(np.stack(parts, axis=-1), by_stiffness.sum((1, 2)))
