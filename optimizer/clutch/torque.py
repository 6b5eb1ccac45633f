"""Torque: what the shoes carry above their engagement speeds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.clutch.engagement import balanced_load_n
from optimizer.clutch.shoes import Linings
from optimizer.mechanics.disc import Array

MM_PER_M = 1000.0


@dataclass(frozen=True)
class Torque:
    """Torque in N m at speeds `rpm` (R): of each shoe, (R, S), and of all together, (R)."""

    rpm: Array
    shoe_nm: Array
    total_nm: Array


def torque(contact_pull_kgm: Array, linings: Linings, work_n: Array, rpm: Array) -> Torque:
    """Torque that shoes (S) with stack loads `work_n` (S) carry at speeds `rpm` (R).

    Notes
    -----
    What throws a shoe out beyond the load of its stack presses it on the drum:
    friction * drum radius * lever of the lining * (lever m r omega^2 - load), 0 before it
    touches (Khurmi and Gupta, A Textbook of Machine Design, centrifugal clutches, from
    memory; moments about the pivot give the two levers). Shoes that drag themselves on or off
    (leading, trailing) need a friction that says so.
    """
    thrown = balanced_load_n(contact_pull_kgm, np.asarray(rpm, dtype=np.float64)[:, None])
    pressure = linings.lever * np.maximum(thrown - work_n, 0.0)
    shoe = linings.friction * linings.drum_radius_mm / MM_PER_M * pressure
    return Torque(rpm, shoe, shoe.sum(-1))


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
