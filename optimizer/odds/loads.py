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


@dataclass(frozen=True)
class LoadDoubt:
    """Variance in N^2 of the working load of each stack (S), whole and by source (S, 4).

    Stacks share no disc, so their doubts are independent but for a common factor, which
    moves all loads alike.
    """

    variance_n2: Array
    parts_n2: Array

    @property
    def sd_n(self) -> Array:
        """Standard deviation of each stack's load in N."""
        return np.sqrt(self.variance_n2)


def load_doubt(task: Task, stacks: tuple[StackDiscs, ...], load_n: Array) -> LoadDoubt:
    """Doubt of the loads `load_n` (S) of stacks, by the first-order sensitivities.

    Notes
    -----
    The load error is the stack's rate times the sum of its packets' constant errors. The
    part of thickness holds the covariance with a cone height found by subtraction.
    """
    members = members_of(stacks)
    gradient = constant_gradient(task, members, float(task.target_n.mean()))
    present = members >= 0
    chosen = np.where(present, members, 0)
    cover = task.belief.covariance[chosen]
    height = gradient[..., 1] ** 2 * cover[..., 1, 1]
    stiffness = gradient[..., 2] ** 2 * cover[..., 2, 2]
    whole = np.einsum("...i,...ij,...j->...", gradient, cover, gradient)
    edges = gradient[..., 2] ** 2 * task.belief.scatter[chosen] ** 2
    each = np.stack([whole - height - stiffness, height, stiffness, edges], axis=-1)
    slope = rate(packets(task.discs, members, task.model), load_n)
    parts = np.where(present[..., None], each, 0.0).sum((1, 2)) * slope[:, None] ** 2
    return LoadDoubt(parts.sum(-1), parts)
