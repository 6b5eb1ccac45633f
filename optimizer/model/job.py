"""A job: everything a user decides, as frozen values in mm, N, MPa and grams.

Every field states its key in the job file (`optimizer.model.key`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from pathlib import Path
from typing import Annotated, Literal

from annotated_types import Interval, MinLen, Predicate

from optimizer.model.key import Says, distinct, rising
from optimizer.model.running import Engine, Life
from optimizer.model.shoe import Shoe
from optimizer.units import N_PER_LBF

Units = Literal["mm", "in"]
#: where the gauge presses a stack: on the clutch's own shoe and seat, or on a tester beside it
Reads = Literal["in the clutch", "beside it"]
LawName = Literal["en16984", "thick"]
Tool = Literal["caliper", "micrometer"]
#: a finer thickness sd than this is not a caliper's (common practice, no source)
FINE_MM = 0.004

Count = Annotated[int, Interval(ge=1, le=200)]
Size = Annotated[int, Interval(ge=1, le=3)]
Height = Annotated[float, Interval(gt=0, le=1000)]
Shim = Annotated[float, Interval(gt=0, le=50)]
Name = Annotated[str, MinLen(1)]
Minutes = Annotated[float, Interval(ge=0, le=240)]


# fmt: off
@dataclass(frozen=True)
class Datum:
    """Where deflection is counted from: exactly one of the two is given."""

    seating_load_n: Annotated[float | None, Interval(gt=0, le=5000), Says(
        "small load at which the travel is zeroed on the bench",
        example=("27", "6"), is_set=True)] = None
    installed_length_mm: Annotated[float | None, Interval(gt=0, le=500), Says(
        "room for stack and shims with the shoe at rest",
        likely=(2, 250), example=("11.6", "0.457"))] = None


@dataclass(frozen=True)
class Target:
    """What every stack should carry at the working travel.

    Exactly one of `load_n` and `engagement_rpm` is given.
    """

    load_n: Annotated[float | None, Interval(gt=0, le=200000), Says(
        "load of every stack at the travel", example=("890", "200"), is_set=True)] = None
    engagement_rpm: Annotated[float | None, Interval(ge=50, le=50000), Says(
        "engine speed at which every shoe should touch the drum",
        example=("3400", "3400"))] = None
    load_tolerance_n: Annotated[float, Interval(gt=0, le=50000), Says(
        "how far from the target is still good",
        example=("22", "5"), is_set=True)] = 5.0 * N_PER_LBF
    spread_tolerance_n: Annotated[float, Interval(gt=0, le=50000), Says(
        "largest minus smallest load of a set that is still good",
        example=("9", "2"), is_set=True)] = 2.0 * N_PER_LBF
    resolution_n: Annotated[float, Interval(gt=0, le=1000), Says(
        "difference in predicted load below which two answers count as equal")] = 0.1 * N_PER_LBF


@dataclass(frozen=True)
class StackRules:
    """What a stack may look like; windows are inclusive (low, high), None is free."""

    packet_sizes: Annotated[tuple[Size, ...], MinLen(1), Predicate(distinct), Says(
        "how many discs may be nested in one packet", is_set=True)] = (1, 2)
    discs: Annotated[tuple[Count, Count] | None, Predicate(rising), Says(
        "fewest and most discs of one stack", example=("[7, 9]", "[7, 9]"))] = None
    free_height_mm: Annotated[tuple[Height, Height] | None, Predicate(rising), Says(
        "lowest and highest free height of a stack",
        likely=(2, 250), example=("[10, 14]", "[0.40, 0.55]"))] = None
    same_pattern: Annotated[bool, Says(
        "all stacks have as many packets of each size")] = True
    shims_mm: Annotated[tuple[Shim, ...], Says(
        "shims on hand, one entry for each piece; only with an installed length",
        likely=(0.02, 10), example=("[0.1, 0.1, 0.2]", "[0.004, 0.004, 0.008]"))] = ()
    deflection_limit: Annotated[float, Interval(gt=0, le=0.95), Says(
        "largest deflection of a disc as a share of its cone height")] = 0.75
    worn_limit: Annotated[float | None, Interval(gt=0, le=0.95), Says(
        "largest deflection on a worn drum; without it stacks beyond deflection_limit there "
        "are told of and not ruled out", example=("0.8", "0.8"))] = None
    rest_share: Annotated[float, Interval(ge=0, le=0.5), Says(
        "deflection at rest, as a share of the cone height, below which it is told that "
        "cracks may begin")] = 0.15
    use: Annotated[tuple[Name, ...], Says(
        "discs that must be used", example=('["A01"]', '["A01"]'))] = ()
    leave: Annotated[tuple[Name, ...], Says(
        "discs that must stay in the bag", example=('["A28"]', '["A28"]'))] = ()
    together: Annotated[tuple[Annotated[tuple[Name, ...], MinLen(2)], ...], Says(
        "groups of discs that must sit under the same shoe",
        example=('[["A02", "A03"], ["A04", "A05"]]',) * 2)] = ()


    @property
    def height_window_mm(self) -> tuple[float, float]:
        """Free heights that a stack may have: any, where the job does not say."""
        return self.free_height_mm or (0.0, inf)

    def discs_to(self, most: int) -> tuple[int, int]:
        """Fewest and most discs of a stack, to `most` at the most."""
        low, high = self.discs or (1, most)
        return low, min(high, most)


@dataclass(frozen=True)
class DiscDefaults:
    """What holds for a disc of the bag unless its row says otherwise."""

    od_mm: Annotated[float | None, Interval(gt=0, le=1000), Says(
        "outside diameter where the bag gives none",
        likely=(5, 260), example=("20", "0.787"))] = None
    id_mm: Annotated[float | None, Interval(gt=0, le=1000), Says(
        "inside diameter where the bag gives none",
        likely=(2.2, 200), example=("10.2", "0.402"))] = None
    thickness_mm: Annotated[float | None, Interval(gt=0, le=50), Says(
        "nominal thickness of a disc that was not measured",
        likely=(0.1, 50), example=("1.05", "0.0413"))] = None
    cone_height_mm: Annotated[float | None, Interval(gt=0, le=50), Says(
        "nominal cone height of a disc that was not measured",
        likely=(0.05, 50), example=("0.42", "0.0165"))] = None
    modulus_mpa: Annotated[float, Interval(ge=10000, le=400000), Says(
        "modulus of elasticity")] = 206_000.0
    poisson: Annotated[float, Interval(ge=0, lt=0.5), Says("Poisson's ratio")] = 0.3
    default_flat_mm: Annotated[float, Interval(gt=0, le=5), Says(
        "width of the dressed flat where it was not measured", likely=(0.02, 2))] = 0.15
    hot_c: Annotated[float | None, Interval(ge=20, le=260), Says(
        "temperature in C of the discs once the clutch is hot; engage then tells the speed "
        "hot as well", example=("120", "120"))] = None


@dataclass(frozen=True)
class Instrument:
    """How well a disc is measured."""

    thickness_sd_mm: Annotated[float, Interval(ge=0, le=0.5), Says(
        "standard deviation of one thickness measurement",
        example=("0.002", "0.0001"), is_set=True)] = 0.002
    height_sd_mm: Annotated[float, Interval(ge=0, le=0.5), Says(
        "standard deviation of one height measurement",
        example=("0.005", "0.0002"), is_set=True)] = 0.005
    thickness_resolution_mm: Annotated[float, Interval(ge=0, le=0.5), Says(
        "smallest step shown, thickness")] = 0.0
    height_resolution_mm: Annotated[float, Interval(ge=0, le=0.5), Says(
        "smallest step shown, height")] = 0.0
    flat_sd_mm: Annotated[float, Interval(ge=0, le=1), Says(
        "standard deviation of one measured width of a dressed flat; 0.02 mm is usual with a "
        "caliper or a loupe, and a hundredth of a millimetre is a per cent of the load")] = 0.02

    @property
    def tool(self) -> Tool:
        """What it is, by how fine it measures a thickness."""
        return "micrometer" if self.thickness_sd_mm <= FINE_MM else "caliper"

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
    """Load law, and what is not measured."""

    law: Annotated[LawName, Says(
        "load law: the standard's, or the finite-thickness form", is_set=True)] = "en16984"
    load_factor: Annotated[float, Interval(ge=0.5, le=2), Says(
        "global load factor, learned on the bench")] = 1.0
    disc_stiffness_sd: Annotated[float, Interval(ge=0, le=0.3), Says(
        "relative load scatter of a disc that its measures do not explain; an assumption")] = 0.01
    sharp_scatter: Annotated[float, Interval(ge=0, le=0.5), Says(
        "relative load scatter of a sharp disc from build to build; an assumption")] = 0.02
    dressed_scatter: Annotated[float, Interval(ge=0, le=0.5), Says(
        "relative load scatter of a dressed disc from build to build; an assumption")] = 0.004


@dataclass(frozen=True)
class Friction:
    """EN 16984 friction factors."""

    between: Annotated[float, Interval(ge=0, lt=1), Says(
        "friction factor between nested discs (w_M)")] = 0.0
    edge: Annotated[float, Interval(ge=0, lt=1), Says(
        "friction factor at the edges (w_R)")] = 0.0


@dataclass(frozen=True)
class Gauge:
    """The bench gauge."""

    resolution_n: Annotated[float, Interval(gt=0, le=5000), Says(
        "smallest step the gauge shows")] = N_PER_LBF
    repeatability_n: Annotated[float, Interval(ge=0, le=5000), Says(
        "standard deviation of a repeated reading")] = 0.2 * N_PER_LBF
    travel_stop_mm: Annotated[float, Interval(ge=0, le=0.5), Says(
        "standard deviation of the travel stop")] = 0.002
    reads: Annotated[Reads, Says(
        "where a stack is read: on the clutch's own shoe and seat, whose travel the readings "
        "then teach, or on a tester beside it", is_set=True)] = "beside it"


@dataclass(frozen=True)
class Effort:
    """Minutes of a person for one piece of bench work; assumptions, common practice, no source.

    `written` are those that the job sets, `learned` those that the bench page saw, and how often.
    """

    caliper: Annotated[Minutes, Says(
        "minutes for thickness and height of one disc by caliper")] = 0.5
    micrometer: Annotated[Minutes, Says(
        "minutes for thickness and height of one disc by micrometer and dial gauge")] = 1.0
    dressing: Annotated[Minutes, Says("minutes for dressing both edges of one disc")] = 3.0
    reading: Annotated[Minutes, Says(
        "minutes for one settled load of a stack, a sub-stack or a disc")] = 1.5
    exchange: Annotated[Minutes, Says("minutes for putting one disc where another was")] = 1.5
    build: Annotated[Minutes, Says(
        "minutes for putting one stack together from loose discs")] = 3.0
    written: tuple[str, ...] = ()
    learned: tuple[tuple[str, int], ...] = ()

    def measuring(self, tool: Tool) -> float:
        """Minutes for thickness and height of one disc."""
        return self.micrometer if tool == "micrometer" else self.caliper


@dataclass(frozen=True)
class Job:
    """One job file, read and checked; `units` is what the user writes and reads.

    Each field that holds such values is a section of the file; `notes` say what stands in it
    without effect.
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
    engine: Engine = field(default_factory=Engine)
    life: Life = field(default_factory=Life)
    notes: tuple[str, ...] = ()

    @property
    def pressed_mm(self) -> tuple[float, ...] | None:
        """Height of stack and shims at the travel, shoe by shoe; None where a load zeroes it."""
        room = self.datum.installed_length_mm
        if room is None:
            return None
        return tuple(room + shoe.seat_depth_mm - shoe.travel_mm for shoe in self.shoes)
