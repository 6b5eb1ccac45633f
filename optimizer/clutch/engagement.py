"""Engagement: at which speed shoes start to move and touch the drum, and how far apart.

A shoe touches when what throws it out equals the load of its stack at the travel:

    load = lever * mass * radius * omega^2,    radius = radius at rest + travel

so speed goes with the square root of the load.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.clutch.shoes import Shoes, has_masses, shoes_of
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Packets
from optimizer.mechanics.stack import stack_load
from optimizer.model.job import Job

RAD_PER_S_PER_RPM = np.pi / 30

#: draws from which the uncertainty of the band is read: its quantiles are then good to about 1 %
DRAWS = 20_000


def speed_rpm(pull_kgm: Array | float, load_n: Array | float) -> Array:
    """Speed in rpm at which shoes of `pull_kgm` lift off a spring load, broadcast together."""
    omega: Array = np.sqrt(np.asarray(load_n, dtype=np.float64) / pull_kgm)
    return omega / RAD_PER_S_PER_RPM


def balanced_load_n(pull_kgm: Array | float, rpm: Array | float) -> Array:
    """Spring load in N that shoes of `pull_kgm` balance at a speed: the reverse."""
    omega = np.asarray(rpm, dtype=np.float64) * RAD_PER_S_PER_RPM
    return pull_kgm * omega**2


def rpm_per_newton(rpm: Array | float, load_n: Array) -> Array:
    """Change of engagement speed per change of load: half of rpm/load, from the square root."""
    return rpm / (2 * load_n)


@dataclass(frozen=True)
@frozen_arrays
class Springs:
    """Stacks (S, P) in their rooms; `factor` (S) is measured over predicted load, else 1."""

    packets: Packets
    datum: Datum
    shims_mm: Array
    factor: Array

    def load_n(self, pressed_mm: Array | float) -> Array:
        """Load (S) with the stacks pressed `pressed_mm` (S) further than at rest.

        Raises
        ------
        MechanicsError
            when a stack would be pressed solid.
        """
        return self.factor * stack_load(self.packets, self.datum, pressed_mm, self.shims_mm)


@dataclass(frozen=True)
@frozen_arrays
class Hookup:
    """When S shoes touch the drum, from their loads in N; speeds in rpm.

    `band_rpm` is the last shoe's engagement speed less the first one's, as predicted. Truly
    it is wider: with the uncertainty of the loads it is as likely above `band_median_rpm` as
    below, and above `band_ninety_rpm` in one set of ten. Both, and `touch_sd_rpm`, are None
    where no doubt is given.
    """

    work_n: Array
    touch_rpm: Array
    touch_sd_rpm: Array | None
    band_rpm: float
    band_median_rpm: float | None
    band_ninety_rpm: float | None

    @property
    def mean_rpm(self) -> float:
        """Mean engagement speed of the shoes."""
        return float(self.touch_rpm.mean())

    @property
    def rpm_per_newton(self) -> float:
        """How much one newton on one stack moves its shoe, mean of the shoes."""
        return float(rpm_per_newton(self.touch_rpm, self.work_n).mean())


def hookup(
    contact_pull_kgm: Array, work_n: Array, sd_n: Array | None = None, seed: int = 0
) -> Hookup:
    """Engagement of shoes with these loads at the travel and sds of the loads (S).

    Notes
    -----
    What is common to all shoes (load law, lot, speedometer) moves the band as a whole and is
    left out of `sd_n`; the loads' own errors are taken as independent and normal.
    """
    touch = speed_rpm(contact_pull_kgm, work_n)
    if sd_n is None:
        return Hookup(work_n, touch, None, float(np.ptp(touch)), None, None)
    sd = rpm_per_newton(touch, work_n) * sd_n
    drawn = np.random.default_rng(seed).standard_normal((DRAWS, len(touch))) * sd + touch
    half, ninety = np.quantile(np.ptp(drawn, axis=1), (0.5, 0.9))
    return Hookup(work_n, touch, sd, float(np.ptp(touch)), float(half), float(ninety))


def first_movement_rpm(shoes: Shoes, rest_n: Array) -> Array:
    """Speed (S) at which shoes leave their rest, held there by the load `rest_n` (S).

    On the bench's seating datum that load is the seating load and no more; a stack loose in
    its room holds nothing, so its shoe moves at once (0 rpm).
    """
    return speed_rpm(shoes.pull_kgm(0.0), rest_n)


def target_loads(job: Job) -> Array:
    """Target load in N of each shoe (S).

    With an engagement speed each shoe gets the load that it balances there. With a load, alike
    shoes get just that; shoes that differ and whose masses are known get loads of that mean
    which they all balance at one speed.

    Raises
    ------
    InputError
        with an engagement speed, when a mass or radius is missing.
    """
    count = len(job.shoes)
    if job.target.engagement_rpm is not None:
        return balanced_load_n(shoes_of(job).contact_pull_kgm, job.target.engagement_rpm)
    assert job.target.load_n is not None  # the reader asks for exactly one
    if not has_masses(job):
        return np.full(count, job.target.load_n)
    pull = shoes_of(job).contact_pull_kgm
    if np.ptp(pull) == 0:
        return np.full(count, job.target.load_n)
    loads: Array = job.target.load_n * pull / pull.mean()
    return loads


def matching_note(job: Job) -> tuple[str, ...]:
    """What to say of how unlike shoes are matched; nothing for alike ones."""
    if not has_masses(job):
        differ = len({(s.travel_mm, s.lever, s.mass_g, s.cg_radius_mm) for s in job.shoes}) > 1
        if not differ:
            return ()
        return (
            "the shoes differ, but without every shoe_mass and cg_radius their speeds are not "
            "known: loads are matched, so unlike shoes will not touch at one speed.",
        )
    pull = shoes_of(job).contact_pull_kgm
    if np.ptp(pull) == 0:
        return ()
    equal = np.full(len(pull), target_loads(job).mean())
    apart = float(np.ptp(speed_rpm(pull, equal)))
    return (
        "the shoes differ, so their engagement speeds are matched, not their loads: with equal "
        f"loads they would touch {apart:.0f} rpm apart. Each stack belongs to its shoe.",
    )
