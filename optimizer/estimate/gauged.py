"""Readings as observations of the state: which build each was of, and which load it read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.estimate.builds import BuiltStack, Standing, track
from optimizer.estimate.evidence import Evidence, LoadKey, load_key
from optimizer.estimate.gauge import Pressed, press, reading_variance, shaken, step_variance
from optimizer.estimate.problem import Task
from optimizer.mechanics.disc import Array
from optimizer.model.readings import Reading


@dataclass(frozen=True)
class Gauged:
    """Settled readings (R) with how each stack was pressed, and the loads that were read."""

    rig: Task
    readings: tuple[Reading, ...]
    built: tuple[BuiltStack, ...]
    builds: int
    loads: Mapping[LoadKey, int]
    standing: Standing
    shims_mm: Sequence[float]
    factor_sd: float

    @property
    def size(self) -> int:
        """Length of the state."""
        return self.rig.durable + self.builds + len(self.loads)

    @staticmethod
    def of(
        rig: Task,
        readings: Sequence[Reading],
        shims_mm: Sequence[float],
        keep_groups: bool,
        factor_sd: float,
    ) -> Gauged:
        """Take the settled ones of some readings, in the order they were taken."""
        settled = tuple(r for r in readings if r.kind == "settled")
        built, builds, standing = track(settled, keep_groups)
        keys = map(load_key, settled, built)
        loads = {key: at for at, key in enumerate(dict.fromkeys(keys))}
        return Gauged(rig, settled, tuple(built), builds, loads, standing, shims_mm, factor_sd)

    def evidence(self, state: Array) -> Evidence:
        """Linear observations around a state (D), all of them heard."""
        rows = self.readings
        if not rows:
            prior, none = _prior(self.rig, np.zeros(0), self.factor_sd), np.zeros(0)
            slope = np.zeros((0, len(prior)))
            return Evidence((), (), none, slope, prior, none, none, none, none > 0)
        durable = self.rig.durable
        shoe = np.array([(r.shoe or 1) - 1 for r in rows])
        under = np.array([r.shoe is not None for r in rows])
        moved = self.rig.shifted(state[:durable])
        further = (moved.travel_mm - self.rig.travel_mm)[shoe] * under
        own = self.rig.travel_mm[shoe]
        travel = np.array([r.travel_mm or t for r, t in zip(rows, own, strict=True)]) + further
        shim = np.array([_shim(r, self.shims_mm) for r in rows])
        members = self.rig.members(tuple(r.packs for r in rows))
        pressed = press(moved, members, shoe, travel, shim)
        slope = pressed.slope.copy()
        slope[~under, self.rig.factor_at + 1 :] = 0.0  # a sub-stack is under no shoe
        by_build = build_slope(pressed, self.built, self.builds)
        which = [self.loads[key] for key in map(load_key, rows, self.built)]
        step = step_variance(self.rig.gauge, pressed.rate)
        rounding = np.zeros(len(self.loads))
        rounding[which] = step
        build = _build_variance(pressed, self.built, self.builds)
        seen = np.array([r.load_n for r in rows])
        return Evidence(
            rows,
            self.built,
            seen - (pressed.load_n - slope @ state[:durable]),
            np.concatenate([slope, by_build, np.eye(len(self.loads))[which]], axis=1),
            _prior(self.rig, np.concatenate([build, rounding]), self.factor_sd),
            reading_variance(self.rig.gauge, pressed.rate) - step,
            shaken(self.rig.gauge, pressed.rate) ** 2,
            seen,
            np.ones(len(rows), dtype=bool),
        )


def _shim(reading: Reading, shims_mm: Sequence[float]) -> float:
    if reading.shims_mm is not None:
        return reading.shims_mm
    return shims_mm[reading.shoe - 1] if reading.shoe else 0.0


def _prior(rig: Task, passing: Array, factor_sd: float) -> Array:
    """Covariance before any reading; `passing` is the variance of what is not durable."""
    n = len(rig.belief)
    prior = np.zeros((rig.durable + len(passing),) * 2)
    at = 3 * np.arange(n)[:, None] + np.arange(3)
    prior[at[:, :, None], at[:, None, :]] = rig.belief.covariance
    rest = np.arange(3 * n, len(prior))
    # beside the clutch its shoes move no reading: nothing is learned of them, nor doubted
    place = rig.place_sd_mm**2 * rig.in_clutch
    prior[rest, rest] = np.concatenate([[factor_sd**2], place, passing])
    return prior


def build_slope(pressed: Pressed, built: Sequence[BuiltStack], builds: int) -> Array:
    """Change in N of the loads (R) by the builds' deflections (B): -rate where it is in."""
    slope = np.zeros((len(built), builds))
    for row, stack in enumerate(built):
        slope[row, sorted({b for b in stack.builds if b >= 0})] = -pressed.rate[row]
    return slope


def _build_variance(pressed: Pressed, built: Sequence[BuiltStack], builds: int) -> Array:
    """Variance in mm^2 of each build, from the reading that saw it first."""
    variance = np.zeros(builds)
    for row in range(len(built) - 1, -1, -1):
        fresh = np.array(built[row].fresh)
        variance[built[row].joint] = fresh @ pressed.scatter_mm2[row, : len(fresh)]
    return variance
