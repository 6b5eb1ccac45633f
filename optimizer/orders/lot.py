"""How discs and lots scatter, what is believed of a lot, and seeded draws of what is delivered.

The mean of a lot is the same for all its discs: those that were measured tell it, and those
that are bought later from the same lot are expected about it (conjugate normal). The limits of a
size are read as limits, not as a distribution: what lies between them is assumed, and every
assumption is a field of `Manufacture`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from optimizer.errors import InputError
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array, Discs, Mask, discs
from optimizer.mechanics.law import en16984
from optimizer.model.catalog import Band, Size
from optimizer.model.job import Instrument
from optimizer.orders.catalog import PRINTED_AT, printed_load_n
from optimizer.orders.manufacture import Manufacture


def disc_sd(band: Band, making: Manufacture) -> float:
    """Standard deviation in mm of a measure whose limits are `band`."""
    nearer = min(abs(band.lower), abs(band.upper)) or max(abs(band.lower), abs(band.upper)) / 2
    return nearer / making.limits_at_sd


def tool_sd(tool: Instrument) -> tuple[float, float]:
    """Standard deviations of one measured thickness and height, their steps with them."""
    return (
        float(np.hypot(tool.thickness_sd_mm, tool.thickness_resolution_mm / np.sqrt(12))),
        float(np.hypot(tool.height_sd_mm, tool.height_resolution_mm / np.sqrt(12))),
    )


def within_lot_sd(size: Size, making: Manufacture) -> tuple[float, float]:
    """Standard deviations of thickness and cone height within a lot."""
    t, overall = (
        disc_sd(band, making) / np.hypot(1, making.lot_share)
        for band in (size.limits.thickness, size.limits.height)
    )
    return t, float(np.hypot(t, overall))


@dataclass(frozen=True)
class Lot:
    """Mean thickness and overall height off nominal in mm, ln of the stiffness, each with its sd.

    `discs` tell it, `gauged` says whether readings of the bench do as well.
    """

    middle_mm: tuple[float, float]
    middle_sd_mm: tuple[float, float]
    stiff: float
    stiff_sd: float
    discs: int = 0
    gauged: bool = False


def unseen(size: Size, making: Manufacture) -> Lot:
    """Return what is assumed of any lot of a size."""
    bands = (size.limits.thickness, size.limits.height)
    t, overall = (
        making.lot_share * disc_sd(band, making) / np.hypot(1.0, making.lot_share) for band in bands
    )
    return Lot((0.0, 0.0), (float(t), float(overall)), 0.0, making.modulus_sd)


def seen(
    size: Size,
    making: Manufacture,
    tool: Instrument,
    discs: Discs,
    stiff: tuple[float, float] | None = None,
) -> Lot:
    """Return what discs of a lot tell of it, on top of what is assumed of any.

    Parameters
    ----------
    discs : the discs as measured; drawn towards their mean or not, as only that counts
    stiff : ln of the stiffness that readings of the bench taught, with its sd

    Notes
    -----
    The mean of n discs is that of the lot with variance (within^2 + tool^2) / n, and prior and
    mean are weighed by their precision. Thickness and overall height count as independent. A
    reading that is as doubtful as what was assumed or more is left out.
    """
    before = unseen(size, making)
    count = len(discs.thickness_mm)
    if not count:
        return before
    t_tool, h_tool = tool_sd(tool)
    off_t = discs.thickness_mm - size.thickness_mm
    off: tuple[Array, Array] = off_t, off_t + discs.cone_height_mm - size.cone_height_mm
    middle, sd = [], []
    bands = (size.limits.thickness, size.limits.height)
    tools = (t_tool, float(np.hypot(t_tool, h_tool)))
    for of, band, own, prior in zip(off, bands, tools, before.middle_sd_mm, strict=True):
        within = disc_sd(band, making) / np.hypot(1.0, making.lot_share)
        variance = (within**2 + own**2) / count
        weight = prior**2 / (prior**2 + variance) if prior else 0.0
        middle.append(float(weight * of.mean()))
        sd.append(float(prior * np.sqrt(1 - weight)))
    if stiff is None or stiff[1] >= before.stiff_sd:
        told = (before.stiff, before.stiff_sd)
    else:
        told = stiff
    return Lot((middle[0], middle[1]), (sd[0], sd[1]), *told, count, told is stiff)


#: discs are drawn so many at a time, so that a longer stream begins like a shorter one
BLOCK = 256
#: a lot of which a smaller share is within the limits of load is scrapped by its maker
LEAST_GOOD = 0.5
#: lots scrapped before the limits themselves are taken to be at odds with each other
MOST_SCRAPPED = 200


@dataclass(frozen=True)
@frozen_arrays
class Delivery:
    """Discs of one lot in the order in which they are unpacked, arrays of n.

    `factor` is the true stiffness over nominal, `lot_factor` that of the lot.
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


def deliver(
    size: Size, making: Manufacture, rng: np.random.Generator, count: int, of: Lot | None = None
) -> Delivery:
    """Draw `count` discs of one lot: any, or one that something is known `of`.

    The first discs do not depend on `count`: a smaller order is the start of a larger one.

    Raises
    ------
    InputError
        when hardly a disc within the limits of lengths is within those of load.
    """
    bands = (size.limits.thickness, size.limits.height)
    low, high = np.array([(band.lower, band.upper) for band in bands]).T
    whole = np.array([disc_sd(band, making) for band in bands])
    spread = whole / np.hypot(1.0, making.lot_share)
    printed = float(printed_load_n((size,))[0])
    of = unseen(size, making) if of is None else of
    for _ in range(MOST_SCRAPPED):
        off = rng.standard_normal(3)
        middle = np.clip(np.array(of.middle_mm) + of.middle_sd_mm * off[:2], low, high)
        factor = float(np.exp(of.stiff + of.stiff_sd * off[2]))
        lot = _Lot(size, making, middle, spread, low, high, factor, printed)
        blocks = [lot.block(rng)]
        if blocks[0].shape[1] >= LEAST_GOOD * BLOCK:
            break
    else:
        raise InputError.of(
            "Expected limits of thickness, height and load that go together; made to the "
            "first two, hardly a disc keeps the third.",
            f"size {size.name}",
            "Check its limits of load, or leave them out.",
        )
    while sum(block.shape[1] for block in blocks) < count:
        blocks.append(lot.block(rng))
    t, h, factor = np.concatenate(blocks, axis=1)[:, :count]
    return Delivery(t, h, factor, lot.factor)


@dataclass(frozen=True)
@frozen_arrays
class _Lot:
    """One lot: means and spreads of thickness and overall height as deviations in mm (2)."""

    size: Size
    making: Manufacture
    middle: Array
    spread: Array
    low: Array
    high: Array
    factor: float
    printed_n: float

    def block(self, rng: np.random.Generator) -> Array:
        """Make BLOCK discs; thickness, cone height and factor (3, n) of those within limits."""
        uniform, stiff = rng.random((BLOCK, 2)), rng.standard_normal(BLOCK)
        safe = np.where(self.spread > 0, self.spread, 1.0)
        first, last = ndtr((self.low - self.middle) / safe), ndtr((self.high - self.middle) / safe)
        off = self.middle + self.spread * ndtri(first + uniform * (last - first))
        t = self.size.thickness_mm + off[:, 0]
        h = self.size.cone_height_mm + off[:, 1] - off[:, 0]
        factor = self.factor * np.exp(self.making.disc_stiffness_sd * stiff)
        made = np.stack([t, h, factor])[:, h > 0]
        return made[:, _within_load(self.size, self.printed_n, made)]


def _within_load(size: Size, printed_n: float, made: Array) -> Mask:
    """Tell which discs (3, n) keep the limits of load at the printed test length."""
    limits = size.limits.load
    if limits.lower == limits.upper:  # none given
        return np.ones(made.shape[1], dtype=bool)
    t, h, factor = made
    left = size.thickness_mm + (1 - PRINTED_AT) * size.cone_height_mm - t
    curve = en16984(discs(size.od_mm, size.id_mm, t, h, 0.0, size.modulus_mpa, 0.3, factor), h)
    at_length = curve.q - curve.p * left - curve.a * left**3
    share = at_length / printed_n - 1
    within: Mask = (share >= limits.lower) & (share <= limits.upper)
    return within
