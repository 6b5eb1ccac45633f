"""Torque: what the shoes carry above their engagement speeds, against what the engine gives."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.clutch.engagement import RAD_PER_S_PER_RPM, balanced_load_n
from optimizer.clutch.shoes import Linings
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array
from optimizer.model.running import TorqueCurve


@dataclass(frozen=True)
@frozen_arrays
class Torque:
    """Torque in N m at speeds `rpm` (R): of each shoe, (R, S), and of all together, (R).

    The sds are from the uncertainty of the friction, of the loads and of what all of them share.
    """

    rpm: Array
    shoe_nm: Array
    total_nm: Array
    total_sd_nm: Array


def torque(
    contact_pull_kgm: Array,
    linings: Linings,
    work_n: Array,
    rpm: Array,
    sd_n: Array | float = 0.0,
    shared_n: Array | float = 0.0,
) -> Torque:
    """Torque that shoes (S) with stack loads `work_n` (S) carry at speeds `rpm` (R).

    Parameters
    ----------
    sd_n, shared_n : uncertainty of each load (S) of its own, and that which moves all together

    Notes
    -----
    What throws a shoe out beyond the load of its stack presses it on the drum:
    friction * drum radius * lever of the lining * (lever m r omega^2 - load), 0 before it
    touches (Khurmi and Gupta, A Textbook of Machine Design, centrifugal clutches, from
    memory; moments about the pivot give the two levers), times the gain of a pivoted shoe that
    drags itself on or off (`shoes.py`). inf where a shoe grabs.
    """
    thrown = balanced_load_n(contact_pull_kgm, np.asarray(rpm, dtype=np.float64)[:, None])
    left = np.maximum(thrown - work_n, 0.0)
    bites = left > 0
    grip, grip_sd = (np.where(bites, g, 0.0) for g in (linings.grip_m, linings.grip_sd_m))
    with np.errstate(invalid="ignore"):  # inf * 0 of a shoe that grabs and does not touch
        shoe = np.where(bites, grip * left, 0.0)
        own = np.where(bites, grip * sd_n, 0.0)
        friction, shared = (grip_sd * left).sum(-1), (grip * shared_n).sum(-1)
        total_sd = np.sqrt(friction**2 + shared**2 + (own**2).sum(-1))
    return Torque(rpm, shoe, shoe.sum(-1), total_sd)


#: speeds tabulated from just below the first shoe's engagement to this many times the last's
FURTHEST = 1.6
ROWS = 14
STEPS = (10, 20, 50, 100, 200, 500, 1000)


def speeds_around(touch_rpm: Array) -> Array:
    """Round speeds from just below the first engagement to well above the last, and between
    them the speeds at which shoes touch, where the curves begin."""
    low, high = float(touch_rpm.min()), FURTHEST * float(touch_rpm.max())
    step = next((s for s in STEPS if (high - low) / s <= ROWS), STEPS[-1])
    rounded = np.arange(np.floor(low / step), np.ceil(high / step) + 1) * step
    return np.union1d(rounded, touch_rpm)


#: speeds looked at for crossings, from the first touch to the end of the curve
GRID = 2001


def curve_nm(curve: TorqueCurve) -> Callable[[Array | float], Array]:
    """Torque in N m at a speed in rpm: smooth through the rows without overshoot.

    Below the first row that row's torque holds, beyond the last the last one's (monotone cubics,
    F. N. Fritsch and R. E. Carlson, SIAM J. Numer. Anal. 17, 1980).
    """
    from scipy.interpolate import PchipInterpolator

    smooth = PchipInterpolator(curve.rpm, curve.torque_nm)
    low, high = curve.rpm[0], curve.rpm[-1]

    def at(rpm: Array | float) -> Array:
        value: Array = smooth(np.minimum(np.maximum(rpm, low), high))
        return value

    return at


def engine_nm(curve: TorqueCurve) -> Callable[[float], float]:
    """The same at one speed in rad/s, as plain numbers: a start asks for thousands of them."""
    from scipy.interpolate import PchipInterpolator

    rpm, torques = curve.rpm, curve.torque_nm
    cubics = PchipInterpolator(rpm, torques).c.T.tolist()

    def at(rad_s: float) -> float:
        speed = rad_s / RAD_PER_S_PER_RPM
        if speed <= rpm[0]:
            return torques[0]
        if speed >= rpm[-1]:
            return torques[-1]
        piece = bisect_right(rpm, speed) - 1
        c3, c2, c1, c0 = cubics[piece]
        x = speed - rpm[piece]
        value: float = ((c3 * x + c2) * x + c1) * x + c0
        return value

    return at


@dataclass(frozen=True)
class Holding:
    """Where the clutch holds full throttle: speeds in rpm, torque in N m.

    `rpm` is the speed from which it holds, None where it never does up to `end_rpm`, the end
    of the curve; `sd_rpm` its uncertainty. `slips` are ranges above it in which the engine is
    stronger again. `margin` is what the clutch carries over what the engine gives, where the engine
    gives most, at `peak_rpm`.
    """

    rpm: float | None
    sd_rpm: float | None
    slips: tuple[tuple[float, float], ...]
    peak_rpm: float
    peak_nm: float
    margin: float
    end_rpm: float


def holding(
    pull_kgm: Array,
    linings: Linings,
    work_n: Array,
    curve: TorqueCurve,
    sd_n: Array | float = 0.0,
    shared_n: Array | float = 0.0,
) -> Holding:
    """Cross the clutch's torque (arguments as in `torque`) with the engine's.

    The uncertainty of the crossing is that of the clutch's torque there, over how much faster than
    the engine's it rises.
    """
    engine = curve_nm(curve)
    end = curve.rpm[-1]
    speeds = np.linspace(min(curve.rpm[0], end), end, GRID)

    def carried(rpm: Array | float) -> Array:
        at = np.atleast_1d(np.asarray(rpm, dtype=np.float64))
        return torque(pull_kgm, linings, work_n, at).total_nm

    spare = carried(speeds) - engine(speeds)
    peak = float(speeds[np.argmax(engine(speeds))])
    peak_nm = float(engine(peak))
    margin = float(carried(peak)[0]) / peak_nm
    rises = np.flatnonzero((spare[:-1] < 0) & (spare[1:] >= 0))
    falls = np.flatnonzero((spare[:-1] >= 0) & (spare[1:] < 0))
    if spare[0] < 0 and not len(rises):
        return Holding(None, None, (), peak, peak_nm, margin, end)
    first = float(speeds[0])
    if spare[0] < 0:
        first = _root(lambda rpm: float(carried(rpm)[0] - engine(rpm)), speeds, int(rises[0]))
    slips = tuple(
        (float(speeds[low]), next((float(speeds[up]) for up in rises if up > low), end))
        for low in falls
    )
    if not np.isfinite(linings.gain).all():
        return Holding(first, None, slips, peak, peak_nm, margin, end)
    at = torque(pull_kgm, linings, work_n, np.array([first]), sd_n, shared_n)
    step = 1e-4 * first
    slope = float((carried(first + step) - carried(first - step))[0]) / (2 * step)
    slope -= float(engine(first + step) - engine(first - step)) / (2 * step)
    sd_nm = float(at.total_sd_nm[0])
    sd = sd_nm / slope if slope > 0 and np.isfinite(sd_nm / slope) else None
    return Holding(first, sd, slips, peak, peak_nm, margin, end)


def _root(spare: Callable[[float], float], speeds: Array, at: int) -> float:
    from scipy.optimize import brentq

    low, high = float(speeds[at]), float(speeds[at + 1])
    if not np.isfinite(spare(high)):
        return high  # a shoe that grabs holds anything as soon as it touches
    return float(brentq(spare, low, high, xtol=1e-6))
