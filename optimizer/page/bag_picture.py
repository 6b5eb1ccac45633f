"""The bag as a picture: thickness against cone height, odd discs named."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import text
from optimizer.model.bag import Bag
from optimizer.model.job import Units
from optimizer.report.chart import Axis

#: room in drawing units, and its margins
WIDTH, HEIGHT, LEFT, BELOW, AROUND = 320.0, 220.0, 68.0, 44.0, 14.0
#: least range of an axis in mm, so that equal discs do not look wild
LEAST_MM = 0.02


@dataclass(frozen=True)
class Dot:
    """One disc: where it lies, its name, and whether something about it is odd."""

    x: float
    y: float
    name: str
    odd: bool


@dataclass(frozen=True)
class BagPicture:
    """Everything the template needs; `ends` are the ends of thickness, then of cone height."""

    dots: tuple[Dot, ...]
    ends: tuple[str, str, str, str]


def bag_picture(bag: Bag, units: Units) -> BagPicture:
    """Lay out the discs of a bag, their lengths named in the unit of its file."""
    t = [disc.thickness_mm for disc in bag.discs]
    h = [disc.cone_height_mm for disc in bag.discs]
    across = Axis(*_range(t), LEFT, WIDTH - AROUND)
    up = Axis(*_range(h), HEIGHT - BELOW, AROUND)
    dots = tuple(
        Dot(
            across.at(disc.thickness_mm),
            up.at(disc.cone_height_mm),
            disc.name,
            any(f"disc {disc.name}: " in warning for warning in bag.warnings),
        )
        for disc in bag.discs
    )
    ends = tuple(text.length(value, units) for value in (min(t), max(t), min(h), max(h)))
    return BagPicture(dots, (ends[0], ends[1], ends[2], ends[3]))


def _range(values: list[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    spare = max(LEAST_MM - (high - low), 0.0) / 2
    return low - spare, high + spare
