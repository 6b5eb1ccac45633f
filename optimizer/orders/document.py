"""The order as one document, the same in memory and as JSON."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.orders.making import Making
from optimizer.orders.quantity import Share
from optimizer.orders.steps import Steps

SCHEMA = "evenstack.order/1"


@dataclass(frozen=True)
class Point:
    """Confidence in one quantity."""

    packs: int
    discs: int
    cost: float | None
    confidence: Share


@dataclass(frozen=True)
class Option:
    """One size and pattern for one clutch, and how many packs of it do.

    `packs` is the smallest number that keeps the asked confidence, or None where none up to
    the end of the curve does; `left_discs` what would be over; `blind` the confidence
    without a gauge in the same quantity, `blind_most` that in any; `spread_n` the mean true
    spread of a set as first built, before the bench mends it; `shim_mm` what a nominal stack
    stands on, `gap_mm` how far it hangs loose at rest, `shimmed` the share of deliveries
    whose stacks stand on shims; `draws` the deliveries that it was judged by.
    """

    size: str
    pattern: str
    discs_per_stack: int
    nominal_load_n: float
    deflection_share: float
    stress_mpa: float
    length_mm: float
    shim_mm: float
    shimmed: float
    draws: int
    pack: int
    packs: int | None
    discs: int | None
    held: int
    left_discs: int | None
    cost: float | None
    lead_days: float | None
    confidence: Share
    blind: Share
    blind_most: Share
    spread_n: float
    curve: tuple[Point, ...]
    steps: Steps
    gap_mm: float = 0.0

    def in_steps(self, asked: float) -> bool:
        """Tell whether an order in two steps is worth a thought: the lot rules."""
        return self.packs is None or self.blind.share < asked


@dataclass(frozen=True)
class ClutchOrder:
    """What one clutch needs, and the options from cheapest to dearest."""

    name: str
    sets: int
    shoes: int
    target_n: float
    load_tolerance_n: float
    options: tuple[Option, ...]


@dataclass(frozen=True)
class Line:
    """One size of a joint order."""

    size: str
    packs: int
    discs: int
    held: int
    cost: float | None


@dataclass(frozen=True)
class Use:
    """What a joint order is for: so many sets of a clutch from a size in a pattern."""

    clutch: str
    size: str
    pattern: str
    sets: int
    discs: int


@dataclass(frozen=True)
class Joint:
    """One order for all clutches, of one or two sizes, with its confidence as a whole."""

    lines: tuple[Line, ...]
    uses: tuple[Use, ...]
    cost: float | None
    confidence: Share
    left_discs: int


@dataclass(frozen=True)
class Order:
    """The whole answer; `joint` is None where one size for one clutch is the cheapest."""

    schema: str
    version: str
    units: str
    catalog: str
    currency: str
    asked: float
    draws: int
    seed: int
    making: Making
    clutches: tuple[ClutchOrder, ...]
    joint: Joint | None
    warnings: tuple[str, ...]
