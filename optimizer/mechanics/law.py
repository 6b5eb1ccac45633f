"""Load laws: how the load of one disc follows from its cone height left under load.

Every law answers with the same kind of value, a `Curve`. With x the cone height left
(mm, 0 when flat, measured between plates) a disc is described in its own cone rise eta by

    x    = g eta + m eta^2 / 2
    load = (q - p eta - a eta^3) / (g + m eta)

which is virtual work on the cubic energy of a coned disc: g is the lever arm's share,
m how the lever arm changes as the cone turns. All that stands above works on curves and
does not know which law made them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Discs, k1, lever_ratio


@dataclass(frozen=True)
@frozen_arrays
class Curve:
    """Coefficients of discs in a packet, arrays of one shape.

    `free_mm` is x when nothing presses on the disc; `nest_mm` the height an interface of
    nested discs adds to a packet beyond x and the thicknesses.
    """

    a: Array
    p: Array
    q: Array
    g: Array
    m: Array
    free_mm: Array
    nest_mm: Array


class Law(Protocol):
    """A load law: discs and the number `n` of discs nested in their packet give a curve."""

    def __call__(self, d: Discs, n: Array) -> Curve:
        """Return the curves, in the shape of `d`; `n` broadcasts to it."""
        ...


def _cubic(stiffness: Array, t: Array, h: Array) -> tuple[Array, Array, Array]:
    """Coefficients (a, p, q) of F_EN = q - p eta - a eta^3 with eta = h - s."""
    return stiffness * t / 2, stiffness * t * (t**2 - h**2 / 2), stiffness * t**3 * h


def en16984(d: Discs, n: Array) -> Curve:
    """EN 16984:2016, uniform section, with the lever arm of dressed edges.

    Notes
    -----
    F(s) = 4E/(1-nu^2) t^4/(K1 De^2) (s/t) [(h/t - s/t)(h/t - s/2t) + 1]; a dressed disc
    carries r F(h = r h, s = r s). The nesting height t h^2 / (2 b^2) an interface, with b
    half the ring width, is geometry: nested cones stand t/cos(beta) apart, some 5 um.
    """
    r = lever_ratio(d)
    h = r * d.cone_height_mm
    t = d.thickness_mm
    stiffness = (
        d.factor * 4 * d.modulus_mpa / ((1 - d.poisson**2) * k1(d.od_mm / d.id_mm) * d.od_mm**2)
    )
    a, p, q = _cubic(stiffness, t, h)
    nest = 2 * t * (d.cone_height_mm / (d.od_mm - d.id_mm)) ** 2
    return Curve(a, p, q, 1 / r, np.zeros_like(r), d.cone_height_mm, nest)


def thick(d: Discs, n: Array) -> Curve:
    """Finite-thickness form: lever arms between the edges of a turning thick section.

    Notes
    -----
    From an axisymmetric finite-element study (tests/data/README.md): loads act at corners,
    so arms follow from mid-thickness diameters and change as the cone turns; the plane
    stress modulus E replaces E/(1-nu^2). Within 1.6 % of finite elements to 0.75 h for
    h/t 0.56 to 1.33 and flats to 0.4 mm, without a fitted factor.
    """
    t, h, w = d.thickness_mm, d.cone_height_mm, d.flat_mm
    width = d.od_mm - d.id_mm
    beta = 2 * lever_ratio(d) * h / width
    outside, inside = d.od_mm - t * beta, d.id_mm + t * beta
    b = (outside - inside) / 2
    g = 1 - 2 * w / b
    turn = t / b**2
    eta0 = 2 * h / (g + np.sqrt(g**2 - 2 * turn * h))
    ground_away = (
        6 * w**2 * eta0 * (1 / d.od_mm + 1 / d.id_mm) / (width * t * np.log(d.od_mm / d.id_mm))
    )
    stiffness = (
        d.factor * (1 - ground_away) * 4 * d.modulus_mpa / (k1(outside / inside) * outside**2)
    )
    a, p, q = _cubic(stiffness, t, eta0)
    m = (n - 2) * turn
    return Curve(a, p, q, g, m, g * eta0 + m * eta0**2 / 2, np.zeros_like(m))


LAWS: dict[str, Law] = {"en16984": en16984, "thick": thick}
