"""Discs on hand that count towards an order, because they are of a size it asks for."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.prior import DiscEstimates
from optimizer.estimate.problem import disc_arrays
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Discs
from optimizer.model.job import Job
from optimizer.orders.catalog import Size, nominal
from optimizer.orders.lot import Lot

#: slack in mm on limits when a measured disc is told from another size
SLACK_MM = 0.02


@dataclass(frozen=True)
@frozen_arrays
class OnHand:
    """Believed discs (n) of one size with the sd of each measure (n).

    `lot` is what they tell of their lot where more of the same is bought, else None.
    """

    discs: Discs
    thickness_sd_mm: Array
    cone_height_sd_mm: Array
    stiffness_sd: Array
    lot: Lot | None = None

    def __len__(self) -> int:
        """Return the number of discs."""
        return len(self.thickness_sd_mm)

    def true(self, rng: np.random.Generator) -> Discs:
        """Draw what the discs may truly be."""
        off = rng.standard_normal((3, len(self)))
        return replace(
            self.discs,
            thickness_mm=self.discs.thickness_mm + self.thickness_sd_mm * off[0],
            cone_height_mm=self.discs.cone_height_mm + self.cone_height_sd_mm * off[1],
            factor=self.discs.factor * np.exp(self.stiffness_sd * off[2]),
        )


def none_on_hand() -> OnHand:
    """Return an empty hand."""
    return OnHand(nominal(()), np.zeros(0), np.zeros(0), np.zeros(0))


def on_hand(size: Size, belief: DiscEstimates, job: Job) -> OnHand:
    """Find the discs of a bag that are of a catalog size: within its limits, but for dressing."""
    limits = size.limits
    off_t = belief.thickness_mm - size.thickness_mm
    off_l = belief.thickness_mm + belief.cone_height_mm - size.thickness_mm - size.cone_height_mm
    left = np.isin(belief.names, job.stack.leave)
    like = (
        (np.abs(belief.od_mm - size.od_mm) <= max(-limits.od.lower, SLACK_MM) + SLACK_MM)
        & (np.abs(belief.id_mm - size.id_mm) <= max(limits.id.upper, SLACK_MM) + SLACK_MM)
        & (off_t >= limits.thickness.lower - SLACK_MM)
        & (off_t <= limits.thickness.upper + SLACK_MM)
        & (off_l >= limits.height.lower - SLACK_MM)
        & (off_l <= limits.height.upper + SLACK_MM)
        & ~left
    )
    rows = np.flatnonzero(like)
    cover = belief.covariance[rows]
    return OnHand(
        disc_arrays(belief, job).take(rows),
        np.sqrt(cover[:, 0, 0]),
        np.sqrt(cover[:, 1, 1]),
        np.sqrt(cover[:, 2, 2]),
    )
