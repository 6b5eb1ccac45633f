"""Target loads of shoes: equal speeds, not equal loads, where the shoes differ."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.clutch.engagement import balanced_load_n, speed_rpm
from optimizer.clutch.shoes import has_masses, shoes_of
from optimizer.errors import InputError, Problem
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.knowledge import Speed

#: a pull so many times what masses and radii tell is a slip of the hand
FAR = 2.5


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


def seen_job(job: Job, speed: Speed | None) -> Job:
    """Return the job with shoes as heavy as a speed that was seen on the engine tells.

    Lever, mass and radius come out as one product, which alone sets when a shoe touches; all
    masses are taken in proportion. A job that lacks them is returned as it is.

    Raises
    ------
    InputError
        where speed and masses are so far apart that one of them is a slip.
    """
    if speed is None or not has_masses(job):
        return job
    computed = speed_rpm(shoes_of(job).contact_pull_kgm, np.array(speed.loads_n)).mean()
    factor = float((computed / speed.rpm) ** 2)
    if not 1 / FAR < factor < FAR:
        raise InputError(
            Problem(
                f"Expected about {computed:.0f} rpm by masses and radii of the shoes, got "
                f"{speed.rpm:.0f} rpm.",
                f"{job.path.name}, [clutch]",
                "Check the speed, the shoes' mass, radius and arms, and that the loads are of "
                "the stacks that ran; --fresh leaves the speed out.",
            )
        )
    # what was seen holds the springs' own mass already
    shoes = (
        replace(s, mass_g=None if s.mass_g is None else s.mass_g * factor, stack_radius_mm=None)
        for s in job.shoes
    )
    return replace(job, shoes=tuple(shoes))


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
