"""Stacks on the gauge: what it presses, how far one reading can be off, what again is alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.mechanics.stack import rate, stack_load
from optimizer.model.job import Gauge

#: harmonics of the rounding error that are summed; the rest is below a thousandth of it
HARMONICS = np.arange(1, 40)


def reading_variance(gauge: Gauge, rate_n_per_mm: Array | float) -> Array:
    """Variance in N^2 of one reading of stacks of a rate (S): step, repeatability, stop.

    Notes
    -----
    Rounding to the display's step is uniform: step^2 / 12. The travel stop is off by some
    micrometres, which a stack of `rate_n_per_mm` turns into load.
    """
    return gauge.resolution_n**2 / 12 + shaken(gauge, rate_n_per_mm) ** 2


def step_variance(gauge: Gauge, rate_n_per_mm: Array) -> Array:
    """Part of it (R) that readings again have alike, as a display rounds the same load the same.

    Notes
    -----
    What noise shakes from step to step does average out: the rounding error is a sawtooth of the
    load, and noise of a standard deviation s lowers its k-th harmonic, of variance
    step^2 / (2 pi^2 k^2), by exp(-2 pi^2 k^2 s^2 / step^2) (its Fourier series, and the mean of a
    cosine over a normal).
    """
    noise = shaken(gauge, rate_n_per_mm) / gauge.resolution_n
    left = np.exp(-4 * np.pi**2 * HARMONICS**2 * noise[:, None] ** 2) / HARMONICS**2
    alike: Array = gauge.resolution_n**2 / (2 * np.pi**2) * left.sum(1)
    return alike


def shaken(gauge: Gauge, rate_n_per_mm: Array | float) -> Array:
    """Standard deviation in N of what differs from reading to reading: repeatability and stop."""
    return np.hypot(gauge.repeatability_n, np.asarray(rate_n_per_mm) * gauge.travel_stop_mm)


@dataclass(frozen=True)
@frozen_arrays
class Pressed:
    """R stacks at their travel.

    `load_n` (R); `slope` (R, 3n + 1 + S) its change by thickness and cone height (N/mm) and
    ln stiffness (N) of every disc, by the ln load factor (N) and by the place of every shoe
    (N/mm); `rate` (R) in N/mm;
    `scatter_mm2` (R, P) the variance that edges give each packet's deflection at a build.
    """

    load_n: Array
    slope: Array
    rate: Array
    scatter_mm2: Array


def press(rig: Task, members: Index, shoe: Index, travel_mm: Array, shims_mm: Array) -> Pressed:
    """Press stacks `members` (R, P, 3) under shoes (R) by their travels (R).

    Raises
    ------
    MechanicsError
        when a stack would be pressed solid.
    """
    datum = rig.datum.under(shoe, len(rig.travel_mm))
    p = rig.packets(members)
    load = stack_load(p, datum, travel_mm, shims_mm)
    stiffness = rate(p, load)
    each = packet_constant_gradient(rig.discs, members, rig.model, rig.datum, load[:, None])
    rows, n = len(members), len(rig.belief)
    each = np.where((members >= 0)[..., None], each, 0.0)
    slope = np.zeros((rows, rig.durable))
    at = np.where(members >= 0, members, 0)
    by_disc = slope[:, : rig.factor_at].reshape(rows, n, 3)
    np.add.at(by_disc, (np.arange(rows)[:, None, None], at), each)
    slope[:, rig.factor_at] = each[..., 2].sum((1, 2))  # one factor on all discs
    slope[np.arange(rows), rig.factor_at + 1 + shoe] = -1.0
    slope *= -stiffness[:, None]
    scatter = ((each[..., 2] * rig.belief.scatter[at]) ** 2).sum(-1)
    return Pressed(load, slope, stiffness, scatter)
