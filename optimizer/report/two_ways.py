"""All at once beside a sample first: cost, days, bench minutes and chance as pairs of bars."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import text
from optimizer.orders.document import BuyingPlan, SizeOption

#: drawing units: where bars begin and the longest ends, height of a bar, from one pair to the next
START, LONGEST, BAR, STEP = 78.0, 150.0, 10.0, 42.0
TOP = 20.0


@dataclass(frozen=True)
class ValueBar:
    """One bar: its length, place and value in words; `band` is (from, to) of its interval."""

    name: str
    y: float
    length: float
    said: str
    band: tuple[float, float] | None


@dataclass(frozen=True)
class Pair:
    """One measure of both ways; `asked` is where what was asked stands, if it was."""

    name: str
    y: float
    bars: tuple[ValueBar, ...]
    asked: float | None


@dataclass(frozen=True)
class TwoWays:
    """The picture, from top to bottom, and what it says in words."""

    title: str
    description: str
    height: float
    pairs: tuple[Pair, ...]


def two_ways(best: SizeOption, asked: float, currency: str) -> TwoWays | None:
    """Draw both ways to buy; None where a sample first is not worth a thought."""
    now, then = best.at_once, best.sampled
    if now is None or then is None or not best.in_steps(asked):
        return None
    measures = (
        ("Cost", now.cost, then.cost, 2, currency),
        ("Days until all is there", now.days, then.days, 0, ""),
        ("Bench before the sets, minutes", now.minutes, then.minutes, 0, ""),
    )
    pairs: list[Pair] = []
    for name, one, other, digits, unit in measures:
        if one is None or other is None:
            continue
        scale = LONGEST / max(one, other, 1e-9)
        values = zip(WAYS, (one, other), strict=True)
        y = TOP + STEP * len(pairs)
        bars = tuple(
            ValueBar(way, _at(y, k), scale * value, f"{value:.{digits}f} {unit}".rstrip(), None)
            for k, (way, value) in enumerate(values)
        )
        pairs.append(Pair(name, y, bars, None))
    y = TOP + STEP * len(pairs)
    pairs.append(
        Pair(
            "All sets end right, % of deliveries",
            y,
            tuple(_chance(way, _at(y, k), course) for k, (way, course) in enumerate(
                zip(WAYS, (now, then), strict=True)
            )),
            START + LONGEST * asked,
        )
    )  # fmt: skip
    told = "; ".join(
        f"{pair.name}: {pair.bars[0].said} at once, {pair.bars[1].said} with a sample first"
        for pair in pairs
    )
    return TwoWays(
        "All at once, or a sample first",
        f"{told}. The chance with a sample first is of lots that are gone on with; asked is "
        f"{text.percent(asked)}. All are means.",
        TOP + STEP * len(pairs),
        tuple(pairs),
    )


#: what the two bars of a pair are called
WAYS = ("all at once", "sample first")


def _at(y: float, which: int) -> float:
    return y + which * (BAR + 3)


def _chance(way: str, y: float, course: BuyingPlan) -> ValueBar:
    of = course.confidence
    low, high = START + LONGEST * of.low, START + LONGEST * of.high
    return ValueBar(way, y, LONGEST * of.share, text.percent(of.share), (low, high))
