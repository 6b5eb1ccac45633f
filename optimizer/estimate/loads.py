"""Uncertainty in the loads of stacks, from what is known of their discs, and a set's chances."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.probability import mean_within, spread_within
from optimizer.estimate.problem import Task, constants
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, packets
from optimizer.mechanics.stack import rate

#: where the uncertainty comes from, in the order of the last axis of `parts_n2`: that of the discs,
#: then that of the shoe above them
DISCS = ("thickness", "cone height", "stiffness", "edges", "flats")
SOURCES = (*DISCS, "travel", "seat")

#: square of the step of the differences in standard deviations: 3 suits the normal law
STEP = 3.0
#: relative step of the factor common to all discs
COMMON_STEP = 0.01


def _packet_axes(size: int) -> Array:
    """Orthonormal rows over the discs of a packet: all together, then against each other."""
    rows = np.zeros((3, 3))
    rows[:size, :size] = np.array([[1, 1, 1], [1, -1, 0], [1, 1, -2]])[:size, :size]
    length = np.linalg.norm(rows, axis=1, keepdims=True)
    return rows / np.where(length > 0, length, 1.0)


#: axes along which the discs of a packet of 0 to 3 are moved
AXES = np.stack([_packet_axes(size) for size in range(4)])


@dataclass(frozen=True)
@frozen_arrays
class LoadUncertainty:
    """Uncertainty of the working loads of S stacks.

    `disc_n2` (S, P, m, 5) is the variance in N^2 that each disc brings, by source; `place_n2`
    (S, 2) that of travel and seat of the shoe, which a gauge beside the clutch does not see;
    `shift_n` (S) how far the expected load lies from that of the believed discs;
    `common_n` (S) how far each load moves, in N, when all stiffness factors rise by the
    factor e (so by 1 % for a hundredth of it).
    """

    disc_n2: Array
    place_n2: Array
    shift_n: Array
    common_n: Array

    @property
    def parts_n2(self) -> Array:
        """Variance in N^2 of each stack's load by source, (S, 7)."""
        return np.concatenate([self.disc_n2.sum((1, 2)), self.place_n2], axis=1)

    @property
    def on_tester(self) -> LoadUncertainty:
        """The uncertainty of what a tester beside the clutch reads: no shoe's travel or seat."""
        return replace(self, place_n2=np.zeros_like(self.place_n2))

    @property
    def sd_n(self) -> Array:
        """Standard deviation in N of each stack's load (S), beside what all share."""
        sd: Array = np.sqrt(self.parts_n2.sum(-1))
        return sd

    def covariance_n2(self, common_sd: float = 0.0) -> Array:
        """Covariance (S, S) in N^2, with a relative sd of the factor common to all discs.

        Stacks share no disc, so nothing but the common factor ties their loads.
        """
        alone = np.diag(self.parts_n2.sum(-1))
        return alone + common_sd**2 * np.outer(self.common_n, self.common_n)


def load_uncertainty(task: Task, members: Index, load_n: Array) -> LoadUncertainty:
    """Uncertainty of the loads `load_n` (S) of stacks of discs `members` (S, P, 3).

    Notes
    -----
    The load error is the stack's rate times the sum of its packets' constant errors. Each
    constant is differenced over sqrt 3 standard deviations, with its curvature (second-order
    divided differences: Norgaard, Poulsen and Ravn, Automatica 36 (2000) 1627): in the
    seating datum the shorter of two nested cones may or may not touch at the seating load,
    which a derivative would not see. So the discs of a packet are moved together and against
    each other, not one by one; a disc's part is its own slope's share of the variance.
    Where thickness and cone height err together (the height was measured, not the cone) the
    shared part is laid to the thickness.
    """
    used = np.unique(members[members >= 0])  # of a lot of thousands a set takes few
    local = np.where(members >= 0, np.searchsorted(used, members), -1)
    steps, axes = _steps(_directions(task, used), local)
    common = np.zeros((1, len(used), 3))
    common[..., 2] = COMMON_STEP
    moves = np.concatenate([np.zeros_like(common), steps, -steps, common, -common])
    c = _constants(task, task.discs.take(used), local, load_n, moves)
    slope = rate(task.packets(members), load_n)
    c = -slope[:, None] * (c - c[0])  # load errors in N
    shape = (len(DISCS), -1, *members.shape[:2])
    up, down = c[1:-2].reshape(2, *shape)
    swing = (up - down) / np.sqrt(4 * STEP)
    bend = ((up + down) ** 2 * (STEP - 1) / (4 * STEP**2)).sum(1)
    straight = (swing**2).sum(1)
    each = np.einsum("kasp,spaj->kspj", swing, axes) ** 2
    each *= (1 + np.divide(bend, straight, out=np.zeros_like(bend), where=straight > 0))[..., None]
    return LoadUncertainty(
        np.moveaxis(each, 0, -1),
        (slope[:, None] * np.stack([task.travel_sd_mm, task.seat_sd_mm], axis=1)) ** 2,
        (up + down).sum((0, 1, 3)) / (2 * STEP),
        (c[-2] - c[-1]).sum(-1) / (2 * COMMON_STEP),
    )


def _steps(directions: Array, members: Index) -> tuple[Array, Array]:
    """Moves of discs (5 sources times m axes, n, 3) and the axes (S, P, m, m) of packets."""
    present = members >= 0
    axes = AXES[present.sum(-1)]
    toward = directions[:, np.where(present, members, 0)]
    along = np.sqrt(STEP) * axes[..., None] * toward[:, :, :, None]
    steps = np.zeros((*along.shape[:1], along.shape[3], directions.shape[1], 3))
    for axis in range(along.shape[3]):
        steps[:, axis, members[present]] = along[:, :, :, axis][:, present]
    return steps.reshape(-1, *steps.shape[2:]), axes


def _directions(task: Task, used: Index) -> Array:
    """One standard deviation of (thickness, cone height, ln stiffness) by source: (5, n, 3)."""
    cover = task.belief.covariance[used]
    toward = np.zeros((len(DISCS), len(cover), 3))
    toward[0, :, 0] = np.sqrt(cover[:, 0, 0])
    toward[0, :, 1] = np.divide(
        cover[:, 0, 1], toward[0, :, 0], out=np.zeros(len(cover)), where=toward[0, :, 0] > 0
    )
    toward[1, :, 1] = np.sqrt(np.maximum(cover[:, 1, 1] - toward[0, :, 1] ** 2, 0.0))
    of_flat = task.belief.flat_share[used]
    toward[2, :, 2] = np.sqrt(cover[:, 2, 2] * (1 - of_flat))
    toward[3, :, 2] = task.belief.scatter[used]
    toward[4, :, 2] = np.sqrt(cover[:, 2, 2] * of_flat)
    return toward


def _constants(task: Task, used: Discs, members: Index, load_n: Array, moves: Array) -> Array:
    """Constants (K, S, P) in mm of the packets of stacks at their loads, discs moved (K, n, 3)."""
    count, n = moves.shape[:2]
    d = used.take(np.tile(np.arange(n), count))
    by_t, by_h, by_stiffness = moves.reshape(-1, 3).T
    moved = replace(
        d,
        thickness_mm=d.thickness_mm + by_t,
        cone_height_mm=d.cone_height_mm + by_h,
        factor=d.factor * np.exp(by_stiffness),
    )
    offset = n * np.arange(count)[:, None, None, None]
    p = packets(moved, np.where(members >= 0, members + offset, -1), task.model)
    return np.stack(
        [
            constants(task, p.take((slice(None), s)), load_n[s : s + 1])[..., 0]
            for s in range(len(members))
        ],
        axis=1,
    )


@dataclass(frozen=True)
class Chance:
    """Probabilities of one set.

    `within_tolerance`: the true loads lie within the spread tolerance of each other;
    `on_target`: their mean lies within the load tolerance of the target.
    """

    within_tolerance: float
    on_target: float


def chance(
    task: Task,
    uncertainty: LoadUncertainty,
    load_n: Array,
    spread_tolerance_n: float,
    common_sd: float | None = None,
) -> Chance:
    """Chances of stacks with predicted loads `load_n` (S) and their uncertainty.

    Unlike shoes count by relative deviation, as `Task.weight` says. `common_sd` is the
    relative uncertainty of the factor that all loads share, that before any reading where None: it
    hardly touches their differences but decides how near the target they are.
    """
    if common_sd is None:
        common_sd = task.level_sd
    cover = uncertainty.covariance_n2(common_sd)
    return chance_of(task, load_n + uncertainty.shift_n, cover, spread_tolerance_n)


def chance_of(task: Task, mean_n: Array, covariance_n2: Array, spread_tolerance_n: float) -> Chance:
    """Chances of loads with a mean (S) and a covariance (S, S)."""
    weight = task.weight
    deviation = (mean_n - task.target_n) * weight
    cover = weighted(covariance_n2, weight)
    return Chance(
        float(spread_within(deviation, cover, spread_tolerance_n)),
        float(mean_within(deviation, cover, task.load_tolerance_n)),
    )


def weighted(covariance_n2: Array, weight: Array) -> Array:
    """Covariances (..., S, S) of loads that count by a weight (S), see `Task.weight`."""
    return covariance_n2 * np.outer(weight, weight)
