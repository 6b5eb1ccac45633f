"""What readings tell of discs, load factor and builds: a linear-Gaussian state.

State: thickness (mm), cone height (mm) and ln stiffness of every disc, the ln of one load
factor, and for every build the deflection (mm) that its edges add. Every settled reading
is one observation; all are conditioned on together, which gives what a Kalman filter gives
one after the other, and the slopes are taken again where the state ends up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.builds import Built, Standing, track
from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.rig import Pressed, Rig, press
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.model.readings import Reading
from optimizer.model.stack import Packs

#: prior sd of the ln load factor: the load formula is off by up to some 5 %, a lot's
#: modulus by some 1.5 %
FACTOR_SD = 0.05
#: the slopes are taken again until the loads move less than this share, at most so often
SETTLED, ROUNDS = 1e-4, 4


@dataclass(frozen=True)
class Evidence:
    """Settled readings (R) as linear observations of the state (D).

    `surprise_n` (R) is reading minus what was expected before any reading; `slope` (R, D);
    `prior` (D, D); `noise_n2` (R) the variance of the gauge and the travel stop.
    """

    readings: tuple[Reading, ...]
    built: tuple[Built, ...]
    surprise_n: Array
    slope: Array
    prior: Array
    noise_n2: Array

    @property
    def expected(self) -> Array:
        """Covariance (R, R) of the surprises if all that is assumed holds."""
        covariance: Array = self.slope @ self.prior @ self.slope.T + np.diag(self.noise_n2)
        return covariance


@dataclass(frozen=True)
class Learned:
    """The state after readings: `rig` stands at its mean.

    `before` is the rig as it was; `shift` (3n + 1) what was added to it; `build_mm` (B) the
    mean of the builds' deflections; `covariance` (D, D) with D = 3n + 1 + B.
    """

    before: Rig
    rig: Rig
    shift: Array
    build_mm: Array
    covariance: Array
    standing: Standing
    evidence: Evidence

    @property
    def load_factor(self) -> float:
        """Load factor of the job, as learned."""
        return self.rig.model.load_factor

    @property
    def load_factor_sd(self) -> float:
        """Standard deviation of the load factor."""
        at = len(self.shift) - 1
        return self.load_factor * float(np.sqrt(self.covariance[at, at]))


def learn(
    rig: Rig,
    readings: Sequence[Reading],
    shims_mm: Sequence[float],
    keep_groups: bool = False,
    factor_sd: float = FACTOR_SD,
) -> Learned:
    """Learn from the settled readings; without any the state is the prior.

    Parameters
    ----------
    readings : in the order they were taken
    shims_mm : total of the shims of each shoe (S), where a reading does not know its own
    keep_groups : sub-stacks gauged without a shoe stay together

    Raises
    ------
    MechanicsError
        when a stack that was read would be pressed solid in the model.
    """
    settled = tuple(r for r in readings if r.kind == "settled")
    built, builds, standing = track(settled, keep_groups)
    durable = 3 * len(rig.belief) + 1
    state = np.zeros(durable + builds)
    if not settled:
        prior = _prior(rig, np.zeros(0), factor_sd)
        nothing = Evidence((), (), np.zeros(0), np.zeros((0, durable)), prior, np.zeros(0))
        return Learned(rig, rig, state, state[:0], prior, standing, nothing)
    members = rig.members(tuple(r.packs for r in settled))
    shoe = np.array([(r.shoe or 1) - 1 for r in settled])
    travel = np.array([r.travel_mm or rig.travel_mm[s] for r, s in zip(settled, shoe, strict=True)])
    shim = np.array([_shim(r, shims_mm) for r in settled])
    seen = np.array([r.load_n for r in settled])
    middle = press(rig, members[:1], shoe[:1], travel[:1], shim[:1]).load_n[0]
    state[durable - 1] = np.log(seen[0] / middle)  # near enough for a first slope
    for _ in range(ROUNDS):
        pressed = press(rig.shifted(state[:durable]), members, shoe, travel, shim)
        slope = np.concatenate([pressed.slope, build_slope(pressed, built, builds)], axis=1)
        prior = _prior(rig, _build_variance(pressed, built, builds), factor_sd)
        noise = reading_variance(rig.gauge, pressed.rate)
        expected = pressed.load_n - pressed.slope @ state[:durable]
        surprise = seen - expected
        evidence = Evidence(settled, tuple(built), surprise, slope, prior, noise)
        gain = np.linalg.solve(evidence.expected, slope @ prior).T
        moved = slope @ (gain @ surprise - state)
        state = gain @ surprise
        if np.all(np.abs(moved) <= SETTLED * seen):
            break
    covariance = prior - gain @ slope @ prior
    covariance = (covariance + covariance.T) / 2
    shift = state[:durable]
    return Learned(rig, rig.shifted(shift), shift, state[durable:], covariance, standing, evidence)


def _shim(reading: Reading, shims_mm: Sequence[float]) -> float:
    if reading.shims_mm is not None:
        return reading.shims_mm
    return shims_mm[reading.shoe - 1] if reading.shoe else 0.0


def _prior(rig: Rig, build_variance: Array, factor_sd: float) -> Array:
    n = len(rig.belief)
    prior = np.zeros((3 * n + 1 + len(build_variance),) * 2)
    at = 3 * np.arange(n)[:, None] + np.arange(3)
    prior[at[:, :, None], at[:, None, :]] = rig.belief.covariance
    rest = np.arange(3 * n, len(prior))
    prior[rest, rest] = np.concatenate([[factor_sd**2], build_variance])
    return prior


def build_slope(pressed: Pressed, built: Sequence[Built], builds: int) -> Array:
    """Change in N of the loads (R) by the builds' deflections (B): -rate where it is in."""
    slope = np.zeros((len(built), builds))
    for row, stack in enumerate(built):
        slope[row, sorted({b for b in stack.build if b >= 0})] = -pressed.rate[row]
    return slope


def _build_variance(pressed: Pressed, built: Sequence[Built], builds: int) -> Array:
    """Variance in mm^2 of each build, from the reading that saw it first."""
    variance = np.zeros(builds)
    for row in range(len(built) - 1, -1, -1):
        number = np.array(built[row].build)
        for b in np.unique(number):
            variance[b] = pressed.scatter_mm2[row, : len(number)][number == b].sum()
    return variance


@dataclass(frozen=True)
class Loads:
    """Loads of stacks (S) as believed: mean in N, covariance in N^2, rate in N/mm.

    `slope` (S, D) is the change by the state; `scatter_n2` (S) the variance that taking a
    stack apart and building it again gives it.
    """

    mean_n: Array
    covariance_n2: Array
    rate: Array
    slope: Array
    scatter_n2: Array


def loads(
    learned: Learned,
    stacks: tuple[Packs, ...],
    shims_mm: Sequence[float],
    shoes: Sequence[int] | None = None,
) -> Loads:
    """Loads of stacks at the travel, standing or to be built: one a shoe, or under `shoes`."""
    rig = learned.rig
    shoes = range(1, len(stacks) + 1) if shoes is None else shoes
    built = [learned.standing.built(s, packs) for s, packs in zip(shoes, stacks, strict=True)]
    members = rig.members(stacks)
    at: Index = np.array(shoes) - 1
    pressed = press(rig, members, at, rig.travel_mm[at], np.asarray(shims_mm, dtype=np.float64))
    by_build = build_slope(pressed, built, len(learned.build_mm))
    slope = np.concatenate([pressed.slope, by_build], axis=1)
    scatter = pressed.scatter_mm2 * pressed.rate[:, None] ** 2
    anew = np.zeros(members.shape[:2])
    for i, (s, packs) in enumerate(zip(shoes, stacks, strict=True)):
        anew[i, : len(packs)] = learned.standing.anew(s, packs)
    covariance = slope @ learned.covariance @ slope.T + np.diag((anew * scatter).sum(1))
    mean = pressed.load_n + by_build @ learned.build_mm
    return Loads(mean, covariance, pressed.rate, slope, scatter.sum(1))


def calibrated(learned: Learned) -> Rig:
    """Return the rig with the doubt of each disc as it is left (blocks of the state)."""
    n = len(learned.rig.belief)
    at = 3 * np.arange(n)[:, None] + np.arange(3)
    cover = learned.covariance[at[:, :, None], at[:, None, :]]
    return replace(learned.rig, belief=replace(learned.rig.belief, covariance=cover))
