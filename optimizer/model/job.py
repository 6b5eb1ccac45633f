"""A job: everything a user decides, as frozen values in mm, N, MPa and grams."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

Units = Literal["mm", "in"]
#: where the gauge presses a stack: on the clutch's own shoe and seat, or on a tester beside it
Reads = Literal["in the clutch", "beside it"]
LawName = Literal["en16984", "thick"]
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


@dataclass(frozen=True)
class Shoe:
    """One clutch shoe; shoes of one clutch may differ where they are worn.

    `seat_depth_mm` is how much deeper than nominal this shoe's spring seat is: it
    lengthens the room of the stack in the installed datum. The masses and radii are
    None where the job does not give them (loads only). Arms are about the shoe's pivot, of
    the forces at its centre of gravity, its stack and its lining; only their ratios count.
    The travel is that at the stack. The sds are how well travel and seat of this very shoe are
    known; 0 is exactly. `stack_radius_mm` is the distance of the middle of its stack from the
    axis, None where the stack does not lie along the radius, `friction_sd` how well the friction
    is known.
    `type` is None where nothing but the arms is known; angles are in degrees at the axis, from
    the pivot, that of the pivot itself for the drawing alone.
    """

    travel_mm: float
    worn_travel_mm: float
    seat_depth_mm: float = 0.0
    mass_g: float | None = None
    cg_radius_mm: float | None = None
    drum_radius_mm: float | None = None
    friction: float | None = None
    arm_centre_mm: float = 1.0
    arm_stack_mm: float = 1.0
    arm_lining_mm: float = 1.0
    travel_sd_mm: float = 0.0
    seat_sd_mm: float = 0.0
    stack_radius_mm: float | None = None
    friction_sd: float = 0.0
    type: ShoeType | None = None
    pivot_radius_mm: float | None = None
    cg_angle: float | None = None
    heel_angle: float | None = None
    toe_angle: float | None = None
    pivot_angle: float | None = None

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


@dataclass(frozen=True)
class Datum:
    """Where deflection is counted from: exactly one of the two is given.

    `seating_load_n`: travel is zeroed at this small load on the bench.
    `installed_length_mm`: room for stack and shims at rest.
    """

    seating_load_n: float | None = None
    installed_length_mm: float | None = None


@dataclass(frozen=True)
class Target:
    """What every stack should carry at the working travel.

    Exactly one of `load_n` and `engagement_rpm` is given. `resolution_n` is the
    difference in predicted load below which two answers count as equal.
    """

    load_n: float | None
    engagement_rpm: float | None
    load_tolerance_n: float
    spread_tolerance_n: float
    resolution_n: float


@dataclass(frozen=True)
class StackRules:
    """What a stack may look like; windows are inclusive (low, high), None is free.

    `together` lists groups of discs that must sit under the same shoe. `worn_limit` is the
    largest deflection on a worn drum, None where that is told and not ruled out; below
    `rest_share` at rest it is told that cracks may begin.
    """

    packet_sizes: tuple[int, ...] = (1, 2)
    discs: tuple[int, int] | None = None
    free_height_mm: tuple[float, float] | None = None
    same_pattern: bool = True
    shims_mm: tuple[float, ...] = ()
    deflection_limit: float = 0.75
    worn_limit: float | None = None
    rest_share: float = 0.15
    use: tuple[str, ...] = ()
    leave: tuple[str, ...] = ()
    together: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class DiscDefaults:
    """What holds for a disc of the bag unless its row says otherwise."""

    od_mm: float | None = None
    id_mm: float | None = None
    thickness_mm: float | None = None
    cone_height_mm: float | None = None
    modulus_mpa: float = 206_000.0
    poisson: float = 0.3
    default_flat_mm: float = 0.15
    hot_c: float | None = None


@dataclass(frozen=True)
class Instrument:
    """How well a disc is measured: standard deviation of one measurement, and the
    smallest step the display shows."""

    thickness_sd_mm: float = 0.002
    height_sd_mm: float = 0.005
    thickness_resolution_mm: float = 0.0
    height_resolution_mm: float = 0.0
    flat_sd_mm: float = 0.02

    @property
    def thickness_variance_mm2(self) -> float:
        """Variance of one thickness: sd^2 + step^2/12 (uniform rounding)."""
        return self.thickness_sd_mm**2 + self.thickness_resolution_mm**2 / 12

    @property
    def height_variance_mm2(self) -> float:
        """Variance of one height, as of the thickness."""
        return self.height_sd_mm**2 + self.height_resolution_mm**2 / 12


@dataclass(frozen=True)
class Model:
    """Load law, global load factor learned on the bench, and what is not measured.

    The scatter terms are relative load scatter of one disc from one build to the next;
    their defaults are assumptions, not measurements.
    """

    law: LawName = "en16984"
    load_factor: float = 1.0
    disc_stiffness_sd: float = 0.01
    sharp_scatter: float = 0.02
    dressed_scatter: float = 0.004


@dataclass(frozen=True)
class Friction:
    """EN 16984 friction factors: `between` nested discs (w_M) and at the `edge` (w_R)."""

    between: float = 0.0
    edge: float = 0.0


@dataclass(frozen=True)
class Gauge:
    """The bench gauge: display step and repeatability in N, travel stop in mm (sds), and
    where it presses a stack."""

    resolution_n: float
    repeatability_n: float
    travel_stop_mm: float = 0.002
    reads: Reads = "beside it"


@dataclass(frozen=True)
class Effort:
    """Minutes of a person for one piece of bench work; assumptions, common practice, no source.

    `caliper` and `micrometer`: thickness and height of one disc; `dressing`: both edges of one
    disc; `reading`: one settled load, of a stack, a sub-stack or a disc; `exchange`: one disc put
    where another was; `build`: one stack put together from loose discs. `written` are those that
    the job sets, `learned` those that the bench page saw, and how often.
    """

    caliper: float = 0.5
    micrometer: float = 1.0
    dressing: float = 3.0
    reading: float = 1.5
    exchange: float = 1.5
    build: float = 3.0
    written: tuple[str, ...] = ()
    learned: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class Life:
    """What the clutch loses while it works, as its user knows it.

    Wear of drum and linings in one race, and the relative doubt of it; `relaxation` is the share
    of the load that set and relaxation take, `fatigue_range_mpa` the range of tension that the
    discs endure; both None where the user has no figure. `travel_new_mm` is the travel
    `races_run` races ago: with both, drum and linings wore what the travel has grown since.
    """

    drum_wear_mm: float = 0.0
    lining_wear_mm: float = 0.0
    wear_doubt: float = 0.3
    relaxation: float | None = None
    fatigue_range_mpa: float | None = None
    travel_new_mm: float | None = None
    races_run: int | None = None


@dataclass(frozen=True)
class Engine:
    """What drives and what is driven; None where the job does not say.

    `torque_file` holds full-throttle torque against speed. `inertia_kgcm2` turns with the
    engine: crank, hub and shoes. `gear_ratio` is turns of the drum for one of the wheel,
    `vehicle_mass_kg` all that rolls; `rolling_drag_n` resists at any speed, `drag_area_m2` is drag
    coefficient times front area. `drum_mass_g` takes up the heat of a start.
    """

    torque_file: Path | None = None
    inertia_kgcm2: float | None = None
    idle_rpm: float = 0.0
    gear_ratio: float | None = None
    wheel_radius_mm: float | None = None
    vehicle_mass_kg: float | None = None
    rolling_drag_n: float = 0.0
    drag_area_m2: float = 0.0
    drum_mass_g: float | None = None


@dataclass(frozen=True)
class Job:
    """One job file, read and checked; `units` is what the user writes and reads.

    `notes` say what stands in it without effect.
    """

    path: Path
    bag_file: Path
    units: Units
    shoes: tuple[Shoe, ...]
    datum: Datum
    target: Target
    stack: StackRules
    disc: DiscDefaults
    instrument: Instrument
    model: Model
    friction: Friction
    gauge: Gauge
    effort: Effort = Effort()
    engine: Engine = Engine()
    life: Life = Life()
    notes: tuple[str, ...] = ()
