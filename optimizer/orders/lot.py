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
    return float(np.sqrt(tool.thickness_variance_mm2)), float(np.sqrt(tool.height_variance_mm2))


def _within_sd(size: Size, making: Manufacture) -> Array:
    """Standard deviations (2) of thickness and overall height within a lot."""
    bands = (size.limits.thickness, size.limits.height)
    whole = np.array([disc_sd(band, making) for band in bands])
    return np.asarray(whole / np.hypot(1.0, making.lot_share))


def within_lot_sd(size: Size, making: Manufacture) -> tuple[float, float]:
    """Standard deviations of thickness and cone height within a lot."""
    t, overall = _within_sd(size, making)
    return float(t), float(np.hypot(t, overall))


@dataclass(frozen=True)
class LotEstimate:
    """Mean thickness and overall height off nominal in mm, ln of the stiffness, each with its sd.

    `discs` tell it, `gauged` says whether readings of the bench do as well.
    """

    middle_mm: tuple[float, float]
    middle_sd_mm: tuple[float, float]
    stiff: float
    stiff_sd: float
    discs: int = 0
    gauged: bool = False


def unseen(size: Size, making: Manufacture) -> LotEstimate:
    """Return what is assumed of any lot of a size."""
    t, overall = making.lot_share * _within_sd(size, making)
    return LotEstimate((0.0, 0.0), (float(t), float(overall)), 0.0, making.modulus_sd)


def seen(
    size: Size,
    making: Manufacture,
    tool: Instrument,
    discs: Discs,
    stiff: tuple[float, float] | None = None,
) -> LotEstimate:
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
    off_t = discs.thickness_mm - size.thickness_mm
    off = np.array([off_t, off_t + discs.cone_height_mm - size.cone_height_mm]).mean(1)
    t_tool, h_tool = tool_sd(tool)
    errs = np.array([t_tool, np.hypot(t_tool, h_tool)])
    prior = np.array(before.middle_sd_mm) ** 2
    variance = (_within_sd(size, making) ** 2 + errs**2) / count
    weight = np.divide(prior, prior + variance, out=np.zeros(2), where=prior > 0)
    t, overall = (weight * off).tolist()
    t_sd, overall_sd = np.sqrt(prior * (1 - weight)).tolist()
    gauged = stiff is not None and stiff[1] < before.stiff_sd
    told = stiff if gauged and stiff is not None else (before.stiff, before.stiff_sd)
    return LotEstimate((t, overall), (t_sd, overall_sd), *told, count, gauged)


#: discs are drawn so many at a time, so that a longer stream begins like a shorter one
BLOCK = 256
#: a lot of which a smaller share is within the limits of load is scrapped by its maker
LEAST_GOOD = 0.5
#: lots scrapped before the limits themselves are taken to be at odds with each other
MOST_SCRAPPED = 200


def deliver(
    size: Size,
    making: Manufacture,
    rng: np.random.Generator,
    count: int,
    of: LotEstimate | None = None,
    poisson: float = 0.3,
) -> tuple[Discs, float]:
    """Draw `count` discs of one lot: any, or one that something is known `of`.

    Returns them as they are unpacked, dressed, and how stiff their lot is over nominal. The first
    discs do not depend on `count`: a smaller order is the start of a larger one.

    Raises
    ------
    InputError
        when hardly a disc within the limits of lengths is within those of load.
    """
    bands = (size.limits.thickness, size.limits.height)
    low, high = np.array([(band.lower, band.upper) for band in bands]).T
    spread = _within_sd(size, making)
    printed = float(printed_load_n((size,))[0])
    of = unseen(size, making) if of is None else of

    def block(middle: Array, lot_factor: float) -> Array:
        """Make BLOCK discs; thickness, cone height and factor (3, n) of those within limits."""
        uniform, stiff = rng.random((BLOCK, 2)), rng.standard_normal(BLOCK)
        safe = np.where(spread > 0, spread, 1.0)
        first, last = ndtr((low - middle) / safe), ndtr((high - middle) / safe)
        off = middle + spread * ndtri(first + uniform * (last - first))
        t = size.thickness_mm + off[:, 0]
        h = size.cone_height_mm + off[:, 1] - off[:, 0]
        factor = lot_factor * np.exp(making.disc_stiffness_sd * stiff)
        made = np.stack([t, h, factor])[:, h > 0]
        return np.asarray(made[:, _within_load(size, printed, made)])

    for _ in range(MOST_SCRAPPED):
        off = rng.standard_normal(3)
        middle = np.clip(np.array(of.middle_mm) + of.middle_sd_mm * off[:2], low, high)
        lot_factor = float(np.exp(of.stiff + of.stiff_sd * off[2]))
        blocks = [block(middle, lot_factor)]
        if blocks[0].shape[1] >= LEAST_GOOD * BLOCK:
            break
    else:
        raise InputError(
            "Expected limits of thickness, height and load that go together; made to the "
            "first two, hardly a disc keeps the third.",
            f"size {size.name}",
            "Check its limits of load, or leave them out.",
        )
    while sum(part.shape[1] for part in blocks) < count:
        blocks.append(block(middle, lot_factor))
    t, h, factor = np.concatenate(blocks, axis=1)[:, :count]
    steel = size.modulus_mpa, poisson, factor
    return discs(size.od_mm, size.id_mm, t, h, making.flat_mm, *steel), lot_factor


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
