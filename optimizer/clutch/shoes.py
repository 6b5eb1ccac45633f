"""Shoes as arrays of numbers: what throws them outwards, and what they press on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError, Problem
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job

#: a pull in g mm is a millionth of one in kg m
KGM_PER_GMM = 1e-6


@dataclass(frozen=True)
class Shoes:
    """Shoes of one clutch, arrays of S; any shoe may differ.

    `cg_radius_mm` is the radius of the centre of gravity at rest, `travel_mm` the movement at
    the stack from there to the drum. `lever` is the movement of the centre of gravity per
    movement at the stack, the ratio of their arms about the shoe's pivot.
    """

    mass_g: Array
    cg_radius_mm: Array
    travel_mm: Array
    lever: Array

    def pull_kgm(self, moved_mm: Array | float) -> Array:
        """Force at the stack per squared angular speed, in kg m, `moved_mm` (S) from rest there.

        Notes
        -----
        Virtual work: the stack moves by dx and the centre of gravity by lever dx outwards, so
        F dx = m r omega^2 lever dx, with the radius r = cg_radius + lever x (the same follows
        from moments about the pivot).
        """
        radius = self.cg_radius_mm + self.lever * moved_mm
        pull: Array = self.lever * self.mass_g * radius * KGM_PER_GMM
        return pull

    @property
    def contact_pull_kgm(self) -> Array:
        """Pull (S) with the shoe at the drum."""
        return self.pull_kgm(self.travel_mm)


@dataclass(frozen=True)
class Linings:
    """What turns pressure into torque, arrays of S: drum radius and friction of the lining.

    `lever` is the movement at the stack per movement of the lining: the force on the drum per
    force that is left over at the stack.
    """

    drum_radius_mm: Array
    friction: Array
    lever: Array


def has_masses(job: Job) -> bool:
    """Whether every shoe of a job has a mass and a radius of its centre of gravity."""
    return all(s.mass_g is not None and s.cg_radius_mm is not None for s in job.shoes)


def shoes_of(job: Job) -> Shoes:
    """Return the shoes of a job.

    Raises
    ------
    InputError
        when a mass or radius is missing; names the keys to add.
    """
    if has_masses(job):
        return Shoes(
            mass_g=np.array([shoe.mass_g for shoe in job.shoes], dtype=np.float64),
            cg_radius_mm=np.array([shoe.cg_radius_mm for shoe in job.shoes], dtype=np.float64),
            travel_mm=np.array([shoe.travel_mm for shoe in job.shoes]),
            lever=np.array([shoe.lever for shoe in job.shoes]),
        )
    lacking = {
        "shoe_mass": [n for n, shoe in enumerate(job.shoes, 1) if shoe.mass_g is None],
        "cg_radius": [n for n, shoe in enumerate(job.shoes, 1) if shoe.cg_radius_mm is None],
    }
    found = " and ".join(
        f"no {key} for shoe {', '.join(map(str, shoes))}" for key, shoes in lacking.items() if shoes
    )
    raise InputError(
        Problem(
            f"Expected shoe_mass and cg_radius, without which there is no speed, got {found}.",
            str(job.path),
            "Add shoe_mass_g and cg_radius_mm (or cg_radius_in) under [clutch], or under "
            "[[clutch.shoe]] where shoes differ.",
        )
    )


def linings_of(job: Job) -> Linings | None:
    """Return drum radius and friction of every shoe; None where the job gives not all."""
    if any(shoe.drum_radius_mm is None or shoe.friction is None for shoe in job.shoes):
        return None
    return Linings(
        drum_radius_mm=np.array([shoe.drum_radius_mm for shoe in job.shoes], dtype=np.float64),
        friction=np.array([shoe.friction for shoe in job.shoes], dtype=np.float64),
        lever=np.array([shoe.arm_stack_mm / shoe.arm_lining_mm for shoe in job.shoes]),
    )
