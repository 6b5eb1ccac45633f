"""Constants of packets of like discs of one size, as a polynomial in what differs.

Millions of discs are drawn of one size, all within its limits: over these the constant of a
packet of discs just like one is as smooth as its load law. A polynomial through the exact
mechanics is within some ten nanometres of it, a hundredth of a newton of a stack.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import product

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.constant import packet_constant
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Discs, discs
from optimizer.mechanics.packet import Index, LoadModel
from optimizer.model.catalog import Size
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.study import Study
from optimizer.orders.unpack import Unpacked, joined

#: total degree of the polynomial, and Chebyshev nodes along each of its three axes
DEGREE, NODES = 4, 8
#: standard deviations of ln(stiffness) that it is fitted over, and what is added to them
STIFF_SD, STIFF_MORE = 4.0, 0.03


@dataclass(frozen=True)
class LikeDiscs:
    """What the constant of a packet of like discs depends on, but for the discs themselves."""

    size: Size
    flat_mm: float
    stiffness: float
    poisson: float
    model: LoadModel
    datum: Datum
    target_n: float

    @classmethod
    def of(cls, size: Size, clutch: OrderedClutch, making: Manufacture) -> LikeDiscs:
        """Return it for new discs of a size, dressed and pressed as they will be."""
        sd = float(np.hypot(making.modulus_sd, making.disc_stiffness_sd))
        return cls(
            size, making.flat_mm, STIFF_SD * sd + STIFF_MORE, clutch.poisson, clutch.model,
            clutch.datum, clutch.target_n,
        )  # fmt: skip


def like_constant(steel: LikeDiscs, packet: int, t_mm: Array, h_mm: Array, factor: Array) -> Array:
    """Constant in mm of packets of `packet` discs of thickness, cone height and factor (n)."""
    powers, coefficient = _fitted(steel, packet)
    return _terms(_scaled(steel, t_mm, h_mm, factor), powers) @ coefficient


@cache
def _fitted(steel: LikeDiscs, packet: int) -> tuple[Index, Array]:
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


def _range(steel: LikeDiscs) -> tuple[Array, Array]:
    """Middle and half width of what thickness, overall height and ln(stiffness) are off by."""
    bands = (steel.size.limits.thickness, steel.size.limits.height)
    ends = [*((b.lower, b.upper) for b in bands), (-steel.stiffness, steel.stiffness)]
    low, high = np.array(ends).T
    return (low + high) / 2, np.maximum((high - low) / 2, 1e-6)


def _scaled(steel: LikeDiscs, t_mm: Array, h_mm: Array, factor: Array) -> Array:
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


@dataclass(frozen=True)
@frozen_arrays
class LikeConstants:
    """Constants in mm of packets of k = 1, 2, 3 discs like each disc of a stream: (3, n).

    Those of discs as they are, as measured, and as measured and `factor` times as stiff from
    place `new` on. Numbers of discs that no pattern asks for are left at 0.
    """

    true: Array
    measured: Array
    gauged: Array
    new: int
    factor: float

    def learned(self, factor: float) -> Array:
        """Constants as measured and `factor` times as stiff, near the one computed."""
        part = np.log(factor) / (np.log(self.factor) or 1.0)
        learned: Array = self.measured + part * (self.gauged - self.measured)
        return learned


def like_constants(
    study: Study, unpacked: Unpacked, sizes: set[int], factor: float
) -> LikeConstants:
    """Work out the constants of packets of like discs that patterns of `sizes` have.

    Those of discs on hand on the exact mechanics, those of new ones by the polynomial.
    """
    clutch, new = study.clutch, len(study.on_hand)
    measured, true = unpacked.believed, unpacked.true
    three = (true, measured, stiffer(measured, new, factor))
    steel = LikeDiscs.of(study.candidate.size, clutch, study.making)
    held = joined(*(one.take(np.arange(new)) for one in three))
    constant = np.zeros((3, 3, len(true.factor)))
    for k in sizes:
        members = np.repeat(np.arange(3 * new)[:, None], k, axis=1)
        if new:
            of_held = packet_constant(held, members, clutch.model, clutch.datum, clutch.target_n)
            constant[:, k - 1, :new] = of_held.reshape(3, -1)
        for at, one in enumerate(three):
            constant[at, k - 1, new:] = like_constant(
                steel, k, one.thickness_mm[new:], one.cone_height_mm[new:], one.factor[new:]
            )
    return LikeConstants(constant[0], constant[1], constant[2], new, factor)


def stiffer(discs: Discs, new: int, factor: float) -> Discs:
    """Return discs of which those from place `new` on are `factor` times as stiff."""
    known = discs.factor.copy()
    known[new:] *= factor
    return replace(discs, factor=known)
