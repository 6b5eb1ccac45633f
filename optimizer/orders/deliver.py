"""Seeded draws of what a maker delivers.

The limits of a size are read as limits, not as a distribution: what lies between them is
assumed, and every assumption is a field of `Making`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from optimizer.orders.catalog import PRINTED_AT, Size
from optimizer.orders.limits import Band
from optimizer.physics.disc import Array, Discs, discs
from optimizer.physics.law import en16984
from optimizer.physics.packet import Model, load, packets

#: discs are drawn so many at a time, so that a longer stream begins like a shorter one
BLOCK = 128
#: a lot of which a smaller share is within the limits of load is scrapped by its maker
LEAST_GOOD = 0.5
#: lots scrapped before the limits themselves are taken to be at odds with each other
MOST_SCRAPPED = 200


@dataclass(frozen=True)
class Making:
    """How discs are made; all of it assumed, none of it measured.

    A maker aims at nominal and keeps the nearer limit of thickness and of overall height at
    `limits_at_sd` standard deviations; what lies outside either limit, or outside the limits
    of load, is not delivered. The mean of a lot is off by `lot_share` of that deviation, its
    modulus by `modulus_sd`; single discs are stiffer or softer by `disc_stiffness_sd`. The
    buyer dresses edges to flats of `flat_mm`; all packs of an order come from one lot.
    """

    limits_at_sd: float = 3.0
    lot_share: float = 0.5
    modulus_sd: float = 0.015
    disc_stiffness_sd: float = 0.01
    flat_mm: float = 0.0


@dataclass(frozen=True)
class Delivery:
    """Discs of one lot in the order in which they are unpacked, arrays of n.

    `factor` is the true stiffness over nominal, `lot_factor` the part common to the lot.
    """

    thickness_mm: Array
    cone_height_mm: Array
    factor: Array
    lot_factor: float

    def discs(self, size: Size, flat_mm: float, poisson: float) -> Discs:
        """Return the discs as the mechanics take them, dressed to `flat_mm`."""
        return discs(
            size.od_mm,
            size.id_mm,
            self.thickness_mm,
            self.cone_height_mm,
            flat_mm,
            size.modulus_mpa,
            poisson,
            self.factor,
        )


def disc_sd(band: Band, making: Making) -> float:
    """Standard deviation in mm of a measure whose limits are `band`."""
    nearer = min(abs(band.lower), abs(band.upper)) or max(abs(band.lower), abs(band.upper)) / 2
    return nearer / making.limits_at_sd


def deliver(size: Size, making: Making, rng: np.random.Generator, count: int) -> Delivery:
    """Draw `count` discs of one lot.

    The first discs do not depend on `count`: a smaller order is the start of a larger one.
    """
    spread = np.array([disc_sd(band, making) for band in (size.limits.thickness, size.limits.height)])
    for _ in range(MOST_SCRAPPED):
        off = rng.standard_normal(3)
        middle = np.array([_inside(b, m) for b, m in zip(
            (size.limits.thickness, size.limits.height), making.lot_share * spread * off[:2], strict=True
        )])
        lot_factor = float(np.exp(making.modulus_sd * off[2]))
        blocks = [_block(size, making, rng, middle, spread, lot_factor)]
        if blocks[0].shape[1] >= LEAST_GOOD * BLOCK:
            break
    while sum(block.shape[1] for block in blocks) < count:
        blocks.append(_block(size, making, rng, middle, spread, lot_factor))
    t, h, factor = np.concatenate(blocks, axis=1)[:, :count]
    return Delivery(t, h, factor, lot_factor)
