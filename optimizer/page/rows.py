"""A stack as rows to build by: the bottom one first, each drawn as it lies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimizer.model.bag import Disc
from optimizer.model.stack import Stack

#: half width of a drawn disc, rise of its cone and its thickness in drawing units; the cone is
#: drawn much steeper than it is, so that up and down cannot be confused
HALF, RISE, THICK = 56.0, 16.0, 9.0


@dataclass(frozen=True)
class PartRow:
    """One disc or shim of a stack.

    `part` is what is ticked; `packet` counts from 1 at the bottom, 0 for shims; `nested` tells
    that it lies in the disc below it; `path` draws its section, both sides of the axis.
    """

    part: str
    name: str
    packet: int
    outer_down: bool
    nested: bool
    path: str
    behind: str

    @property
    def facing(self) -> str:
        """Say which way its outer edge points."""
        if not self.packet:
            return "flat"
        return "down" if self.outer_down else "up"


def stack_rows(packs: Stack, discs: Mapping[str, Disc], shims: Sequence[str] = ()) -> list[PartRow]:
    """Return the rows of a stack from the bottom up; `shims` are named by their thickness."""
    rows = [
        PartRow(f"shim {k}", f"shim {shim}", 0, False, False, _plate(), "")
        for k, shim in enumerate(shims, 1)
    ]
    for number, packet in enumerate(packs, 1):
        for seat, name in enumerate(packet):
            disc, down = discs[name], number % 2 == 1
            rows.append(
                PartRow(
                    name,
                    name,
                    number,
                    down,
                    seat > 0,
                    _section(disc.id_mm / disc.od_mm, down),
                    _behind(disc.id_mm / disc.od_mm, down),
                )
            )
    return rows


def _section(bore: float, outer_down: bool) -> str:
    """Both halves of a disc in section."""
    inner = HALF * bore
    outer_y, inner_y = (RISE, 0.0) if outer_down else (0.0, RISE)
    return "".join(
        f"M{side * HALF:.1f} {outer_y:.1f}V{outer_y + THICK:.1f}"
        f"L{side * inner:.1f} {inner_y + THICK:.1f}V{inner_y:.1f}Z"
        for side in (-1, 1)
    )


def _behind(bore: float, outer_down: bool) -> str:
    """What is seen of the disc behind the section: its whole outline."""
    inner = HALF * bore
    outer_y, inner_y = (RISE, 0.0) if outer_down else (0.0, RISE)
    return (
        f"M{-HALF:.1f} {outer_y:.1f}L{-inner:.1f} {inner_y:.1f}H{inner:.1f}L{HALF:.1f} "
        f"{outer_y:.1f}v{THICK:.1f}L{inner:.1f} {inner_y + THICK:.1f}H{-inner:.1f}"
        f"L{-HALF:.1f} {outer_y + THICK:.1f}Z"
    )


def _plate() -> str:
    y = (RISE + THICK) / 2 - 2
    return f"M{-HALF:.1f} {y:.1f}H{HALF:.1f}v5H{-HALF:.1f}Z"
