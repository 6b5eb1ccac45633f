"""Torque: what the shoes carry above their engagement speeds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.clutch.engagement import balanced_load_n
from optimizer.clutch.shoes import Linings
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array


@dataclass(frozen=True)
@frozen_arrays
class Torque:
    """Torque in N m at speeds `rpm` (R): of each shoe, (R, S), and of all together, (R).

    The sds are from the doubt of the friction, of the loads and of what all of them share.
    """

    rpm: Array
    shoe_nm: Array
    total_nm: Array
    shoe_sd_nm: Array
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
    sd_n, shared_n : doubt of each load (S) of its own, and that which moves all together

    Notes
    -----
    What throws a shoe out beyond the load of its stack presses it on the drum:
    friction * drum radius * lever of the lining * (lever m r omega^2 - load), 0 before it
    touches (Khurmi and Gupta, A Textbook of Machine Design, centrifugal clutches, from
    memory; moments about the pivot give the two levers), times the gain of a pivoted shoe that
    drags itself on or off (`long_shoe.py`). inf where a shoe grabs.
    """
    thrown = balanced_load_n(contact_pull_kgm, np.asarray(rpm, dtype=np.float64)[:, None])
    left = np.maximum(thrown - work_n, 0.0)
    bites = left > 0
    grip, grip_sd = (np.where(bites, g, 0.0) for g in (linings.grip_m, linings.grip_sd_m))
    with np.errstate(invalid="ignore"):  # inf * 0 of a shoe that grabs and does not touch
        shoe = np.where(bites, grip * left, 0.0)
        common = np.where(bites, np.hypot(grip_sd * left, grip * shared_n), 0.0)
        own = np.where(bites, grip * sd_n, 0.0)
        friction, shared = (grip_sd * left).sum(-1), (grip * shared_n).sum(-1)
        total_sd = np.sqrt(friction**2 + shared**2 + (own**2).sum(-1))
    return Torque(rpm, shoe, shoe.sum(-1), np.hypot(common, own), total_sd)


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
