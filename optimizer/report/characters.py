"""Stacks drawn in characters, as they stand: the last line is the bottom."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from optimizer import text, wrapping
from optimizer.model.plan import PlanStack

#: a disc on its outer rim, and one turned over; a shim
DOWN, UP, SHIM = "/\\", "\\/", "=="
#: blanks between two stacks
GAP = 4


def stacks_drawn(stacks: Sequence[PlanStack], units: str) -> list[str]:
    """Draw the stacks beside each other, below each other where they are too wide."""
    columns = [_column(stack, units) for stack in stacks]
    widths = [max(map(len, column)) for column in columns]
    if sum(widths) + GAP * (len(widths) - 1) > wrapping.width():
        return [line for column in columns for line in (*column, "")]
    high = max(map(len, columns))
    # stacks stand on one line, their names above each
    lifted = [[c[0]] + [""] * (high - len(c)) + c[1:] for c in columns]
    rows = zip_longest(*lifted, fillvalue="")
    blank = " " * GAP
    return [
        blank.join(cell.ljust(wide) for cell, wide in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def _column(stack: PlanStack, units: str) -> list[str]:
    lines = [f"{SHIM} shim {text.length(mm, units)}" for mm in stack.shims_mm]
    for number, packet in enumerate(stack.packets):
        for rank, name in enumerate(packet):
            nested = " +" if rank else ""
            lines.append(f"{UP if number % 2 else DOWN} {name}{nested}")
    return [f"SHOE {stack.shoe}", *lines[::-1]]
