"""Constants of packets of like discs of one size, as a polynomial in what differs.

Millions of discs are drawn of one size, all within its limits: over these the constant of a
packet of discs just like one is as smooth as its load law. A polynomial through the exact
mechanics is within some ten nanometres of it, a hundredth of a newton of a stack.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np

from optimizer.mechanics.constant import packet_constant
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, discs
from optimizer.mechanics.packet import Index, LoadModel
from optimizer.model.catalog import Size
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.manufacture import Manufacture

#: total degree of the polynomial, and Chebyshev nodes along each of its three axes
DEGREE, NODES = 4, 8
#: standard deviations of ln(stiffness) that it is fitted over, and what is added to them
STIFF_SD, STIFF_MORE = 4.0, 0.03


@dataclass(frozen=True)
class Steel:
    """What the constant of a packet of like discs depends on, but for the discs themselves."""

    size: Size
    flat_mm: float
    stiffness: float
    poisson: float
    model: LoadModel
    datum: Datum
    target_n: float

    @classmethod
    def of(cls, size: Size, clutch: OrderedClutch, making: Manufacture) -> Steel:
        """Return it for new discs of a size, dressed and pressed as they will be."""
        sd = float(np.hypot(making.modulus_sd, making.disc_stiffness_sd))
        return cls(
            size, making.flat_mm, STIFF_SD * sd + STIFF_MORE, clutch.poisson, clutch.model,
            clutch.datum, clutch.target_n,
        )  # fmt: skip


def like_constant(steel: Steel, packet: int, t_mm: Array, h_mm: Array, factor: Array) -> Array:
    """Constant in mm of packets of `packet` discs of thickness, cone height and factor (n)."""
    powers, coefficient = _fitted(steel, packet)
    return _terms(_scaled(steel, t_mm, h_mm, factor), powers) @ coefficient


@cache
def _fitted(steel: Steel, packet: int) -> tuple[Index, Array]:
    """Fit the polynomial: powers (K, 3) and coefficients (K)."""
    node = np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    at = np.array(list(product(node, repeat=3)))
    middle, half = _range(steel)
    off_t, off_overall, stiff = (middle + half * at).T
    steels = discs(
        steel.size.od_mm,
        steel.size.id_mm,
        steel.size.thickness_mm + off_t,
        steel.size.cone_height_mm + off_overall - off_t,
        steel.flat_mm,
        steel.size.modulus_mpa,
        steel.poisson,
        np.exp(stiff),
    )
    members = np.repeat(np.arange(len(at))[:, None], packet, axis=1)
    exact = packet_constant(steels, members, steel.model, steel.datum, steel.target_n)
    every: Index = np.array([p for p in product(range(DEGREE + 1), repeat=3) if sum(p) <= DEGREE])
    return every, np.asarray(np.linalg.lstsq(_terms(at, every), exact, rcond=None)[0], np.float64)


def _range(steel: Steel) -> tuple[Array, Array]:
    """Middle and half width of what thickness, overall height and ln(stiffness) are off by."""
    bands = (steel.size.limits.thickness, steel.size.limits.height)
    ends = [*((b.lower, b.upper) for b in bands), (-steel.stiffness, steel.stiffness)]
    low, high = np.array(ends).T
    return (low + high) / 2, np.maximum((high - low) / 2, 1e-6)


def _scaled(steel: Steel, t_mm: Array, h_mm: Array, factor: Array) -> Array:
    """Measures (n, 3) over the range of the fit, from -1 to 1 within it."""
    size = steel.size
    off_t = t_mm - size.thickness_mm
    off = np.stack([off_t, h_mm - size.cone_height_mm + off_t, np.log(factor)], axis=1)
    middle, half = _range(steel)
    return (off - middle) / half


def _terms(at: Array, powers: Index) -> Array:
    """All monomials (n, K) of the scaled measures (n, 3)."""
    each = at[:, :, None] ** np.arange(DEGREE + 1)
    return each[:, 0, powers[:, 0]] * each[:, 1, powers[:, 1]] * each[:, 2, powers[:, 2]]
