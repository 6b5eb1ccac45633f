"""The plan: the answer as one frozen document, the same in memory and as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from optimizer.errors import InputError
from optimizer.model.stack import discs_of

if TYPE_CHECKING:
    import pandas as pd

SCHEMA = "evenstack.plan/1"

#: what chances rest on: assumed scatter and the instrument's word, or readings of the gauge
BEFORE, AFTER = "before any reading", "after readings"


@dataclass(frozen=True)
class PlanStack:
    """One stack: disc names packet by packet, bottom to top, and its predicted loads."""

    shoe: int
    pattern: str
    packets: tuple[tuple[str, ...], ...]
    shims_mm: tuple[float, ...]
    free_height_mm: float
    target_load_n: float
    rest_load_n: float
    working_load_n: float
    worn_load_n: float
    working_load_sd_n: float
    rate_n_per_mm: float
    max_deflection_share: float


@dataclass(frozen=True)
class PlanSet:
    """The stacks of one clutch and how well they match.

    `proven`: no set has a smaller predicted spread, down to the resolution;
    `variance_gap`: share by which the variance of the loads could at most be smaller.
    `chance_within_tolerance` is how likely the true spread in the clutch is within the spread
    tolerance, `chance_on_target` how likely the true mean is within the load tolerance of the
    target; `chance_on_gauge` is how likely the true spread is within it as a tester beside the
    clutch presses the stacks, None where the gauge reads in the clutch or nothing is in doubt
    of its shoes;
    `chance_known` says what they rest on; `common_sd` is the relative uncertainty of the factor
    that all loads share (of a lot's steel, or of the load factor that readings taught), None in
    plan files that do not say it. `doubt` gives each source's `share` of the variance
    and its `sd_n`; `helps` what would raise the chance, to which `discs`, from `chance_now` to
    `chance_then`. `keep_with` is the mark of discs that must stay with this set, if any has one.
    """

    stacks: tuple[PlanStack, ...]
    spread_n: float
    worn_spread_n: float
    rest_spread_n: float
    proven: bool
    spread_bound_n: float
    variance_gap: float | None
    chance_within_tolerance: float | None = None
    chance_on_target: float | None = None
    chance_on_gauge: float | None = None
    chance_known: str = BEFORE
    common_sd: float | None = None
    doubt: tuple[dict[str, Any], ...] = ()
    helps: tuple[dict[str, Any], ...] = ()
    keep_with: str = ""

    @property
    def discs(self) -> set[str]:
        """Names of the discs of the set."""
        return {disc for stack in self.stacks for disc in discs_of(stack.packets)}


@dataclass(frozen=True)
class Within:
    """Sets of a lot within a spread: so many as measured, so many likely truly as first built."""

    spread_n: float
    sets: int
    likely: float


@dataclass(frozen=True)
class Plan:
    """One or more sets, the discs left in the bag, and what to know about them.

    `solve_seconds` is None in a plan file: a file of the same job and seed is the same.
    `stopped` says what ended the search early, "clock" or "interrupted", if anything did;
    `elsewhere` are discs of the bag that stand in other sets or are lost; `within` tells of a lot
    how many of all sets that were dealt lie within a spread.
    """

    schema: str
    version: str
    units: str
    target_load_n: float
    load_tolerance_n: float
    spread_tolerance_n: float
    sets: tuple[PlanSet, ...]
    unused: tuple[str, ...]
    warnings: tuple[str, ...]
    seed: int
    solve_seconds: float | None = None
    stopped: str | None = None
    elsewhere: tuple[str, ...] = ()
    within: tuple[Within, ...] = ()

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every disc placed: packets and places count from the bottom."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "set": number,
                    "shoe": stack.shoe,
                    "packet": packet,
                    "place": place,
                    "disc": disc,
                    "pattern": stack.pattern,
                    "shims_mm": sum(stack.shims_mm),
                    "free_height_mm": stack.free_height_mm,
                    "working_load_n": stack.working_load_n,
                }
                for number, one in enumerate(self.sets, 1)
                for stack in one.stacks
                for packet, discs in enumerate(stack.packets, 1)
                for place, disc in enumerate(discs, 1)
            ]
        )


def set_of(plan: Plan, number: int, where: str) -> PlanSet:
    """Return set `number` (from 1) of a plan.

    Raises
    ------
    InputError
        when the plan has no such set.
    """
    if not 1 <= number <= len(plan.sets):
        raise InputError(
            f"Expected a set from 1 to {len(plan.sets)}, got {number}.", where, "Correct --set."
        )
    return plan.sets[number - 1]
