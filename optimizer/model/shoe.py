"""A shoe of the clutch: its travel and seat, what throws it out, and how it moves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from annotated_types import Interval

from optimizer.model.key import Says

#: a shoe slides out, or swings on a pivot and the drum drags its lining further on, or off
ShoeType = Literal["sliding", "leading", "trailing"]


@dataclass(frozen=True)
class Pivot:
    """How a shoe swings: all angles in degrees at the clutch's axis.

    `heel_deg`, `toe_deg` and `cg_deg` are counted from the pivot.
    """

    leading: bool
    radius_mm: float
    cg_deg: float
    heel_deg: float
    toe_deg: float


# fmt: off
@dataclass(frozen=True)
class Shoe:
    """One clutch shoe; shoes of one clutch may differ where they are worn.

    The depth of the seat lengthens the room of the stack in the installed datum. Masses and radii
    are None where the job does not give them (loads only). Arms are about the shoe's pivot, of
    the forces at its centre of gravity, its stack and its lining.
    `type` is None where nothing but the arms is known.
    """

    travel_mm: Annotated[float, Interval(gt=0, le=25.4), Says(
        "movement from rest to the drum, measured at the stack as the bench presses it",
        likely=(0.3, 25.4), example=("1.5", "0.060"), is_set=True)]
    worn_travel_mm: Annotated[float, Interval(gt=0, le=25.6), Says(
        "travel at the wear limit; assumed travel + 0.2 mm (0.008 in) when not given",
        likely=(0.3, 25.4), example=("1.7", "0.068"))]
    seat_depth_mm: Annotated[float, Interval(ge=-5, le=5), Says(
        "how much deeper than nominal the spring seat is")] = 0.0
    travel_sd_mm: Annotated[float, Interval(ge=0, le=1), Says(
        "how well the travel of each shoe is known (standard deviation); 0.02 mm is usual "
        "with a caliper, 0.005 mm with a dial gauge on the very shoe")] = 0.02
    seat_sd_mm: Annotated[float, Interval(ge=0, le=1), Says(
        "how well the depth of each spring seat is known; only with an installed length")] = 0.02
    mass_g: Annotated[float | None, Interval(ge=1, le=50000), Says(
        "mass of one shoe", example=("210", "210"), key="shoe_mass")] = None
    cg_radius_mm: Annotated[float | None, Interval(gt=0, le=1000), Says(
        "distance of the shoe's centre of gravity from the axis, at rest",
        likely=(12, 1000), example=("52", "2.05"))] = None
    drum_radius_mm: Annotated[float | None, Interval(gt=0, le=1000), Says(
        "inside radius of the drum", likely=(12, 1000), example=("63.5", "2.5"))] = None
    friction: Annotated[float | None, Interval(gt=0, le=1), Says(
        "friction of lining on drum", example=("0.3", "0.3"))] = None
    friction_sd: Annotated[float, Interval(ge=0, le=0.5), Says(
        "how well that friction is known (standard deviation); 0.03 is an assumption for dry "
        "linings, a speed at which the clutch holds the engine teaches it")] = 0.03
    stack_radius_mm: Annotated[float | None, Interval(gt=0, le=1000), Says(
        "distance of the middle of a stack from the axis, where it lies along the radius: half "
        "of its own mass then pulls at its shoe", likely=(5, 1000), example=("40", "1.57"))] = None
    arm_centre_mm: Annotated[float, Interval(gt=0, le=1000), Says(
        "for a shoe that swings on a pivot: distance of the pivot from the line along which "
        "its centre of gravity is thrown outwards; give all three arms or none, only their "
        "ratios count, and none is a shoe that slides out as a whole", example=("26", "1.02"))
    ] = 1.0
    arm_stack_mm: Annotated[float, Interval(gt=0, le=1000), Says(
        "distance of the pivot from the line along which the stack pushes; when it is the "
        "longer one the stack needs less load to hold the shoe", example=("40", "1.57"))] = 1.0
    arm_lining_mm: Annotated[float, Interval(gt=0, le=1000), Says(
        "distance of the pivot from the line along which the drum pushes on the lining",
        example=("32", "1.26"))] = 1.0
    type: Annotated[ShoeType | None, Says(
        "how a shoe moves: it slides outwards, or it swings on a pivot and the slipping drum drags "
        "its lining further on (leading: the lining runs ahead of the pivot as the clutch turns) "
        "or off (trailing: the pivot runs ahead); it takes arm_stack and the keys below",
        example=('"sliding"', '"sliding"'), key="shoe_type")] = None
    pivot_radius_mm: Annotated[float | None, Interval(gt=0, le=1000), Says(
        "distance of the pivot from the clutch's axis",
        likely=(5, 1000), example=("40", "1.57"))] = None
    cg_angle: Annotated[float | None, Interval(gt=0, lt=180), Says(
        "angle in degrees at the axis from the pivot to the shoe's centre of gravity",
        example=("40", "40"))] = None
    heel_angle: Annotated[float | None, Interval(ge=0, lt=180), Says(
        "angle in degrees at the axis from the pivot to the near end of the lining",
        example=("20", "20"))] = None
    toe_angle: Annotated[float | None, Interval(gt=0, le=180), Says(
        "angle in degrees at the axis from the pivot to the far end of the lining",
        example=("95", "95"))] = None
    pivot_angle: Annotated[float | None, Interval(ge=0, lt=360), Says(
        "where on the clutch the pivot sits, in degrees; for the drawing alone",
        example=("0", "0"))] = None

    @property
    def lever(self) -> float:
        """Movement of the centre of gravity per movement at the stack."""
        return self.arm_centre_mm / self.arm_stack_mm

    @property
    def pivot(self) -> Pivot | None:
        """How the shoe swings; None where it slides, or nothing but its arms is known."""
        given = (self.pivot_radius_mm, self.cg_angle, self.heel_angle, self.toe_angle)
        radius, centre, heel, toe = given
        if self.type not in ("leading", "trailing"):
            return None
        if radius is None or centre is None or heel is None or toe is None:
            return None
        return Pivot(self.type == "leading", radius, centre, heel, toe)
