"""The bag: discs as measured, one frozen value each."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from optimizer.model.job import Units

Edge = Literal["sharp", "dressed"]


@dataclass(frozen=True)
class Disc:
    """One disc; repeats of a measurement are averaged and counted in `repeats`.

    `from_overall_height` tells that the cone height was found as overall height minus
    thickness, so that an error of the thickness is in both. `flat_assumed` tells that
    the disc is dressed but its flat was not measured. `line` is the row of the file.
    """

    name: str
    od_mm: float
    id_mm: float
    thickness_mm: float
    cone_height_mm: float
    edge: Edge
    flat_mm: float
    lot: str = ""
    note: str = ""
    repeats: int = 1
    from_overall_height: bool = False
    flat_assumed: bool = False
    line: int = 0


@dataclass(frozen=True)
class Bag:
    """The discs on hand, in the order of the file, and what looked odd in it."""

    path: Path
    discs: tuple[Disc, ...]
    units: Units
    warnings: tuple[str, ...] = ()
