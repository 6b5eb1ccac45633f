"""Every key of a job file: its section, unit, default, range and meaning.

This table is what the reader checks against and what the template is printed from.
Defaults and ranges are in mm, N, MPa and g, whatever unit the user writes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

from optimizer.io.job.interval import ANY, Interval
from optimizer.units import N_PER_LBF, TO_INSIDE

Quantity = Literal["plain", "length", "load", "modulus", "mass", "weight", "inertia"]
Shape = Literal[
    "number", "count", "switch", "word", "path", "window", "count window", "list", "counts",
    "names", "groups",
]  # fmt: skip

SUFFIXES: dict[Quantity, tuple[str, ...]] = {
    "plain": (),
    "length": ("mm", "in"),
    "load": ("n", "lbf"),
    "modulus": ("mpa",),
    "mass": ("g",),
    "weight": ("kg", "lb"),
    "inertia": ("kgcm2", "lbin2"),
}

#: worn travel minus travel when the job does not say; an assumption, not a measurement
WORN_EXTRA_MM = 0.2


@dataclass(frozen=True)
class Key:
    """One key; `within` is the range allowed, `likely` the range that needs no question.

    A length outside `likely` that would be inside it in the other unit was most likely
    typed under the wrong unit, and is refused. `default` None means: nothing assumed.
    """

    section: str
    name: str
    shape: Shape
    meaning: str
    quantity: Quantity = "plain"
    default: Any = None
    required: bool = False
    within: Interval = ANY
    likely: Interval = ANY
    choices: tuple[str, ...] = ()

    def spellings(self) -> dict[str, float]:
        """Return each way to write the key, with the factor to the unit used inside."""
        suffixes = SUFFIXES[self.quantity]
        if not suffixes:
            return {self.name: 1.0}
        return {f"{self.name}_{suffix}": TO_INSIDE[suffix] for suffix in suffixes}


def _number(
    section: str,
    name: str,
    within: str,
    meaning: str,
    quantity: Quantity = "plain",
    *,
    likely: str = "(-inf, inf)",
    default: Any = None,
    required: bool = False,
    shape: Shape = "number",
) -> Key:
    return Key(
        section, name, shape, meaning, quantity, default, required,
        Interval.parse(within), Interval.parse(likely),
    )  # fmt: skip


#: how a pivoted shoe may turn
TURNING = ("leading", "trailing")

_PER_SHOE = (
    _number("clutch", "travel", "(0, 25.4]",
            "movement from rest to the drum, measured at the stack as the bench presses it",
            "length", likely="[0.3, 25.4]"),
    _number("clutch", "worn_travel", "(0, 25.4]",
            "travel at the wear limit; assumed travel + 0.2 mm (0.008 in) when not given",
            "length", likely="[0.3, 25.4]"),
    _number("clutch", "seat_depth", "[-5, 5]",
            "how much deeper than nominal the spring seat is", "length", default=0.0),
    _number("clutch", "travel_sd", "[0, 1]",
            "how well the travel of each shoe is known (standard deviation); 0.02 mm is usual "
            "with a caliper, 0.005 mm with a dial gauge on the very shoe", "length", default=0.02),
    _number("clutch", "seat_sd", "[0, 1]",
            "how well the depth of each spring seat is known; only with an installed length",
            "length", default=0.02),
    _number("clutch", "shoe_mass", "(0, 50000]", "mass of one shoe", "mass"),
    _number("clutch", "cg_radius", "(0, 1000]",
            "distance of the shoe's centre of gravity from the axis, at rest", "length",
            likely="[12, 1000]"),
    _number("clutch", "drum_radius", "(0, 1000]", "inside radius of the drum", "length",
            likely="[12, 1000]"),
    _number("clutch", "friction", "(0, 1]", "friction of lining on drum"),
    _number("clutch", "friction_sd", "[0, 0.5]",
            "how well that friction is known (standard deviation); 0.03 is an assumption for dry "
            "linings, a speed at which the clutch holds the engine teaches it", default=0.03),
    _number("clutch", "stack_radius", "(0, 1000]",
            "distance of the middle of a stack from the axis, where it lies along the radius: half "
            "of its own mass then pulls at its shoe", "length", likely="[5, 1000]"),
    _number("clutch", "arm_centre", "(0, 1000]",
            "for a shoe that swings on a pivot: distance of the pivot from the line along which "
            "its centre of gravity is thrown outwards; give all three arms or none, only their "
            "ratios count, and none is a shoe that slides out as a whole", "length"),
    _number("clutch", "arm_stack", "(0, 1000]",
            "distance of the pivot from the line along which the stack pushes; when it is the "
            "longer one the stack needs less load to hold the shoe", "length"),
    _number("clutch", "arm_lining", "(0, 1000]",
            "distance of the pivot from the line along which the drum pushes on the lining",
            "length"),
    Key("clutch", "shoe_type", "word",
        "how a shoe moves: it slides outwards, or it swings on a pivot and the slipping drum drags "
        "its lining further on (leading: the lining runs ahead of the pivot as the clutch turns) "
        "or off (trailing: the pivot runs ahead); it takes arm_stack and the keys below",
        choices=("sliding", *TURNING)),
    _number("clutch", "pivot_radius", "(0, 1000]", "distance of the pivot from the clutch's axis",
            "length", likely="[5, 1000]"),
    _number("clutch", "cg_angle", "(0, 180)",
            "angle in degrees at the axis from the pivot to the shoe's centre of gravity"),
    _number("clutch", "heel_angle", "[0, 180)",
            "angle in degrees at the axis from the pivot to the near end of the lining"),
    _number("clutch", "toe_angle", "(0, 180]",
            "angle in degrees at the axis from the pivot to the far end of the lining"),
    _number("clutch", "pivot_angle", "[0, 360)",
            "where on the clutch the pivot sits, in degrees; for the drawing alone"),
)  # fmt: skip

#: the arms of a shoe, of which a job gives all or none
ARMS = ("arm_centre", "arm_stack", "arm_lining")
#: what a pivoted shoe gives beside arm_stack
PIVOT = ("pivot_radius", "cg_angle", "heel_angle", "toe_angle")
#: arms of one shoe further apart than this are a slip of the unit
ARMS_APART = 10.0

SHOE_KEYS = tuple(replace(key, section="clutch.shoe", default=None) for key in _PER_SHOE)

KEYS = (
    Key("bag", "file", "path", "the measured discs, CSV or XLSX, beside this file", required=True),
    _number("clutch", "shoes", "[2, 8]", "how many shoes, each with one stack", default=3,
            shape="count"),
    *_PER_SHOE,
    _number("datum", "seating_load", "(0, 5000]",
            "small load at which the travel is zeroed on the bench", "load"),
    _number("datum", "installed_length", "(0, 500]",
            "room for stack and shims with the shoe at rest", "length", likely="[2, 250]"),
    _number("target", "load", "(0, 200000]", "load of every stack at the travel", "load"),
    _number("target", "engagement_rpm", "[50, 50000]",
            "engine speed at which every shoe should touch the drum"),
    _number("target", "load_tolerance", "(0, 50000]", "how far from the target is still good",
            "load", default=5.0 * N_PER_LBF),
    _number("target", "spread_tolerance", "(0, 50000]",
            "largest minus smallest load of a set that is still good", "load",
            default=2.0 * N_PER_LBF),
    _number("target", "resolution", "(0, 1000]",
            "difference in predicted load below which two answers count as equal", "load",
            default=0.1 * N_PER_LBF),
    _number("stack", "packet_sizes", "[1, 3]", "how many discs may be nested in one packet",
            default=(1, 2), shape="counts"),
    _number("stack", "discs", "[1, 200]", "fewest and most discs of one stack",
            shape="count window"),
    _number("stack", "free_height", "(0, 1000]", "lowest and highest free height of a stack",
            "length", likely="[2, 250]", shape="window"),
    Key("stack", "same_pattern", "switch", "all stacks have as many packets of each size",
        default=True),
    _number("stack", "shims", "(0, 50]",
            "shims on hand, one entry for each piece; only with an installed length", "length",
            likely="[0.02, 10]", default=(), shape="list"),
    _number("stack", "deflection_limit", "(0, 0.95]",
            "largest deflection of a disc as a share of its cone height", default=0.75),
    _number("stack", "worn_limit", "(0, 0.95]",
            "largest deflection on a worn drum; without it stacks beyond deflection_limit there "
            "are told of and not ruled out"),
    _number("stack", "rest_share", "[0, 0.5]",
            "deflection at rest, as a share of the cone height, below which it is told that "
            "cracks may begin", default=0.15),
    Key("stack", "use", "names", "discs that must be used", default=()),
    Key("stack", "leave", "names", "discs that must stay in the bag", default=()),
    Key("stack", "together", "groups", "groups of discs that must sit under the same shoe",
        default=()),
    _number("disc", "od", "(0, 1000]", "outside diameter where the bag gives none", "length",
            likely="[5, 260]"),
    _number("disc", "id", "(0, 1000]", "inside diameter where the bag gives none", "length",
            likely="[2.2, 200]"),
    _number("disc", "thickness", "(0, 50]",
            "nominal thickness of a disc that was not measured", "length", likely="[0.1, 50]"),
    _number("disc", "cone_height", "(0, 50]",
            "nominal cone height of a disc that was not measured", "length", likely="[0.05, 50]"),
    _number("disc", "modulus", "[10000, 400000]", "modulus of elasticity", "modulus",
            default=206_000.0),
    _number("disc", "poisson", "[0, 0.5)", "Poisson's ratio", default=0.3),
    _number("disc", "default_flat", "(0, 5]",
            "width of the dressed flat where it was not measured", "length", likely="[0.02, 2]",
            default=0.15),
    _number("disc", "hot_c", "[20, 260]",
            "temperature in C of the discs once the clutch is hot; engage then tells the speed "
            "hot as well"),
    _number("instrument", "thickness_sd", "[0, 0.5]",
            "standard deviation of one thickness measurement", "length", default=0.002),
    _number("instrument", "height_sd", "[0, 0.5]",
            "standard deviation of one height measurement", "length", default=0.005),
    _number("instrument", "thickness_resolution", "[0, 0.5]",
            "smallest step shown, thickness", "length", default=0.0),
    _number("instrument", "height_resolution", "[0, 0.5]", "smallest step shown, height",
            "length", default=0.0),
    _number("instrument", "flat_sd", "[0, 1]",
            "standard deviation of one measured width of a dressed flat; 0.02 mm is usual with a "
            "caliper or a loupe, and a hundredth of a millimetre is a per cent of the load",
            "length", default=0.02),
    Key("model", "law", "word", "load law: the standard's, or the finite-thickness form",
        default="en16984", choices=("en16984", "thick")),
    _number("model", "load_factor", "[0.5, 2]", "global load factor, learned on the bench",
            default=1.0),
    _number("model", "disc_stiffness_sd", "[0, 0.3]",
            "relative load scatter of a disc that its measures do not explain; an assumption",
            default=0.01),
    _number("model", "sharp_scatter", "[0, 0.5]",
            "relative load scatter of a sharp disc from build to build; an assumption",
            default=0.02),
    _number("model", "dressed_scatter", "[0, 0.5]",
            "relative load scatter of a dressed disc from build to build; an assumption",
            default=0.004),
    _number("friction", "between", "[0, 1)", "friction factor between nested discs (w_M)",
            default=0.0),
    _number("friction", "edge", "[0, 1)", "friction factor at the edges (w_R)", default=0.0),
    _number("gauge", "resolution", "(0, 5000]", "smallest step the gauge shows", "load",
            default=1.0 * N_PER_LBF),
    _number("gauge", "repeatability", "[0, 5000]", "standard deviation of a repeated reading",
            "load", default=0.2 * N_PER_LBF),
    _number("gauge", "travel_stop", "[0, 0.5]", "standard deviation of the travel stop",
            "length", default=0.002),
    Key("gauge", "reads", "word", "where a stack is read: on the clutch's own shoe and seat, "
        "whose travel the readings then teach, or on a tester beside it",
        default="beside it", choices=("in the clutch", "beside it")),
    *(
        _number("effort", name, "[0, 240]",
                f"minutes for {what}; an assumption: common practice, no source", default=default)
        for name, what, default in (
            ("caliper", "thickness and height of one disc by caliper", 0.5),
            ("micrometer", "thickness and height of one disc by micrometer and dial gauge", 1.0),
            ("dressing", "dressing both edges of one disc", 3.0),
            ("reading", "one settled load of a stack, a sub-stack or a disc", 1.5),
            ("exchange", "putting one disc where another was", 1.5),
            ("build", "putting one stack together from loose discs", 3.0),
        )
    ),
    Key("engine", "torque_file", "path",
        "full-throttle torque at the clutch, CSV or XLSX with rpm and torque_nm or torque_lbft, "
        "beside this file"),
    _number("engine", "inertia", "(0, 100000]",
            "moment of inertia of all that turns with the engine: crank, hub and shoes", "inertia"),
    _number("engine", "idle_rpm", "(0, 20000]", "engine speed at which the throttle is opened",
            default=1500.0),
    _number("engine", "gear_ratio", "(0, 100]", "turns of the drum for one turn of the wheel"),
    _number("engine", "wheel_radius", "(0, 2000]", "radius of the driven wheel under load",
            "length", likely="[40, 2000]"),
    _number("engine", "vehicle_mass", "(0, 10000]", "mass of all that rolls, with its driver",
            "weight"),
    _number("engine", "rolling_drag", "[0, 5000]", "force that resists rolling at any speed",
            "load", default=0.0),
    _number("engine", "drag_area_m2", "[0, 10]",
            "drag coefficient times front area: about 0.4 to 0.7 for a kart with its driver "
            "(common practice, no source)", default=0.0),
    _number("engine", "drum_mass", "(0, 50000]", "mass of the drum that takes up a start's heat",
            "mass"),
    _number("life", "drum_wear", "[0, 1]", "what the drum wears in radius in one race: measure "
            "twice and divide", "length", default=0.0),
    _number("life", "lining_wear", "[0, 1]", "what a lining wears in thickness in one race",
            "length", default=0.0),
    _number("life", "wear_doubt", "[0, 0.9]",
            "how well that wear is known, as a share of it; an assumption", default=0.3),
    _number("life", "relaxation", "[0, 0.5]",
            "share of the load that set and relaxation take, from readings of discs that ran or "
            "the maker's diagram"),
    _number("life", "fatigue_range", "[10, 3000]",
            "range of tension that the discs endure for as long as they are to run, by the "
            "standard's or the maker's diagram of their thickness", "modulus"),
    _number("life", "travel_new", "(0, 25.4]", "travel of the shoes races_run races ago: what it "
            "has grown since is wear, in place of drum_wear", "length", likely="[0.3, 25.4]"),
    _number("life", "races_run", "[1, 10000]", "races since the travel was travel_new",
            shape="count"),
)  # fmt: skip

SECTIONS = tuple(dict.fromkeys(key.section for key in KEYS))


def keys_of(section: str) -> tuple[Key, ...]:
    """Return the keys of one section; "clutch.shoe" is a section of its own."""
    return SHOE_KEYS if section == "clutch.shoe" else tuple(k for k in KEYS if k.section == section)
