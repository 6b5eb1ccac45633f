"""Long shoes on a pivot inside a drum: what the pressure along the lining adds up to.

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

import numpy as np

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array


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
        arm: Array = self.normal_moment_mm / self.normal
        return arm

    @property
    def drag(self) -> Array:
        """Share of the moment that friction gives back, for a friction of 1 (S).

        Moments about the pivot: what opens the shoe, M, holds normal less friction moment, so
        the normal force is M / arm / (1 - friction * drag): more than without friction on a
        leading shoe, less on a trailing one. A leading shoe grabs, whatever opens it, from a
        friction of 1 / drag on.
        """
        share: Array = self.turn * self.friction_moment_mm / self.normal_moment_mm
        return share
