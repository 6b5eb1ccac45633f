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

from optimizer.frozen import frozen_arrays, joined
from optimizer.mechanics.constant import packet_constant
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array, Discs, discs
from optimizer.mechanics.packet import Index, LoadModel
from optimizer.model.catalog import Size
from optimizer.orders.study import Study
from optimizer.orders.unpack import Unpacked

#: total degree of the polynomial, and Chebyshev nodes along each of its three axes
DEGREE, NODES = 4, 8
#: standard deviations of ln(stiffness) that it is fitted over, and what is added to them
STIFF_SD, STIFF_MORE = 4.0, 0.03


@dataclass(frozen=True)
class LikeDiscs:
    """New discs of a size as far as they are all alike, in packets at a target load.

    `stiff` is how far ln(stiffness) may be off, one way or the other.
    """

    size: Size
    flat_mm: float
    stiff: float
    poisson: float
    model: LoadModel
    datum: Datum
    target_n: float

    @classmethod
    def of(cls, study: Study) -> LikeDiscs:
        """Return those of a study, dressed and pressed as they will be."""
        clutch, making = study.clutch, study.making
        sd = float(np.hypot(making.modulus_sd, making.disc_stiffness_sd))
        return cls(
            study.candidate.size, making.flat_mm, STIFF_SD * sd + STIFF_MORE, clutch.poisson,
            clutch.model, clutch.datum, clutch.target_n,
        )  # fmt: skip

    def constant_mm(self, packet: int, some: Discs) -> Array:
        """Constant in mm of packets of `packet` discs just like each (n) of some of them."""
        powers, coefficient = _fitted(self, packet)
        off_t = some.thickness_mm - self.size.thickness_mm
        off_overall = some.cone_height_mm - self.size.cone_height_mm + off_t
        off = np.stack([off_t, off_overall, np.log(some.factor)], axis=1)
        middle, half = self.range()
        return _terms((off - middle) / half, powers) @ coefficient

    def range(self) -> tuple[Array, Array]:
        """Middle and half width of what thickness, overall height and ln(stiffness) are off by."""
        bands = (self.size.limits.thickness, self.size.limits.height)
        ends = [*((b.lower, b.upper) for b in bands), (-self.stiff, self.stiff)]
        low, high = np.array(ends).T
        return (low + high) / 2, np.maximum((high - low) / 2, 1e-6)


@cache
def _fitted(like: LikeDiscs, packet: int) -> tuple[Index, Array]:
    """Fit the polynomial: powers (K, 3) and coefficients (K)."""
    node = np.cos(np.pi * (np.arange(NODES) + 0.5) / NODES)
    at = np.array(list(product(node, repeat=3)))
    middle, half = like.range()
    off_t, off_overall, stiff = (middle + half * at).T
    some = discs(
        like.size.od_mm,
        like.size.id_mm,
        like.size.thickness_mm + off_t,
        like.size.cone_height_mm + off_overall - off_t,
        like.flat_mm,
        like.size.modulus_mpa,
        like.poisson,
        np.exp(stiff),
    )
    members = np.repeat(np.arange(len(at))[:, None], packet, axis=1)
    exact = packet_constant(some, members, like.model, like.datum, like.target_n)
    every: Index = np.array([p for p in product(range(DEGREE + 1), repeat=3) if sum(p) <= DEGREE])
    return every, np.asarray(np.linalg.lstsq(_terms(at, every), exact, rcond=None)[0], np.float64)


def _terms(at: Array, powers: Index) -> Array:
    """All monomials (n, K) of measures (n, 3) scaled to the range of the fit, -1 to 1 within it."""
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
    clutch, like, new = study.clutch, LikeDiscs.of(study), len(study.on_hand)
    measured, true = unpacked.believed, unpacked.true
    three, count = (true, measured, stiffer(measured, new, factor)), len(true.factor)
    held = joined(one.take(np.arange(new)) for one in three)
    bought = [one.take(np.arange(new, count)) for one in three]
    constant = np.zeros((3, 3, count))
    for k in sizes:
        constant[:, k - 1, new:] = [like.constant_mm(k, some) for some in bought]
        if new:
            members = np.repeat(np.arange(3 * new)[:, None], k, axis=1)
            exact = packet_constant(held, members, clutch.model, clutch.datum, clutch.target_n)
            constant[:, k - 1, :new] = exact.reshape(3, -1)
    return LikeConstants(constant[0], constant[1], constant[2], new, factor)


def stiffer(discs: Discs, new: int, factor: float) -> Discs:
    """Return discs of which those from place `new` on are `factor` times as stiff."""
    known = discs.factor.copy()
    known[new:] *= factor
    return replace(discs, factor=known)
