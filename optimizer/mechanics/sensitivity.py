"""How a packet's height under load answers to each of its discs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index, LoadModel, disc_loads, packets, residual_cone_height

#: step of the central differences in mm: their error is near 1e-9 of the slope
STEP_MM = 1e-5


def residual_cone_gradient(
    d: Discs, members: Index, model: LoadModel, force_n: Array | float
) -> Array:
    """Change of the residual cone height x under load `force_n`, by disc and property.

    Parameters
    ----------
    members : S + (m,) disc numbers, -1 where there is none
    force_n : load in N, broadcast to S

    Returns
    -------
    S + (m, 3): dx/dt, dx/dh (mm/mm) and dx/dln(stiffness factor) (mm).

    Notes
    -----
    Implicit differentiation of scale * sum F_j(x) = F at constant F.
    """
    p = packets(d, members, model)
    x = residual_cone_height(p, np.asarray(force_n, dtype=np.float64))
    by_stiffness = disc_loads(p, x)

    n, step = len(d.thickness_mm), STEP_MM * np.repeat([1.0, -1.0, 0.0, 0.0], len(d.thickness_mm))
    four = d.take(np.tile(np.arange(n), 4))  # thicker, thinner, higher, lower, all at once
    moved = replace(
        four,
        thickness_mm=four.thickness_mm + step,
        cone_height_mm=four.cone_height_mm + np.roll(step, 2 * n),
    )
    at = n * np.arange(4).reshape(4, *[1] * members.ndim)
    loads = disc_loads(packets(moved, np.where(members >= 0, members + at, -1), model), x)
    by_length = (loads[::2] - loads[1::2]) / (2 * STEP_MM)
    change = np.stack([*by_length, by_stiffness], axis=-1)
    steps = (disc_loads(p, x - STEP_MM) - disc_loads(p, x + STEP_MM)) / (2 * STEP_MM)
    total = steps.sum(-1)[..., None, None]
    gradient: Array = np.divide(change, total, out=np.zeros_like(change), where=total > 0)
    return gradient
