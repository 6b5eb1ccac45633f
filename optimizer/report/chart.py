"""Charts as numbers for the template: axes, lines and labels in drawing units."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from optimizer.mechanics.disc import Array
from optimizer.report.labels import spread

WIDTH, HEIGHT = 340.0, 240.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 280.0, 24.0, 196.0
LABEL_STEP = 14.0


@dataclass(frozen=True)
class Axis:
    """A linear axis from value `low` to `high`, drawn from `start` to `end`."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Place of a value."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self, unit: float = 1.0) -> list[tuple[float, str]]:
        """Places and names of values that are round in a unit, at most six of them."""
        low, high = self.low / unit, self.high / unit
        step = round_step((high - low) / 5)
        digits = max(0, -math.floor(math.log10(step)))
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        return [
            (self.at(k * step * unit), f"{k * step:.{digits}f}".replace("-", "−"))
            for k in range(first, last + 1)
        ]


def path(across: Axis, up: Axis, points: Iterable[tuple[float, float]]) -> str:
    """Return a line through points as SVG draws it."""
    return "M" + "L".join(f"{across.at(x):.2f} {up.at(y):.2f}" for x, y in points)


def round_step(least: float) -> float:
    """Smallest 1, 2 or 5 times a power of ten that is not below `least`."""
    power: float = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= least * (1 - 1e-9))


@dataclass(frozen=True)
class Line:
    """One curve: its number picks the line style, its label stands at its right end."""

    number: int
    name: str
    path: str
    end_x: float
    end_y: float
    label_y: float


@dataclass(frozen=True)
class Bar:
    """A vertical bar with end ticks, from `low` to `high` at `x`, around a dot at `y`."""

    number: int
    x: float
    y: float
    low: float
    high: float


@dataclass(frozen=True)
class Chart:
    """A chart ready to draw; `band` is (top, bottom, label) of the shaded strip.

    `areas` are paths of what the curves may as well be, their doubt.
    """

    title: str
    description: str
    x_ticks: list[tuple[float, str]]
    y_ticks: list[tuple[float, str]]
    x_name: str
    y_name: str
    band: tuple[float, float, str] | None
    uprights: tuple[tuple[float, str], ...]
    lines: tuple[Line, ...]
    bars: tuple[Bar, ...]
    areas: tuple[str, ...] = ()


def chart(
    title: str,
    description: str,
    x_values: Array,
    y_values: Array,
    names: Sequence[str],
    axis_names: tuple[str, str],
    y_range: tuple[float, float],
    band: tuple[float, float, str] | None,
    uprights: Sequence[tuple[float, str]],
    bars: Sequence[tuple[float, float, float, float]],
    reach: Array | None = None,
    first: int = 1,
    units: tuple[float, float] = (1.0, 1.0),
) -> Chart:
    """Lay out curves.

    Parameters
    ----------
    x_values, y_values : (T, S) values of S curves
    y_range : least and greatest value shown
    band : least and greatest value of the shaded strip, and its name
    uprights : x and name of vertical lines
    bars : x, y, and the ends of the bar, one a curve; no bar where the ends are equal
    reach : (T, S) half width of the doubt of each curve, shaded; none if None
    first : number of the first curve, which picks its style
    units : what the units that the axes are shown in are worth in those of the values
    """
    across = Axis(0.0, float(x_values.max()), LEFT, RIGHT)
    up = Axis(*y_range, BOTTOM, TOP)
    ends = [up.at(float(value)) for value in y_values[-1]]
    beside = spread(ends, LABEL_STEP)
    lines = tuple(
        Line(
            number + first,
            name,
            path(across, up, zip(x_values[:, number], y_values[:, number], strict=True)),
            across.at(float(x_values[-1, number])),
            ends[number],
            beside[number],
        )
        for number, name in enumerate(names)
    )
    middle = (len(bars) - 1) / 2
    return Chart(
        title,
        description,
        across.ticks(unit=units[0]),
        up.ticks(unit=units[1]),
        *axis_names,
        None if band is None else (up.at(band[1]), up.at(band[0]), band[2]),
        tuple((across.at(value), name) for value, name in uprights),
        lines,
        tuple(
            Bar(
                number + first,
                across.at(x) + (7 * (number - middle) if high > low else 0.0),
                *(up.at(value) for value in (y, low, high)),
            )
            for number, (x, y, low, high) in enumerate(bars)
        ),
        () if reach is None else tuple(_areas(across, up, x_values, y_values, reach)),
    )


def _areas(across: Axis, up: Axis, x_values: Array, y_values: Array, reach: Array) -> Iterator[str]:
    """Closed paths from each curve less its reach to the curve more it."""
    for number in range(x_values.shape[1]):
        x, y, half = x_values[:, number], y_values[:, number], reach[:, number]
        edge = [*zip(x, y + half, strict=True), *zip(x[::-1], (y - half)[::-1], strict=True)]
        yield path(across, up, edge) + "Z"
