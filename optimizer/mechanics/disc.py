"""Discs as arrays of numbers, and the geometry factors of EN 16984."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.frozen import Rows, frozen_arrays

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
@frozen_arrays
class Discs(Rows):
    """Any number of discs: every field is an array of one common shape.

    Lengths in mm, modulus in MPa; `cone_height_mm` is overall height minus thickness as
    measured between plates; `flat_mm` the radial width of a dressed edge, 0 when sharp;
    `factor` multiplies the load (1 for a disc of average stiffness).
    """

    od_mm: Array
    id_mm: Array
    thickness_mm: Array
    cone_height_mm: Array
    flat_mm: Array
    modulus_mpa: Array
    poisson: Array
    factor: Array


def discs(
    od_mm: object,
    id_mm: object,
    thickness_mm: object,
    cone_height_mm: object,
    flat_mm: object = 0.0,
    modulus_mpa: object = 206_000.0,
    poisson: object = 0.3,
    factor: object = 1.0,
) -> Discs:
    """Build `Discs` from scalars and arrays, broadcast to one shape."""
    values = np.broadcast_arrays(
        *(
            np.asarray(v, dtype=np.float64)
            for v in (
                od_mm,
                id_mm,
                thickness_mm,
                cone_height_mm,
                flat_mm,
                modulus_mpa,
                poisson,
                factor,
            )
        )
    )
    return Discs(*(v.copy() for v in values))


def k1(diameter_ratio: Array) -> Array:
    """EN 16984 factor K1 of the diameter ratio De/Di."""
    d = diameter_ratio
    return ((d - 1) / d) ** 2 / ((d + 1) / (d - 1) - 2 / np.log(d)) / np.pi


def k2(diameter_ratio: Array) -> Array:
    """EN 16984 factor K2 of the diameter ratio De/Di."""
    log = np.log(diameter_ratio)
    return 6 / np.pi * ((diameter_ratio - 1) / log - 1) / log


def k3(diameter_ratio: Array) -> Array:
    """EN 16984 factor K3 of the diameter ratio De/Di."""
    return 3 / np.pi * (diameter_ratio - 1) / np.log(diameter_ratio)


def lever_ratio(d: Discs) -> Array:
    """Ratio r of the full lever arm to the one between dressed edges (1 when sharp)."""
    width = d.od_mm - d.id_mm
    return width / (width - 4 * d.flat_mm)
