"""Shoes as arrays of numbers: what throws them outwards, and what they press on.

A shoe that turns about its pivot presses its lining on with a pressure in proportion to
sin(theta), theta counted at the drum's axis from the pivot. With p = k sin(theta) on a drum of
radius r and a pivot at radius a, an arc element pushes k r b sin(theta) dtheta outwards, so that
for each k r b (J. E. Shigley, Mechanical Engineering Design, internal expanding rim brakes)

    normal force     I1 = integral sin(theta)                     = cos(heel) - cos(toe)
    its moment       a I2, I2 = integral sin(theta)^2             = [theta/2 - sin(2 theta)/4]
    friction's arm   r I1 - a I3, I3 = integral sin(theta) cos(theta) = [sin(theta)^2/2]

about the pivot, to be multiplied by the friction for its moment. Width and pressure cancel.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np

from optimizer.errors import InputError
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.shoe import Shoe


@dataclass(frozen=True)
@frozen_arrays
class LongShoe:
    """Linings on pivots, arrays of S or single numbers, broadcast together.

    `heel` and `toe` are in rad from the pivot; `turn` is 1 where the drum's friction drags the
    lining further on (leading), -1 where it drags it off (trailing).
    """

    drum_radius_mm: Array | float
    pivot_radius_mm: Array | float
    heel: Array | float
    toe: Array | float
    turn: Array | float

    @property
    def normal(self) -> Array:
        """Normal force for each k r b (S): its sum along the lining, whatever the direction."""
        return np.asarray(np.cos(self.heel) - np.cos(self.toe))

    @property
    def normal_moment_mm(self) -> Array:
        """Moment of the normal force about the pivot for each k r b (S)."""
        doubled = np.sin(2 * np.asarray(self.toe)) - np.sin(2 * np.asarray(self.heel))
        moment: Array = self.pivot_radius_mm * ((self.toe - self.heel) / 2 - doubled / 4)
        return moment

    @property
    def friction_moment_mm(self) -> Array:
        """Moment of the friction about the pivot for each k r b, at a friction of 1 (S)."""
        squares = (np.sin(self.toe) ** 2 - np.sin(self.heel) ** 2) / 2
        moment: Array = self.drum_radius_mm * self.normal - self.pivot_radius_mm * squares
        return moment

    @property
    def arm_mm(self) -> Array:
        """Arm about the pivot at which all of the normal force may be taken to push (S)."""
        return self.normal_moment_mm / self.normal

    @property
    def drag(self) -> Array:
        """Share of the moment that friction gives back, for a friction of 1 (S).

        Moments about the pivot: what opens the shoe, M, holds normal less friction moment, so
        the normal force is M / arm / (1 - friction * drag): more than without friction on a
        leading shoe, less on a trailing one. A leading shoe grabs, whatever opens it, from a
        friction of 1 / drag on.
        """
        return self.turn * self.friction_moment_mm / self.normal_moment_mm


#: a pull in g mm is a millionth of one in kg m
KGM_PER_GMM = 1e-6


@dataclass(frozen=True)
@frozen_arrays
class Shoes:
    """Shoes of one clutch, arrays of S; any shoe may differ.

    `cg_radius_mm` is the radius of the centre of gravity at rest, `travel_mm` the movement at
    the stack from there to the drum. `lever` is the movement of the centre of gravity outwards
    per movement at the stack, the ratio of their arms about the shoe's pivot. `outward` is the
    growth of the radius per movement at the stack: the lever again, but on a known pivot, where
    the arm grows or shrinks as well, what radius and arm do together.
    """

    mass_g: Array
    cg_radius_mm: Array
    travel_mm: Array
    lever: Array
    outward: Array

    def pull_kgm(self, moved_mm: Array | float) -> Array:
        """Force at the stack per squared angular speed, in kg m, `moved_mm` (S) from rest there.

        Notes
        -----
        Virtual work: the stack moves by dx and the centre of gravity by lever dx outwards, so
        F dx = m r omega^2 lever dx, with the radius r = cg_radius + lever x (the same follows
        from moments about the pivot). To first order in the angle swung: on a pivot 40 mm from
        the stack, 1.5 mm of travel leave out 0.07 % of the pull.
        """
        radius = self.cg_radius_mm + self.outward * moved_mm
        return self.lever * self.mass_g * radius * KGM_PER_GMM

    @property
    def contact_pull_kgm(self) -> Array:
        """Pull (S) with the shoe at the drum."""
        return self.pull_kgm(self.travel_mm)


@dataclass(frozen=True)
@frozen_arrays
class Linings:
    """What turns pressure into torque, arrays of S: drum radius and friction of the lining.

    `lever` is the movement at the stack per movement of the lining: the force on the drum per
    force that is left over at the stack, were there no friction. `drag` is the share of it that
    friction adds (takes, below 0) for a friction of 1; 0 where friction has no arm or none is
    known. `friction_sd` is the uncertainty of the friction, which all linings share.
    """

    drum_radius_mm: Array
    friction: Array
    lever: Array
    drag: Array
    friction_sd: Array

    @property
    def gain(self) -> Array:
        """Normal force (S) on the drum over that without friction: above 1 on leading shoes.

        inf where the shoe grabs: there is no balance at which it would slip.
        """
        left = 1.0 - self.friction * self.drag
        return np.divide(1.0, left, out=np.full_like(left, np.inf), where=left > 0)

    @property
    def grip_m(self) -> Array:
        """Torque in N m (S) per force in N left over at the stack."""
        return self.friction * self.drum_radius_mm / 1000.0 * self.lever * self.gain

    @property
    def grip_sd_m(self) -> Array:
        """Uncertainty of the grip (S) by the friction's: d(f/(1 - f drag)) = df/(1 - f drag)^2."""
        return self.friction_sd * self.drum_radius_mm / 1000.0 * self.lever * self.gain**2

    @property
    def grabs_at(self) -> Array:
        """Friction (S) from which on a shoe grabs; inf for shoes that cannot."""
        return np.divide(1.0, self.drag, out=np.full_like(self.drag, np.inf), where=self.drag > 0)


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
            outward=np.array([_outward(shoe) for shoe in job.shoes]),
        )
    lacking = {
        "shoe_mass": [n for n, shoe in enumerate(job.shoes, 1) if shoe.mass_g is None],
        "cg_radius": [n for n, shoe in enumerate(job.shoes, 1) if shoe.cg_radius_mm is None],
    }
    found = " and ".join(
        f"no {key} for shoe {', '.join(map(str, shoes))}" for key, shoes in lacking.items() if shoes
    )
    raise InputError(
        f"Expected shoe_mass and cg_radius, without which there is no speed, got {found}.",
        str(job.path),
        "Add shoe_mass_g and cg_radius_mm (or cg_radius_in) under [clutch], or under "
        "[[clutch.shoe]] where shoes differ.",
    )


def _outward(shoe: Shoe) -> float:
    """Growth of the radius that the pull goes by, per movement at the stack.

    On a pivot at radius a the moment that throws the shoe out is m omega^2 a r sin(angle); as
    the shoe swings by phi it grows by m omega^2 a (a - r cos(angle)) phi.
    """
    if shoe.pivot is None or shoe.cg_radius_mm is None:
        return shoe.lever
    angle = radians(shoe.pivot.cg_deg)
    along = shoe.pivot.radius_mm - shoe.cg_radius_mm * cos(angle)
    return along / (shoe.arm_stack_mm * sin(angle))


def long_shoe(shoe: Shoe) -> LongShoe | None:
    """Return the lining of a pivoted shoe; None where the job does not give all of it."""
    if shoe.pivot is None or shoe.drum_radius_mm is None:
        return None
    turn = 1.0 if shoe.pivot.leading else -1.0
    ends = radians(shoe.pivot.heel_deg), radians(shoe.pivot.toe_deg)
    return LongShoe(shoe.drum_radius_mm, shoe.pivot.radius_mm, *ends, turn)


def linings_of(job: Job) -> Linings | None:
    """Return drum radius and friction of every shoe; None where the job gives not all."""
    if any(shoe.drum_radius_mm is None or shoe.friction is None for shoe in job.shoes):
        return None
    linings = [long_shoe(shoe) for shoe in job.shoes]
    arms = [
        shoe.arm_lining_mm if lining is None else float(lining.arm_mm)
        for shoe, lining in zip(job.shoes, linings, strict=True)
    ]
    return Linings(
        drum_radius_mm=np.array([shoe.drum_radius_mm for shoe in job.shoes], dtype=np.float64),
        friction=np.array([shoe.friction for shoe in job.shoes], dtype=np.float64),
        lever=np.array([shoe.arm_stack_mm for shoe in job.shoes]) / np.array(arms),
        drag=np.array([0.0 if lining is None else float(lining.drag) for lining in linings]),
        friction_sd=np.array([shoe.friction_sd for shoe in job.shoes]),
    )
