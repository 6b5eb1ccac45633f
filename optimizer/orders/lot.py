"""How discs and lots scatter, and what is believed of a lot before and after a sample of it.

The mean of a lot is the same for all its discs: those that were measured tell it, and those
that are bought later from the same lot are expected about it (conjugate normal).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.mechanics.disc import Array, Discs
from optimizer.model.catalog import Band, Size
from optimizer.model.job import Instrument
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
