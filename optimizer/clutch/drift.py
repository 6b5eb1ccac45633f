"""Drift: how engagement speed and band move with wear, and when the set leaves tolerance.

Wear and a heavy hand on the bolts are changes of travel, preload and mass. Each has one sign, and
a reason for it:

    drum worn by d        shoes travel d further, stacks are pressed d more: later
    lining worn by d      the same, and the shoes lose mass: later twice
    seat worn by d        stacks have d more room, so d less preload at rest and at the
                          drum: earlier
    bolts d too tight     stacks have d less room, so d more preload: later

A shoe that travels further has its centre of gravity further out at the drum, which throws
it out harder; drum and lining wear are later in spite of that as long as the stack's load
rises faster than the radius, rate/load > 1/radius. On the seating datum wear of seats and
tight bolts count until the stacks are seated and zeroed anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.clutch.engagement import Springs, speed_rpm
from optimizer.clutch.shoes import Shoes
from optimizer.errors import MechanicsError
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array

#: mass a shoe loses per mm of lining, as a share of its mass: an assumption, not a measurement
LINING_SHARE_PER_MM = 0.012


@dataclass(frozen=True)
@frozen_arrays
class Wear:
    """Wear of S shoes in mm, each a scalar for all shoes or an array of S.

    `tightened_mm` is how much shorter than it should be tight bolts make the room of the
    stack; `lining_g_per_mm` the mass that a shoe loses with its lining.
    """

    drum_mm: Array | float = 0.0
    lining_mm: Array | float = 0.0
    seat_mm: Array | float = 0.0
    tightened_mm: Array | float = 0.0
    lining_g_per_mm: Array | float = 0.0

    @property
    def further_mm(self) -> Array | float:
        """How much further the shoe travels to the drum."""
        return self.drum_mm + self.lining_mm

    @property
    def preload_mm(self) -> Array | float:
        """How much more the stack is pressed at rest."""
        return self.tightened_mm - self.seat_mm


def worn_shoes(shoes: Shoes, wear: Wear) -> Shoes:
    """Return the shoes with the travel and mass that wear leaves them."""
    return replace(
        shoes,
        travel_mm=shoes.travel_mm + wear.further_mm,
        mass_g=shoes.mass_g - wear.lining_mm * wear.lining_g_per_mm,
    )


#: wear is followed this far in mm, first in steps, then halved down to the last micrometre
FURTHEST_MM = 2.0
STEP_MM = 0.05
HALVINGS = 6


@dataclass(frozen=True)
class Tolerance:
    """Engagement speed asked for, how far the mean may be from it, and the widest band."""

    rpm: float
    off_rpm: float
    band_rpm: float


@dataclass(frozen=True)
@frozen_arrays
class Drift:
    """One kind of wear: speeds (A, S) at wear of `amount_mm` (A), nan where pressed solid.

    `limit_mm` is the wear at which the set leaves tolerance and `reason` says by what;
    None where it stays within over the whole range looked at.
    """

    name: str
    why: str
    amount_mm: Array
    touch_rpm: Array
    limit_mm: float | None
    reason: str

    @property
    def mean_rpm(self) -> Array:
        """Mean engagement speed (A)."""
        mean: Array = self.touch_rpm.mean(1)
        return mean

    @property
    def band_rpm(self) -> Array:
        """Band (A) from the first to the last shoe."""
        band: Array = np.ptp(self.touch_rpm, axis=1)
        return band


def worn_touch_rpm(springs: Springs, shoes: Shoes, wear: Wear) -> Array | None:
    """Engagement speed (S) with wear; None where a stack would be pressed solid."""
    worn = worn_shoes(shoes, wear)
    try:
        load = springs.load_n(worn.travel_mm + wear.preload_mm)
    except MechanicsError:
        return None
    return speed_rpm(worn.contact_pull_kgm, load)


def drifts(
    springs: Springs,
    shoes: Shoes,
    lining_g_per_mm: Array,
    amount_mm: Array,
    tolerance: Tolerance,
) -> tuple[Drift, ...]:
    """Follow each kind of wear, on all shoes and on the one shoe where it does most harm.

    Parameters
    ----------
    lining_g_per_mm : mass (S) that a shoe loses per mm of lining
    amount_mm : wear (A) to tabulate
    """
    now = worn_touch_rpm(springs, shoes, Wear())
    if now is None:
        return ()
    first, last = int(now.argmin()), int(now.argmax())
    every, none = np.ones(len(now)), np.zeros(len(now))
    only_first, only_last = none.copy(), none.copy()
    only_first[first] = only_last[last] = 1.0
    seated = ", until seated anew" if not springs.datum.has_room else ""

    more, still = f"more preload: later{seated}", "the last shoe still later"
    kinds = (
        ("drum", "more travel: later", "drum_mm", every),
        ("linings", "more travel, less mass: later twice", "lining_mm", every),
        ("seats", f"less preload: earlier{seated}", "seat_mm", every),
        ("bolts too tight", more, "tightened_mm", every),
        (f"lining, shoe {last + 1} only", still, "lining_mm", only_last),
        (f"seat, shoe {first + 1} only", "the first shoe still earlier", "seat_mm", only_first),
        (f"bolt, shoe {last + 1} only", still, "tightened_mm", only_last),
    )

    def follow(what: str, shoe: Array) -> Callable[[float], Array | None]:
        wear = Wear(lining_g_per_mm=lining_g_per_mm)
        return lambda mm: worn_touch_rpm(springs, shoes, replace(wear, **{what: mm * shoe}))

    found = []
    for name, why, what, shoe in kinds:
        at = follow(what, shoe)
        rows = [at(float(amount)) for amount in amount_mm]
        table = np.stack([np.full(len(now), np.nan) if r is None else r for r in rows])
        found.append(Drift(name, why, amount_mm, table, *_limit(at, tolerance)))
    return tuple(found)


def _limit(at: Callable[[float], Array | None], tolerance: Tolerance) -> tuple[float | None, str]:
    """Least wear that is out of tolerance, and by what."""
    low = 0.0
    for high in np.arange(0.0, FURTHEST_MM + STEP_MM / 2, STEP_MM):
        reason = _outside(at(float(high)), tolerance)
        if reason:
            break
        low = float(high)
    else:
        return None, ""
    high = float(high)
    for _ in range(HALVINGS if high > 0 else 0):
        middle = (low + high) / 2
        now = _outside(at(middle), tolerance)
        low, high, reason = (low, middle, now) if now else (middle, high, reason)
    return high, reason


def _outside(touch_rpm: Array | None, tolerance: Tolerance) -> str:
    if touch_rpm is None:
        return "solid"
    if np.ptp(touch_rpm) > tolerance.band_rpm:
        return "band"
    off = touch_rpm.mean() - tolerance.rpm
    if abs(off) > tolerance.off_rpm:
        return "later" if off > 0 else "earlier"
    return ""


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

    def moved_far(count: float) -> bool:
        rpm = mean(count)
        return rpm is None or abs(rpm - now) >= MOVED_RPM

    def first(over: Callable[[float], bool]) -> float | None:
        """Fewest races after which something is so, and stays so."""
        if not over(MOST_RACES):
            return None
        low, high = 0.0, MOST_RACES
        while high - low > 1e-3 * max(high, 1.0):
            middle = (low + high) / 2
            low, high = (low, middle) if over(middle) else (middle, high)
        return high

    solid = first(lambda count: mean(count) is None)
    count = first(moved_far)
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
