"""The order as one document, the same in memory and as JSON."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.orders.clutch import BenchWork
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.quantity import Proportion
from optimizer.orders.steps import Steps

#: share of lots that must suit for a sample to be worth sending for
LEAST_SUITING = 0.3

SCHEMA = "evenstack.order/2"


@dataclass(frozen=True)
class CurvePoint:
    """Confidence in one quantity: discs bought, and what the cheapest packs of them cost."""

    discs: int
    cost: float | None
    confidence: Proportion


@dataclass(frozen=True)
class OrderLine:
    """One kind of pack to buy; `held` discs of its size are on hand."""

    size: str
    packs: int
    pack: int
    discs: int
    held: int
    cost: float | None
    supplier: str = ""


@dataclass(frozen=True)
class ProposedChange:
    """A change with which an order would do, or does better: what, how sure, at what cost.

    `lines` are what would be bought then, none where no quantity would do.
    """

    changes: tuple[str, ...]
    confidence: Proportion
    cost: float | None
    lines: tuple[OrderLine, ...]


@dataclass(frozen=True)
class BuyingPlan:
    """A way to buy, all at once or a sample first, and what it takes on average.

    `days` are until all is there, None where the catalog does not say; `minutes` are those of a
    person on the bench before the sets are dealt: discs measured, a stack built and gauged for
    every lot that is looked at.
    """

    cost: float | None
    days: float | None
    minutes: float
    confidence: Proportion


@dataclass(frozen=True)
class SizeOption:
    """One size and pattern for one clutch, and what to buy of it.

    `lines` are the cheapest packs with which the asked confidence is kept, none where no
    quantity does; `discs` are bought then (None where none do) and `left_discs` are over.

    `confidence` is the promise: all sets truly within their spread tolerance after the work on
    the bench, on target and within every limit. It is `dealt`, the share of deliveries that can
    be dealt so as measured and are truly on target, times `matched`, the chance that all sets
    end truly within; of one set that is `set_chance`. Where no quantity does they are those of
    the fewest discs that do about as often as any number, `enough`.

    `blind` is `dealt` without a gauge in the same quantity, `blind_most` that in any; `spread_n`
    the mean true spread of a set as first built, before the bench mends it, None where none was
    built; `shim_mm` what a
    nominal stack stands on, `gap_mm` how far it hangs loose at rest, `shimmed` the share of
    deliveries whose stacks stand on shims; `draws` the deliveries that it was judged by;
    `at_once` and `sampled` are the two ways to buy it, the latter None where no lot suits.
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
    lines: tuple[OrderLine, ...]
    discs: int | None
    held: int
    left_discs: int | None
    cost: float | None
    lead_days: float | None
    enough: int
    confidence: Proportion
    dealt: Proportion
    set_chance: float
    matched: float
    blind: Proportion
    blind_most: Proportion
    spread_n: float | None
    curve: tuple[CurvePoint, ...]
    steps: Steps
    gap_mm: float = 0.0
    at_once: BuyingPlan | None = None
    sampled: BuyingPlan | None = None

    @property
    def does(self) -> bool:
        """Whether some quantity keeps the asked confidence."""
        return self.discs is not None

    def in_steps(self, asked: float) -> bool:
        """Tell whether a sample first is worth a thought.

        It is where the lot rules and lots that suit are not too rare: of a few samples one must
        likely suit, and then likely do.
        """
        lot_rules = not self.does or self.blind.share * self.matched < asked
        return lot_rules and self.steps.suits.share >= LEAST_SUITING and self.matched >= asked


@dataclass(frozen=True)
class ClutchOrder:
    """What one clutch needs, the options from cheapest to dearest, and what would mend it.

    `mends` are told where the first option does not do, the cheapest that keep what was asked
    first; `if_lots_scatter` is the promise of the first option were the means of lots to scatter
    twice as far as assumed, None where it does not do.
    """

    name: str
    sets: int
    shoes: int
    target_n: float
    load_tolerance_n: float
    spread_tolerance_n: float
    work: BenchWork
    options: tuple[SizeOption, ...]
    mends: tuple[ProposedChange, ...] = ()
    if_lots_scatter: Proportion | None = None


@dataclass(frozen=True)
class Use:
    """What a joint order is for: so many sets of a clutch from a size in a pattern."""

    clutch: str
    size: str
    pattern: str
    sets: int
    discs: int


@dataclass(frozen=True)
class JointOrder:
    """One order for all clutches, of one or two sizes, with its confidence as a whole."""

    lines: tuple[OrderLine, ...]
    uses: tuple[Use, ...]
    cost: float | None
    confidence: Proportion
    left_discs: int


@dataclass(frozen=True)
class Order:
    """The whole answer; `joint` is None where there is one clutch, or none does for all."""

    schema: str
    version: str
    units: str
    catalog: str
    currency: str
    asked: float
    budget: float | None
    spares: int
    draws: int
    seed: int
    making: Manufacture
    clutches: tuple[ClutchOrder, ...]
    joint: JointOrder | None
    warnings: tuple[str, ...]
