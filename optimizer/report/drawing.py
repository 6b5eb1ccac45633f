"""A stack section as a drawing: one scale for all shoes, labels and dimensions beside it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimizer.report.labels import spread
from optimizer.report.section import DiscSection, Point, StackSection
from optimizer.units import MM_PER_IN

#: room of the half section in drawing units: about 0.22 mm on paper, 1.1 px on a phone
STACK_WIDTH, STACK_HEIGHT = 160.0, 215.0
AXIS = 34.0
MARGIN = 8.0
RULER_ROOM = 26.0
LABEL_STEP = 13.0
LONGEST_LABEL = 10
#: a dressed edge is marked by a bar inside the disc, long enough to be seen
BAR, BAR_INSET = 9.0, 1.3


@dataclass(frozen=True)
class Mark:
    """A label at height `at`, with a leader from (x, y) of its part."""

    name: str
    x: float
    y: float
    at: float


@dataclass(frozen=True)
class Part:
    """One disc or shim: the path of its half section, of its flats, and what it is."""

    name: str
    kind: str
    path: str
    flats: str
    title: str


@dataclass(frozen=True)
class Drawing:
    """Everything the template needs; lengths in drawing units, `scale` in units a mm."""

    scale: float
    height: float
    parts: tuple[Part, ...]
    marks: tuple[Mark, ...]
    foot: float
    top: float
    ruler: float
    ruler_name: str


def common_scale(sections: Iterable[StackSection]) -> float:
    """Scale in units a mm at which every stack of a plan fits."""
    all_ = tuple(sections)
    labels = max(len(s.discs) + len(s.shims) for s in all_)
    room = max(STACK_HEIGHT, LABEL_STEP * labels)
    return min(STACK_WIDTH / max(s.outer_mm for s in all_), room / max(s.top_mm for s in all_))


def draw(
    section: StackSection,
    names: Sequence[str],
    scale: float,
    units: str,
    shim_names: Sequence[str] = (),
) -> Drawing:
    """Lay out one stack; `names` are those of all discs of the bag."""
    labels = [*shim_names, *(names[d.disc] for d in section.discs)]
    mids = [plate.base_mm + plate.thickness_mm / 2 for plate in section.shims]
    mids += [_rim_middle(d) for d in section.discs]
    beside = spread([mid * scale for mid in mids], LABEL_STEP)
    above = max(section.top_mm * scale, beside[-1] + LABEL_STEP / 2)
    below = min(0.0, beside[0] - LABEL_STEP / 2)

    def y(height: float) -> float:
        return MARGIN + above - height

    rims = [section.outer_mm] * len(section.shims)
    rims += [max(r for r, _ in d.outline) for d in section.discs]
    marks = tuple(
        Mark(_short(name), AXIS + rim * scale, y(mid * scale), y(at))
        for name, rim, mid, at in zip(labels, rims, mids, beside, strict=True)
    )

    def path(points: Sequence[Point], close: bool) -> str:
        corners = "L".join(f"{AXIS + r * scale:.3f} {y(z * scale):.3f}" for r, z in points)
        return f"M{corners}{'Z' if close else ''}"

    parts = [
        Part(
            name,
            "shim",
            path(
                [
                    (section.inner_mm, plate.base_mm),
                    (section.outer_mm, plate.base_mm),
                    (section.outer_mm, plate.base_mm + plate.thickness_mm),
                    (section.inner_mm, plate.base_mm + plate.thickness_mm),
                ],
                True,
            ),
            "",
            name,
        )
        for plate, name in zip(section.shims, shim_names, strict=True)
    ]
    parts += [
        Part(
            names[d.disc],
            "down" if d.outer_down else "up",
            path(d.outline, True),
            "".join(path(_bar(d, flat, scale), False) for flat in d.flats),
            f"{names[d.disc]}: outer edge {'down' if d.outer_down else 'up'}, "
            f"{'dressed' if d.flats else 'sharp'}",
        )
        for d in section.discs
    ]
    return Drawing(
        scale,
        MARGIN + above - below + RULER_ROOM,
        tuple(parts),
        marks,
        y(section.foot_mm * scale),
        y(section.top_mm * scale),
        scale * (0.2 * MM_PER_IN if units == "in" else 5.0),
        "0.2 in" if units == "in" else "5 mm",
    )


def _rim_middle(d: DiscSection) -> float:
    """Height of the middle of the outer end of a disc."""
    rim = max(r for r, _ in d.outline)
    ends = [z for r, z in d.outline if r == rim]
    return sum(ends) / len(ends)


def _bar(d: DiscSection, flat: tuple[Point, Point], scale: float) -> tuple[Point, Point]:
    """Ends in mm of the bar that marks a flat: from the edge inward, just inside the disc."""
    radii = [r for r, _ in d.outline]
    heights = [z for _, z in d.outline]
    long = max(abs(flat[1][0] - flat[0][0]), BAR / scale)
    inset = BAR_INSET / scale
    z = flat[0][1] + (inset if flat[0][1] == min(heights) else -inset)
    if flat[1][0] == max(radii):
        return (max(radii) - long, z), (max(radii), z)
    return (min(radii), z), (min(radii) + long, z)


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_LABEL else name[: LONGEST_LABEL - 1] + "…"
