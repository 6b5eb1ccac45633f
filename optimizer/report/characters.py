"""Stacks drawn in characters, as they stand: the last line is the bottom."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import zip_longest

from optimizer import text, wrapping
from optimizer.model.plan import PlanStack

#: a disc on its outer rim, and one turned over; a shim
DOWN, UP, SHIM = "/\\", "\\/", "=="
#: blanks between two stacks, and the least of them
GAP, LEAST_GAP = 4, 2


def stacks_drawn(
    stacks: Sequence[PlanStack],
    units: str,
    marked: Callable[[int, str], str] = lambda shoe, disc: "",
    feet: Sequence[Sequence[str]] = (),
) -> list[str]:
    """Draw the stacks beside each other, below each other where they are too wide.

    Parameters
    ----------
    marked : what stands behind a disc of a shoe
    feet : lines below each stack
    """
    columns = [_column(stack, units, marked) for stack in stacks]
    columns = [[*column, *foot] for column, foot in zip_longest(columns, feet, fillvalue=())]
    widths = [max(map(len, column)) for column in columns]
    room = wrapping.width() - sum(widths)
    gap = min(GAP, room // max(len(widths) - 1, 1))
    if gap < LEAST_GAP:
        return [line for column in columns for line in (*column, "")][:-1]
    high = max(map(len, columns))
    # stacks stand on one line, their names above each
    lifted = [[c[0]] + [""] * (high - len(c)) + c[1:] for c in columns]
    rows = zip_longest(*lifted, fillvalue="")
    blank = " " * gap
    return [
        blank.join(cell.ljust(wide) for cell, wide in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def _column(stack: PlanStack, units: str, marked: Callable[[int, str], str]) -> list[str]:
    lines = [f"{SHIM} shim {text.length(mm, units)}" for mm in stack.shims_mm]
    for number, packet in enumerate(stack.packets):
        for rank, name in enumerate(packet):
            nested = " +" if rank else ""
            mark = marked(stack.shoe, name)
            lines.append(f"{UP if number % 2 else DOWN} {name}{nested}{mark}")
    return [f"SHOE {stack.shoe}", *lines[::-1]]
