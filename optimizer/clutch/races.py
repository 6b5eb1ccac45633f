"""How long a setup lasts: races until wear of drum and linings has moved the hookup so far."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.clutch.drift import Wear, worn_touch_rpm
from optimizer.clutch.engagement import Springs
from optimizer.clutch.shoes import Shoes
from optimizer.mechanics.disc import Array

#: change of the mean engagement speed that is asked about, and races looked ahead, at most
MOVED_RPM, MOST_RACES = 100.0, 1000.0
#: doubt of how fast the speed moves with wear: the load law's rate (an assumption)
RATE_SD = 0.05


@dataclass(frozen=True)
class Races:
    """Races until the mean engagement speed has moved by `moved_rpm`, below 0 earlier.

    `low` and `high` hold it in two cases of three. None where it does not move so far within
    `MOST_RACES`; `solid` is the number of races after which a stack would be pressed solid.
    """

    moved_rpm: float
    races: float | None
    low: float | None
    high: float | None
    solid: float | None
    rpm_per_race: float


def races(
    springs: Springs,
    shoes: Shoes,
    lining_g_per_mm: Array,
    drum_mm: float,
    lining_mm: float,
    wear_sd: float,
) -> Races | None:
    """Follow wear of so much a race, known to the share `wear_sd`, race by race.

    Returns None where nothing wears, or a stack is solid already.
    """

    def mean(count: float) -> float | None:
        worn = Wear(
            drum_mm=count * drum_mm, lining_mm=count * lining_mm, lining_g_per_mm=lining_g_per_mm
        )
        rpm = worn_touch_rpm(springs, shoes, worn)
        return None if rpm is None else float(rpm.mean())

    now, next_ = mean(0.0), mean(1.0)
    if now is None or drum_mm + lining_mm <= 0:
        return None

    def first(ends: float, outside: bool) -> float | None:
        """Fewest races after which `outside` holds: speed moved by `ends`, or pressed solid."""

        def over(count: float) -> bool:
            rpm = mean(count)
            return rpm is None if outside else rpm is None or abs(rpm - now) >= ends

        if not over(MOST_RACES):
            return None
        low, high = 0.0, MOST_RACES
        while high - low > 1e-3 * max(high, 1.0):
            middle = (low + high) / 2
            low, high = (low, middle) if over(middle) else (middle, high)
        return high

    solid = first(0.0, outside=True)
    count = first(MOVED_RPM, outside=False)
    if count is not None and mean(count) is None:
        count = None  # solid before it has moved so far
    per_race = 0.0 if next_ is None else next_ - now
    if count is None:
        return Races(float(np.copysign(MOVED_RPM, per_race)), None, None, None, solid, per_race)
    share = float(np.hypot(wear_sd, RATE_SD))
    moved = (mean(count) or now) - now
    most = count / (1 - share) if share < 1 else None
    moved_rpm = float(np.copysign(MOVED_RPM, moved))
    return Races(moved_rpm, count, count / (1 + share), most, solid, per_race)
