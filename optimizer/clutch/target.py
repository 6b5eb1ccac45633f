"""Target loads of shoes: equal speeds, not equal loads, where the shoes differ."""

from __future__ import annotations

import numpy as np

from optimizer.clutch.engagement import balanced_load_n, speed_rpm
from optimizer.clutch.shoes import has_masses, shoes_of
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job


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
