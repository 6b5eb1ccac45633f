"""After delivery: what the real bag can build, against the order that was planned before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from optimizer.control import Limits, Report, quiet
from optimizer.errors import CannotBuildError, InputError, Problem, raise_if
from optimizer.estimate.problem import Task
from optimizer.io.documents import read_document
from optimizer.match.lots import match_lots
from optimizer.model.catalog import Size
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.document import SCHEMA, Order, OrderLine
from optimizer.orders.lot import within_lot_sd
from optimizer.orders.manufacture import RANGES, Manufacture
from optimizer.orders.onhand import OnHand
from optimizer.orders.quantity import Proportion

REMEDY = "Give the order.json that `evenstack order JOB --sets N --out DIR` wrote."


@dataclass(frozen=True)
class EarlierClutch:
    """What an order was for: so many sets of a clutch."""

    name: str
    sets: int
    target_n: float


@dataclass(frozen=True)
class Earlier:
    """An earlier order: what it was for, what was assumed, what it bought and how sure it was.

    `lines` are all the sizes it bought, for all its clutches; None where no quantity did.
    """

    file: str
    catalog: str
    asked: float
    making: Manufacture
    clutches: tuple[EarlierClutch, ...]
    lines: tuple[OrderLine, ...] | None
    confidence: Proportion

    def check(self, clutch: OrderedClutch) -> None:
        """Refuse an order that was not planned for a clutch.

        Raises
        ------
        InputError
            when no clutch of the order has the name and the target of this one.
        """
        if any(
            of.name == clutch.name and abs(of.target_n - clutch.target_n) <= clutch.resolution_n
            for of in self.clutches
        ):
            return
        planned = " and ".join(f"{of.name} at {of.target_n:.1f} N" for of in self.clutches)
        raise InputError(
            f"Expected an order for {clutch.name} at {clutch.target_n:.1f} N, got one for "
            f"{planned}.",
            self.file,
            "Give the order of this job, or leave --plan out.",
        )


def read_earlier(path: Path) -> Earlier:
    """Read an order file.

    Raises
    ------
    InputError
        as in `read_document`, and where what it assumed is out of range.
    """
    order = read_document(path, Order, SCHEMA, REMEDY)
    raise_if(
        Problem(f"Expected {name} from {low:g} to {high:g}, got {value:g}.", path.name, REMEDY)
        for name, (low, high) in RANGES.items()
        if not low <= (value := getattr(order.making, name)) <= high
    )
    clutches = tuple(EarlierClutch(of.name, of.sets, of.target_n) for of in order.clutches)
    if not order.clutches or not order.clutches[0].options:
        raise InputError("Expected an order of a clutch, found none.", path.name, REMEDY)
    best = order.clutches[0].options[0]
    lines: tuple[OrderLine, ...] | None = None
    share = best.confidence
    if order.joint is not None:
        lines, share = order.joint.lines, order.joint.confidence
    elif best.does:
        lines = best.lines or (OrderLine(best.size, 0, 0, 0, best.held, best.cost),)
    return Earlier(path.name, order.catalog, order.asked, order.making, clutches, lines, share)


@dataclass(frozen=True)
class LotMean:
    """How the received discs of a size lie about nominal, in mm.

    Beside each the sd with which the means of lots were assumed to scatter.
    """

    size: str
    discs: int
    thickness_off_mm: float
    thickness_sd_mm: float
    cone_height_off_mm: float
    cone_height_sd_mm: float


@dataclass(frozen=True)
class ExpectedLot:
    """One size of the earlier order: discs bought and on hand then, and those there are now."""

    size: str
    packs: int
    discs: int
    there: int


@dataclass(frozen=True)
class Received:
    """What a bag can build now; `reorder` is a plan for the rest, None where nothing lacks.

    `buildable_bound` is a proven greatest number of sets on like shims, at most the number
    asked for; `shim_mm` what the stacks stand on; `reasons` say why not one set can be built, where
    so. `planned` and `expected` are the earlier order and its sizes, where it was given.
    """

    discs: int
    wanted_sets: int
    buildable_sets: int
    buildable_bound: int
    pattern: str
    shim_mm: float
    lots: tuple[LotMean, ...] = ()
    reasons: tuple[str, ...] = ()
    planned: Earlier | None = None
    expected: tuple[ExpectedLot, ...] = ()
    reorder: Order | None = None
    same_lot: bool = False

    @property
    def short_sets(self) -> int:
        """Sets that cannot be built yet."""
        return self.wanted_sets - self.buildable_sets


def count_sets(
    task: Task, sets: int, spread_n: float, limits: Limits, seed: int, report: Report = quiet
) -> Received:
    """Deal a received bag into at most `sets` sets, on the shims that give most of them."""
    discs = len(task.belief)
    try:
        lots = match_lots(task, sets, spread_n, limits, seed, report)
    except CannotBuildError as refused:
        reasons = tuple(str(problem) for problem in refused.problems)
        return Received(discs, sets, 0, 0, "", 0.0, reasons=reasons)
    answer = lots.sets[0].answer
    pattern, shim_mm = str(answer.patterns[0]), sum(answer.shims[0])
    return Received(discs, sets, len(lots.sets), lots.bound, pattern, shim_mm)


def lot_means(
    sizes: tuple[Size, ...], held: Mapping[str, OnHand], making: Manufacture
) -> tuple[LotMean, ...]:
    """Compare the discs of each size, in whatever packs it is sold, with its nominal measures."""
    found = []
    foremost: dict[tuple[float, ...], Size] = {}
    for size in sizes:
        foremost.setdefault(size.shape, size)
    for size in foremost.values():
        if size.name in held and len(held[size.name]):
            discs = held[size.name].discs
            t_sd, h_sd = (making.lot_share * sd for sd in within_lot_sd(size, making))
            found.append(
                LotMean(
                    size.name,
                    len(held[size.name]),
                    float(discs.thickness_mm.mean() - size.thickness_mm),
                    t_sd,
                    float(discs.cone_height_mm.mean() - size.cone_height_mm),
                    h_sd,
                )
            )
    return tuple(found)


def expected(earlier: Earlier | None, held: Mapping[str, OnHand]) -> tuple[ExpectedLot, ...]:
    """Count the discs of each size that an earlier order bought."""
    if earlier is None or earlier.lines is None:
        return ()
    bought: dict[str, list[OrderLine]] = {}
    for line in earlier.lines:
        bought.setdefault(line.size, []).append(line)
    return tuple(
        ExpectedLot(
            size,
            sum(line.packs for line in lines),
            sum(line.discs for line in lines) + lines[0].held,
            len(held[size]) if size in held else 0,
        )
        for size, lines in bought.items()
    )
