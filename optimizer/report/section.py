"""A stack in section, as numbers: where every corner of every disc lies, in mm.

Coordinates are (radius from the axis, height above the seat). Discs are drawn as the load
laws see them: thickness `t` measured along the axis, cone height `h` between the plates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.mechanics.disc import Array, Discs
from optimizer.mechanics.packet import Index

Point = tuple[float, float]


@dataclass(frozen=True)
class DiscSection:
    """One disc: `outline` of the right-hand half, corners in order, and its dressed `flats`.

    `disc` is its number in the bag, `packet` that of its packet from the bottom, 0 first.
    """

    disc: int
    packet: int
    outer_down: bool
    outline: tuple[Point, ...]
    flats: tuple[tuple[Point, Point], ...]


@dataclass(frozen=True)
class Plate:
    """A shim under the stack."""

    base_mm: float
    thickness_mm: float


@dataclass(frozen=True)
class StackSection:
    """A whole stack: shims first, then the discs."""

    shims: tuple[Plate, ...]
    discs: tuple[DiscSection, ...]
    top_mm: float
    inner_mm: float
    outer_mm: float


def disc_outline(
    outer_mm: float, inner_mm: float, t_mm: float, h_mm: float, flat_mm: float
) -> tuple[tuple[Point, ...], tuple[tuple[Point, Point], ...]]:
    """Corners and flats of the half section of a disc that rests on its outside diameter.

    Parameters
    ----------
    outer_mm, inner_mm : radii
    t_mm, h_mm : thickness and cone height as measured, h after dressing
    flat_mm : radial width of the dressed edges, 0 when sharp

    Notes
    -----
    The cone runs between the flats only, so its slope is h / (ring width - 2 flats): the
    lever ratio of the load laws.
    """
    top = h_mm + t_mm
    slope = h_mm / (outer_mm - inner_mm - 2 * flat_mm)
    if flat_mm == 0:
        return ((outer_mm, 0.0), (outer_mm, t_mm), (inner_mm, top), (inner_mm, h_mm)), ()
    rim = max(top - slope * (outer_mm - inner_mm - flat_mm), 0.0)
    bore = min(slope * (outer_mm - inner_mm - flat_mm), top)
    foot = ((outer_mm - flat_mm, 0.0), (outer_mm, 0.0))
    head = ((inner_mm, top), (inner_mm + flat_mm, top))
    outline = (foot[1], (outer_mm, rim), head[1], head[0], (inner_mm, bore), foot[0])
    return outline, (foot, head)


def stack_section(
    d: Discs,
    stack: Index,
    packet_height_mm: Array,
    shims_mm: Sequence[float] = (),
) -> StackSection:
    """Place the discs of a stack on each other, unloaded, facing alternately.

    Parameters
    ----------
    d : the discs of the bag
    stack : packets (P, m) of disc numbers, bottom to top, -1 where there is none
    packet_height_mm : free height of each packet; what it has beyond its discs (nested cones
        stand a little apart) is shared out among its interfaces
    shims_mm : thicknesses under the stack
    """
    base = 0.0
    plates = []
    for thickness in shims_mm:
        plates.append(Plate(base, thickness))
        base += thickness
    sections = []
    for number, row in enumerate(stack[(stack >= 0).any(1)]):
        packet = row[row >= 0].tolist()
        height = float(packet_height_mm[number])
        for disc, z in zip(packet, _bases(d, packet, height), strict=True):
            sections.append(_placed(d, disc, number, base + z))
        base += height
    used = stack[stack >= 0]
    return StackSection(
        tuple(plates),
        tuple(sections),
        base,
        float(d.id_mm[used].min()) / 2,
        float(d.od_mm[used].max()) / 2,
    )


def _bases(d: Discs, packet: Sequence[int], height_mm: float) -> list[float]:
    """Height of the foot of each nested disc above that of its packet."""
    t, h = d.thickness_mm, d.cone_height_mm
    steps = [float(t[a] + max(h[a] - h[b], 0.0)) for a, b in pairwise(packet)]
    last = packet[-1]
    spare = height_mm - sum(steps) - float(t[last] + h[last])
    bases = [0.0]
    for step in steps:
        bases.append(bases[-1] + step + spare / len(steps))
    return bases


def _placed(d: Discs, disc: int, packet: int, z: float) -> DiscSection:
    t, h = float(d.thickness_mm[disc]), float(d.cone_height_mm[disc])
    outline, flats = disc_outline(
        float(d.od_mm[disc]) / 2, float(d.id_mm[disc]) / 2, t, h, float(d.flat_mm[disc])
    )
    outer_down = packet % 2 == 0

    def put(point: Point) -> Point:
        radius, height = point
        return radius, z + (height if outer_down else h + t - height)

    return DiscSection(
        disc,
        packet,
        outer_down,
        tuple(put(p) for p in outline),
        tuple((put(a), put(b)) for a, b in flats),
    )
