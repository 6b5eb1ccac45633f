"""The page of a delivery: what it builds now, what lacks, how its lots lie, what to reorder."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from optimizer import text
from optimizer.estimate.probability import NINETEEN_OF_TWENTY
from optimizer.orders.document import Order
from optimizer.orders.next_steps import to_buy
from optimizer.orders.received import LotMean, Received
from optimizer.report.chart import Axis
from optimizer.report.figures import Figures
from optimizer.report.order_card import said
from optimizer.report.order_page import order_context
from optimizer.report.page import rendered
from optimizer.report.received_card import off_nominal, usual
from optimizer.units import MM_PER_IN

#: ends of the strip of a measure in drawing units
START, END = 12.0, 328.0


@dataclass(frozen=True)
class Strip:
    """The mean of a lot in one measure: a dot on the range assumed for 19 of 20 lots.

    All places are in drawing units; `ticks` are (place, name).
    """

    measure: str
    low: float
    high: float
    nominal: float
    dot: float
    ticks: list[tuple[float, str]]
    said: str
    unusual: bool


def lot_strips(lot: LotMean, units: str) -> tuple[Strip, ...]:
    """Lay out how a received lot lies about nominal, against what was assumed of lots."""
    measures = (
        ("Thickness", lot.thickness_off_mm, lot.thickness_sd_mm),
        ("Cone height", lot.cone_height_off_mm, lot.cone_height_sd_mm),
    )
    return tuple(_strip(*measure, units) for measure in measures)


def _strip(measure: str, off_mm: float, sd_mm: float, units: str) -> Strip:
    reach = NINETEEN_OF_TWENTY * sd_mm
    # in um, or in ten-thousandths of an inch: small lengths read as whole numbers
    unit = MM_PER_IN / 10_000 if units == "in" else 0.001
    most = 1.25 * max(reach, abs(off_mm), unit) / unit
    axis = Axis(-most, most, START, END)
    return Strip(
        measure,
        axis.at(-reach / unit),
        axis.at(reach / unit),
        axis.at(0.0),
        axis.at(off_mm / unit),
        axis.ticks(),
        f"mean {off_nominal(off_mm, units)} off nominal, {usual(off_mm, sd_mm, units)}",
        abs(off_mm) > reach,
    )


def received_page(received: Received, units: str, day: date) -> str:
    """Write what a delivery builds, dated `day`, as one self-contained HTML page."""
    reorder = received.reorder
    context = {} if reorder is None else order_context(reorder, day)
    return rendered(
        "received.html.j2",
        context
        | {
            "received": received,
            "day": day.isoformat(),
            "lots": [(lot, lot_strips(lot, units)) for lot in received.lots],
            "small_unit": "0.0001 in" if units == "in" else "µm",
            "f": Figures(units),
            "say": text,
            "said": said,
            "decision": _decision(received),
            "reorder": reorder,
        },
    )


def _decision(received: Received) -> tuple[str, str]:
    """Say what to do first: its word, and the rest of the line."""
    wanted, now = received.wanted_sets, received.buildable_sets
    sets = "set" if now == 1 else "sets"
    if received.reorder is None:
        return "BUILD", f"{now} {sets}: nothing lacks, nothing is to be ordered again."
    buy = _to_buy(received.reorder)
    if not now:
        return "REORDER", f"{buy}: no set of {wanted} can be built yet."
    return "BUILD", f"{now} {sets} of {wanted} now; reorder {buy} for the other {wanted - now}."


def _to_buy(order: Order) -> str:
    """Say in few words what to buy."""
    if order.joint is not None:
        return to_buy(order.joint.lines)
    best = order.clutches[0].options[0]
    return to_buy(best.lines) if best.does else "(no quantity keeps what was asked, see below)"
