"""How far measures scatter: of discs, of lots, and of what an instrument says of them."""

from __future__ import annotations

import numpy as np

from optimizer.model.job import Instrument
from optimizer.orders.catalog import Size
from optimizer.orders.limits import Band
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
