"""A stack in full section as a drawing that stands beside its list, row by row.

Widths are to one scale and heights to a larger one, the same for all shoes of a plan: cones are
so flat that on one scale a disc that lies rim up cannot be told from one that lies rim down.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from optimizer.report.section import DiscSection, Point, StackSection

#: drawing units: a row of the list beside it, the full section, what stands left and right of it
ROW, SECTION, LEFT, LEADER = 24.0, 88.0, 3.0, 13.0
#: heights are drawn at most so many times larger than widths
MOST_TIMES = 6.0
#: a dressed edge is marked by a bar inside the disc, long enough to be seen
BAR, BAR_INSET = 7.0, 1.2
#: room below the seat that the stack stands on
SEAT = 3.0


@dataclass(frozen=True)
class Scale:
    """Drawing units a mm, across and up, and the units of a row of the list."""

    across: float
    up: float
    row: float

    @property
    def times(self) -> float:
        """How many times larger heights are drawn than widths."""
        return self.up / self.across


@dataclass(frozen=True)
class Part:
    """One disc or shim: both halves of its section, its back edge, its flats and what it is.

    `leader` runs from its rim to the middle of its row.
    """

    name: str
    kind: str
    path: str
    edge: str
    flats: str
    leader: str
    title: str
    y: float


@dataclass(frozen=True)
class Drawing:
    """Everything the template needs, parts from the bottom up; lengths in drawing units."""

    scale: Scale
    width: float
    height: float
    axis: float
    parts: tuple[Part, ...]
    top: float


def common_scale(sections: Iterable[StackSection], row: float = ROW) -> Scale:
    """Scale at which every stack of a plan is no higher than its rows."""
    all_ = tuple(sections)
    across = SECTION / 2 / max(s.outer_mm for s in all_)
    up = min(row * _rows(s) / s.top_mm for s in all_)
    return Scale(across, min(up, MOST_TIMES * across), row)


def _rows(section: StackSection) -> int:
    return len(section.shims) + len(section.discs)


def draw(
    section: StackSection,
    names: Sequence[str],
    scale: Scale,
    shim_names: Sequence[str] = (),
    moved: Collection[str] = (),
) -> Drawing:
    """Lay out one stack; `names` are those of all discs of the bag, `moved` those to be shown."""
    high = scale.row * _rows(section)
    axis = LEFT + SECTION / 2
    rows = [(k + 0.5) * scale.row for k in range(_rows(section))]

    def at(point: Point, side: int) -> str:
        y = max(high - point[1] * scale.up, 0.0)
        return f"{axis + side * point[0] * scale.across:.2f} {y:.2f}"

    def both(points: Sequence[Point], close: bool) -> str:
        return "".join(
            "M" + "L".join(at(p, side) for p in points) + ("Z" if close else "") for side in (-1, 1)
        )

    def leader(rim_mm: float, middle_mm: float, row: float) -> str:
        y = high - row
        start = axis + rim_mm * scale.across + 1
        bend = LEFT + SECTION + LEADER - 4
        return f"M{start:.2f} {high - middle_mm * scale.up:.2f}L{bend:.2f} {y:.2f}h4"

    parts = []
    for plate, name, row in zip(section.shims, shim_names, rows, strict=False):
        low, top = plate.base_mm, plate.base_mm + plate.thickness_mm
        inner, outer = section.inner_mm, section.outer_mm
        box = ((inner, low), (outer, low), (outer, top), (inner, top))
        parts.append(
            Part(
                name, "shim", both(box, True), "", "",
                leader(outer, (low + top) / 2, row), name, high - (low + top) / 2 * scale.up,
            )
        )  # fmt: skip
    for d, row in zip(section.discs, rows[len(section.shims) :], strict=True):
        name = names[d.disc]
        facing = "down" if d.outer_down else "up"
        inner, brow = _brow(d)
        middle = _rim_middle(d)
        parts.append(
            Part(
                name,
                f"{facing} moved" if name in moved else facing,
                both(d.outline, True),
                f"M{at((inner, brow), -1)}L{at((inner, brow), 1)}",
                "".join(both(_bar(d, flat, scale), False) for flat in d.flats),
                leader(max(r for r, _ in d.outline), middle, row),
                f"{name}: outer rim {facing}, {'dressed' if d.flats else 'sharp'}",
                high - middle * scale.up,
            )
        )
    return Drawing(
        scale,
        LEFT + SECTION + LEADER,
        high + SEAT,
        axis,
        tuple(parts),
        high - section.top_mm * scale.up,
    )


def _rim_middle(d: DiscSection) -> float:
    """Height of the middle of the outer end of a disc."""
    rim = max(r for r, _ in d.outline)
    ends = [z for r, z in d.outline if r == rim]
    return sum(ends) / len(ends)


def _brow(d: DiscSection) -> Point:
    """Radius and height of the upper edge of the bore, seen behind the section."""
    inner = min(r for r, _ in d.outline)
    return inner, max(z for r, z in d.outline if r == inner)


def _bar(d: DiscSection, flat: tuple[Point, Point], scale: Scale) -> tuple[Point, Point]:
    """Ends in mm of the bar that marks a flat: from the edge inward, just inside the disc."""
    radii = [r for r, _ in d.outline]
    heights = [z for _, z in d.outline]
    long = max(abs(flat[1][0] - flat[0][0]), BAR / scale.across)
    inset = BAR_INSET / scale.up
    z = flat[0][1] + (inset if flat[0][1] == min(heights) else -inset)
    if flat[1][0] == max(radii):
        return (max(radii) - long, z), (max(radii), z)
    return (min(radii), z), (min(radii) + long, z)
