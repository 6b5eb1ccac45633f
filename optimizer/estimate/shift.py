"""How far readings moved the discs, in deflection at a load."""

from __future__ import annotations

import numpy as np

from optimizer.estimate.learn import Learned
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index


def disc_slope(learned: Learned, load_n: float) -> Array:
    """Change in mm of each disc's deflection at a load by its own properties: (n, 3)."""
    rig = learned.before
    alone: Index = np.full((len(rig.belief), 3), -1)
    alone[:, 0] = np.arange(len(alone))
    slope: Array = packet_constant_gradient(rig.discs, alone, rig.model, rig.datum, load_n)[:, 0]
    return slope


def deflection_shift(learned: Learned, load_n: float) -> tuple[Array, Array]:
    """Shift of each disc's deflection at a load, and its sd now, in mm (n)."""
    slope = disc_slope(learned, load_n)
    n = len(slope)
    at = 3 * np.arange(n)[:, None] + np.arange(3)
    cover = learned.covariance[at[:, :, None], at[:, None, :]]
    sd = np.sqrt(np.einsum("ni,nij,nj->n", slope, cover, slope))
    return (slope * learned.shift[: 3 * n].reshape(n, 3)).sum(1), sd
