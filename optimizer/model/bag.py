"""The bag: discs as measured, one frozen value each."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import pandas as pd

Edge = Literal["sharp", "dressed"]


@dataclass(frozen=True)
class Disc:
    """One disc; repeats of a measurement are averaged and counted in `repeats`.

    `from_overall_height` tells that the cone height was found as overall height minus
    thickness, so that an error of the thickness is in both. `flat_assumed` tells that
    the disc is dressed but its flat was not measured. `edge_radius_mm` rounds the corners of a
    sharp disc, 0 where it was not measured. `line` is the row of the file. `load_n` is
    what the disc alone carried on the gauge at `at_mm`, the mean of `loads` readings, None where
    it was not pressed; `nominal` names lengths that were not measured and are the job's.
    `keep_with` names the set that the disc must stay with, if any.
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
    edge_radius_mm: float = 0.0
    load_n: float | None = None
    at_mm: float | None = None
    loads: int = 0
    nominal: tuple[str, ...] = ()
    keep_with: str = ""

    @property
    def inset_mm(self) -> float:
        """How far inside its edges the load acts: the width of a flat, or what a rounded corner
        gives, which is its radius less what the cone tilts it back (geometry of the section)."""
        tilt = 2 * self.cone_height_mm / (self.od_mm - self.id_mm)
        return self.flat_mm + self.edge_radius_mm * (1 - tilt)


@dataclass(frozen=True)
class Repeats:
    """How far measurements of the same disc differ, of all discs measured more than once: sum of
    squares about each disc's mean, and of how many degrees of freedom."""

    square_mm2: float = 0.0
    degrees: int = 0


@dataclass(frozen=True)
class Bag:
    """The discs on hand, in the order of the file, and what looked odd in it.

    `thickness_repeats` and `height_repeats` are of the height that was measured, cone or overall.
    """

    path: Path
    discs: tuple[Disc, ...]
    warnings: tuple[str, ...] = ()
    thickness_repeats: Repeats = Repeats()
    height_repeats: Repeats = Repeats()

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every disc, as a bag file has them, lengths in mm."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "disc": disc.name,
                    "od_mm": disc.od_mm,
                    "id_mm": disc.id_mm,
                    "thickness_mm": None if "thickness" in disc.nominal else disc.thickness_mm,
                    "cone_height_mm": (
                        None if "cone_height" in disc.nominal else disc.cone_height_mm
                    ),
                    "edge": disc.edge,
                    "flat_mm": disc.flat_mm or None,
                    "edge_radius_mm": disc.edge_radius_mm or None,
                    "load_n": disc.load_n,
                    "at_mm": disc.at_mm,
                    "lot": disc.lot,
                    "note": disc.note,
                    "keep_with": disc.keep_with,
                }
                for disc in self.discs
            ]
        )
