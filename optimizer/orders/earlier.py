"""An order that was planned before, read back from its order.json to be compared with."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import InputError, Problem, raise_if
from optimizer.io.documents import read_document
from optimizer.orders.clutch import OrderedClutch
from optimizer.orders.document import SCHEMA, Line, Order
from optimizer.orders.manufacture import RANGES, Manufacture
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
    lines: tuple[Line, ...] | None
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
            Problem(
                f"Expected an order for {clutch.name} at {clutch.target_n:.1f} N, got one for "
                f"{planned}.",
                self.file,
                "Give the order of this job, or leave --plan out.",
            )
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
    return _earlier(path.name, order)


def _earlier(file: str, order: Order) -> Earlier:
    clutches = tuple(EarlierClutch(of.name, of.sets, of.target_n) for of in order.clutches)
    if not order.clutches or not order.clutches[0].options:
        raise InputError(Problem("Expected an order of a clutch, found none.", file, REMEDY))
    best = order.clutches[0].options[0]
    lines: tuple[Line, ...] | None = None
    share = best.confidence
    if order.joint is not None:
        lines, share = order.joint.lines, order.joint.confidence
    elif best.does:
        lines = best.lines or (Line(best.size, 0, 0, 0, best.held, best.cost),)
    return Earlier(file, order.catalog, order.asked, order.making, clutches, lines, share)
