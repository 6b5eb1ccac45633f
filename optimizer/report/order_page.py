"""The page of a spring order: what to buy, how sure, and the confidence against quantity."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Any

from optimizer import text
from optimizer.orders.document import ClutchOrder, CurvePoint, Order, SizeOption
from optimizer.orders.next_steps import next_steps, to_buy
from optimizer.report.chart import BOTTOM, LEFT, RIGHT, TOP, Axis, path
from optimizer.report.figures import Figures
from optimizer.report.order_card import (
    assumed,
    first_built,
    hangs_loose,
    in_steps,
    mended,
    promise,
    said,
    simulated,
    worked,
)
from optimizer.report.page import rendered
from optimizer.report.two_ways import two_ways

#: points of a curve that are marked one by one, and those named along the axis
MARKED, NAMED = 16, 7
#: points of a curve in its table, and the one that is bought
ROWS = 8


@dataclass(frozen=True)
class CurveChart:
    """Confidence against discs in drawing units: the line, its interval as a band, and marks.

    `asked` is (y, name); `chosen` (x, y, name), None where no quantity keeps what was asked;
    `sample` the same of a sample first, at its mean discs, None where it is not worth a thought.
    """

    title: str
    description: str
    x_ticks: list[tuple[float, str]]
    y_ticks: list[tuple[float, str]]
    band: str
    line: str
    dots: tuple[tuple[float, float], ...]
    asked: tuple[float, str]
    chosen: tuple[float, float, str] | None
    sample: tuple[float, float, str] | None


def order_page(order: Order, day: date) -> str:
    """Write an order, dated `day`, as one self-contained HTML page."""
    return rendered("order.html.j2", order_context(order, day))


def order_context(order: Order, day: date) -> dict[str, Any]:
    """Return what the template of an order needs."""
    return {
        "order": order,
        "day": day.isoformat(),
        "charts": [curve_chart(clutch, order.asked) for clutch in order.clutches],
        "f": Figures(order.units),
        "say": text,
        "said": said,
        "hangs_loose": hangs_loose,
        "to_buy": to_buy,
        "promise": promise,
        "worked": worked,
        "mended": mended,
        "thinned": thinned,
        "first_built": first_built,
        "in_steps": in_steps,
        "two_ways": two_ways,
        "money": lambda cost: "" if cost is None else f"{cost:.2f} {order.currency}".rstrip(),
        "steps": next_steps(order),
        "assumed": assumed(order),
        "simulated": simulated(order),
    }


def thinned(best: SizeOption) -> list[CurvePoint]:
    """Return the points of a curve that fit a table, the quantity named among them."""
    step = math.ceil(len(best.curve) / ROWS)
    return [p for k, p in enumerate(best.curve) if k % step == 0 or p.discs == best.enough]


def curve_chart(clutch: ClutchOrder, asked: float) -> CurveChart:
    """Lay out the confidence of a clutch's best option against the packs bought."""
    best = clutch.options[0]
    points = best.curve
    across, up = _axes(best, asked)

    high = [(point.discs, 100 * point.confidence.high) for point in points]
    low = [(point.discs, 100 * point.confidence.low) for point in points]
    middle = [(point.discs, 100 * point.confidence.share) for point in points]
    steps = best.steps
    sample = (
        (across.at(steps.mean_discs), up.at(100 * steps.confidence.share), "sample first")
        if best.in_steps(asked)
        else None
    )
    at = next((p for p in points if best.does and p.discs == best.enough), None)
    last = points[-1]
    return CurveChart(
        f"Share of deliveries in which all sets of {clutch.name} end right, by discs bought",
        f"A rising curve, from {said(points[0].confidence)} with {points[0].discs} discs to "
        f"{said(last.confidence)} with {last.discs}; the shaded band is the 95 % interval of the "
        f"simulation. Asked is {asked:.0%}"
        + (
            f", kept from {best.enough} discs on."
            if at is not None
            else "; no number of discs keeps it."
        )
        + (
            ""
            if sample is None
            else f" A sample first promises {text.percent(steps.confidence.share)} with "
            f"{steps.mean_discs:.0f} discs on average, of lots that suit."
        ),
        [(across.at(p), str(p)) for p in _named(best)],
        up.ticks(),
        path(across, up, high + low[::-1]) + "Z",
        path(across, up, middle),
        tuple((across.at(p), up.at(percent)) for p, percent in middle)
        if len(points) <= MARKED
        else (),
        (up.at(100 * asked), text.percent(asked)),
        None
        if at is None
        else (across.at(at.discs), up.at(100 * at.confidence.share), f"buy {at.discs}"),
        sample,
    )


def _axes(best: SizeOption, asked: float) -> tuple[Axis, Axis]:
    first, last = best.curve[0].discs, best.curve[-1].discs
    if best.in_steps(asked):
        first, last = min(first, int(best.steps.mean_discs)), max(last, int(best.steps.mean_discs))
    least = min(asked, *(point.confidence.low for point in best.curve))
    floor = 10.0 * math.floor(10 * max(0.0, least - 0.02))
    wide = Axis(float(first), float(max(last, first + 1)), LEFT + 10, RIGHT)
    return wide, Axis(floor, 100.0, BOTTOM, TOP)


def _named(best: SizeOption) -> list[int]:
    """Discs named along the axis, in whole packs between the first and the last."""
    first, last = best.curve[0].discs, best.curve[-1].discs
    pack = math.gcd(*(point.discs for point in best.curve)) or 1
    step = pack * max(1, math.ceil((last - first) / pack / (NAMED - 1)))
    return list(range(first, last + 1, step))
