"""Doubt in the loads of stacks, from what is known of their discs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.assignment.columns import constants
from optimizer.assignment.problem import Task
from optimizer.assignment.result import StackDiscs, members_of
from optimizer.physics.disc import Array, Discs
from optimizer.physics.packet import Index, packets
from optimizer.physics.stack import rate

#: where the doubt comes from, in the order of the last axis of `parts_n2`
SOURCES = ("thickness", "cone height", "stiffness", "edges")

#: relative sd of the modulus from lot to lot, and so of all loads together before any
#: reading; an assumption, not a measurement
LOT_MODULUS_SD = 0.015

#: square of the step of the differences in standard deviations: 3 suits the normal law
STEP = 3.0
#: relative step of the factor common to all discs
COMMON_STEP = 0.01


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
    """Doubt of the loads `load_n` (S) of stacks.

    Notes
    -----
    The load error is the stack's rate times the sum of its packets' constant errors. Each
    constant is differenced over sqrt 3 standard deviations of every disc and source, with
    its curvature (second-order divided differences: Norgaard, Poulsen and Ravn, Automatica
    36 (2000) 1627): in the seating datum the shorter of two nested cones may or may not
    touch at the seating load, which a derivative would not see. Where thickness and cone
    height err together (the height was measured, not the cone) the shared part is laid to
    the thickness.
    """
    members = members_of(stacks)
    toward = _directions(task)
    places = members.shape[-1]
    steps = np.zeros((len(SOURCES), places, len(task.belief), 3))
    for place in range(places):
        discs = members[..., place][members[..., place] >= 0]
        steps[:, place, discs] = np.sqrt(STEP) * toward[:, discs]
    steps = steps.reshape(-1, *steps.shape[2:])
    common = np.zeros((1, len(task.belief), 3))
    common[..., 2] = COMMON_STEP
    moves = np.concatenate([np.zeros_like(common), steps, -steps, common, -common])
    c = _constants(task, members, load_n, moves)
    middle, up, down = c[0], c[1 : len(steps) + 1], c[len(steps) + 1 : 2 * len(steps) + 1]
    variance = (up - down) ** 2 / (4 * STEP)
    variance += (up + down - 2 * middle) ** 2 * (STEP - 1) / (4 * STEP**2)
    slope = rate(packets(task.discs, members, task.model), load_n)
    each = variance.reshape(len(SOURCES), places, *middle.shape) * slope[:, None] ** 2
    return LoadDoubt(
        np.moveaxis(each, (0, 1), (-1, -2)),
        -slope * (c[-2] - c[-1]).sum(-1) / (2 * COMMON_STEP),
    )


def _directions(task: Task) -> Array:
    """One standard deviation of (thickness, cone height, ln stiffness) by source: (4, n, 3)."""
    cover = task.belief.covariance
    toward = np.zeros((len(SOURCES), len(cover), 3))
    toward[0, :, 0] = np.sqrt(cover[:, 0, 0])
    toward[0, :, 1] = np.divide(
        cover[:, 0, 1], toward[0, :, 0], out=np.zeros(len(cover)), where=toward[0, :, 0] > 0
    )
    toward[1, :, 1] = np.sqrt(np.maximum(cover[:, 1, 1] - toward[0, :, 1] ** 2, 0.0))
    toward[2, :, 2] = np.sqrt(cover[:, 2, 2])
    toward[3, :, 2] = task.belief.scatter
    return toward


def _constants(task: Task, members: Index, load_n: Array, moves: Array) -> Array:
    """Constants (K, S, P) in mm of the packets of stacks at their loads, discs moved (K, n, 3)."""
    d = task.discs
    count = moves.shape[:2]
    moved = Discs(
        *(np.broadcast_to(x, count).ravel() for x in (d.od_mm, d.id_mm)),
        (d.thickness_mm + moves[..., 0]).ravel(),
        (d.cone_height_mm + moves[..., 1]).ravel(),
        *(np.broadcast_to(x, count).ravel() for x in (d.flat_mm, d.modulus_mpa, d.poisson)),
        (d.factor * np.exp(moves[..., 2])).ravel(),
    )
    offset = count[1] * np.arange(count[0])[:, None, None, None]
    p = packets(moved, np.where(members >= 0, members + offset, -1), task.model)
    return np.stack(
        [
            constants(task, p.take((slice(None), s)), load_n[s : s + 1])[..., 0]
            for s in range(len(members))
        ],
        axis=1,
    )
