"""What the measurements let us believe of each disc, and with how much doubt.

A noisy instrument overstates how different discs are, so each measured value is drawn
towards the mean of its like (same lot, edge and size) by the reliability ratio
1 - sd^2/variance; the doubt that stays is that of the same linear-Gaussian model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.inventory.bag import Bag, Disc
from optimizer.job.model import Job

Array = NDArray[np.float64]

#: fewer degrees of freedom than this say too little of a lot's variance to shrink by it
LEAST_DEGREES = 8


@dataclass(frozen=True)
class Belief:
    """Believed discs, arrays of n; lengths in mm.

    `covariance` (n, 3, 3) is the doubt in thickness (mm), cone height (mm) and the
    logarithm of the stiffness factor; `scatter` (n) the relative load scatter of a disc
    from build to build; `factor` (n) the believed stiffness factor.
    """

    names: tuple[str, ...]
    od_mm: Array
    id_mm: Array
    thickness_mm: Array
    cone_height_mm: Array
    flat_mm: Array
    factor: Array
    covariance: Array
    scatter: Array

    def __len__(self) -> int:
        """Return the number of discs."""
        return len(self.names)


def believe(bag: Bag, job: Job) -> Belief:
    """Turn measured discs into believed ones.

    Notes
    -----
    One measurement has variance sd^2 + resolution^2/12 (uniform rounding), a mean of
    `repeats` that much less. With the overall height measured, height and thickness are
    shrunk apart and the cone height, their difference, inherits both doubts.
    """
    discs = bag.discs
    tool = job.instrument
    repeats = np.array([d.repeats for d in discs], dtype=np.float64)
    t_var = (tool.thickness_sd_mm**2 + tool.thickness_resolution_mm**2 / 12) / repeats
    h_var = (tool.height_sd_mm**2 + tool.height_resolution_mm**2 / 12) / repeats
    like = _groups(discs)
    thickness = np.array([d.thickness_mm for d in discs])
    overall = np.array([d.from_overall_height for d in discs])
    height = np.array([d.cone_height_mm for d in discs]) + np.where(overall, thickness, 0.0)

    t, t_var = shrink(thickness, t_var, like)
    h, h_var = shrink(height, h_var, 2 * like + overall)
    covariance = np.zeros((len(discs), 3, 3))
    covariance[:, 0, 0] = t_var
    covariance[:, 1, 1] = h_var + np.where(overall, t_var, 0.0)
    covariance[:, 0, 1] = covariance[:, 1, 0] = -np.where(overall, t_var, 0.0)
    covariance[:, 2, 2] = job.model.disc_stiffness_sd**2
    sharp = np.array([d.edge == "sharp" for d in discs])
    return Belief(
        names=tuple(d.name for d in discs),
        od_mm=np.array([d.od_mm for d in discs]),
        id_mm=np.array([d.id_mm for d in discs]),
        thickness_mm=t,
        cone_height_mm=h - np.where(overall, t, 0.0),
        flat_mm=np.array([d.flat_mm for d in discs]),
        factor=np.ones(len(discs)),
        covariance=covariance,
        scatter=np.where(sharp, job.model.sharp_scatter, job.model.dressed_scatter),
    )


def shrink(value: Array, variance: Array, group: NDArray[np.intp]) -> tuple[Array, Array]:
    """Draw values (n) of measurement `variance` (n) towards the mean of their group (n).

    Returns the shrunk values and their remaining variance. A group too small to tell its
    own variance is left as measured.
    """
    shrunk, left = value.copy(), variance.copy()
    for label in np.unique(group):
        rows = np.flatnonzero(group == label)
        if len(rows) <= LEAST_DEGREES:
            continue
        mean = value[rows].mean()
        true_variance = max(value[rows].var(ddof=1) - variance[rows].mean(), 0.0)
        spread = true_variance + variance[rows]
        reliability = np.divide(true_variance, spread, out=np.ones(len(rows)), where=spread > 0)
        shrunk[rows] = mean + reliability * (value[rows] - mean)
        left[rows] = reliability * variance[rows]
    return shrunk, left


def _groups(discs: tuple[Disc, ...]) -> NDArray[np.intp]:
    """Number the kinds of disc that should be alike but for manufacture."""
    keys = [(d.lot, d.edge, d.od_mm, d.id_mm) for d in discs]
    label = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    return np.array([label[key] for key in keys], dtype=np.intp)
