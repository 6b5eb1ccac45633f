"""Stresses of EN 16984 at the five places of a disc's section where they are greatest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Discs, k1, k2, k3, lever_ratio


@dataclass(frozen=True)
@frozen_arrays
class Stresses:
    """Stresses in MPa, tension positive, arrays of one shape.

    `om` at the top of the section on the centre of rotation, `i` inside top, `ii` inside
    bottom, `iii` outside bottom, `iv` outside top; the disc lies with its cone upwards.
    """

    om: Array
    i: Array
    ii: Array
    iii: Array
    iv: Array


def stresses(d: Discs, deflection_mm: Array) -> Stresses:
    """Stresses of discs pressed by `deflection_mm` (broadcast to the shape of `d`).

    Notes
    -----
    EN 16984:2016, uniform section (K4 = 1), with C = 4E/(1-nu^2) t^2/(K1 De^2) s/t,
    delta = De/Di and v = h/t - s/2t:
    sigma_OM = -3/pi C, sigma_I and II = -C (K2 v +- K3),
    sigma_III and IV = -C ((K2 - 2 K3) v -+ K3) / delta.
    A dressed disc turns further, as its lever arm is shorter: r h and r s stand for h and s.
    The disc's own `factor` is left out, as an unknown stiffness need not be the modulus.
    """
    r = lever_ratio(d)
    t, delta = d.thickness_mm, d.od_mm / d.id_mm
    s = r * np.asarray(deflection_mm, dtype=np.float64)
    v = (r * d.cone_height_mm - s / 2) / t
    c = 4 * d.modulus_mpa / (1 - d.poisson**2) * t * s / (k1(delta) * d.od_mm**2)
    bend, turn = k2(delta), k3(delta)
    outside = (bend - 2 * turn) * v
    return Stresses(
        om=-3 / np.pi * c,
        i=-c * (bend * v + turn),
        ii=-c * (bend * v - turn),
        iii=-c * (outside - turn) / delta,
        iv=-c * (outside + turn) / delta,
    )
