"""The key `lever` that jobs had once: refused, with what to write in its stead."""

from __future__ import annotations

from typing import Any

from optimizer.io.job.source import Source
from optimizer.io.job.words import show

LEVER = "lever"


def refuse_lever(source: Source, section: str, table: dict[str, Any]) -> None:
    """Refuse `lever`: its words said one ratio of arms and its formula the reverse.

    The number is converted as the formula had it, spring load = lever x centrifugal force,
    and the remedy says how to see whether that is what was meant.
    """
    given = table[LEVER]
    unit = "in" if any(spelling.endswith("_in") for spelling in table) else "mm"
    what = f"{LEVER} = {show(given)} is no longer a key: it could be read in two ways."
    if isinstance(given, bool) or not isinstance(given, (int, float)) or not 0 < given <= 20:
        arms = f"arm_centre_{unit}, arm_stack_{unit} and arm_lining_{unit}"
        remedy = f"Write the arms about the shoe's pivot: {arms}."
    elif given == 1:
        remedy = "Delete it: without arms a shoe slides out as a whole, which is what 1 meant."
    else:
        near, far = ("nearer to", "further from") if given < 1 else ("further from", "nearer to")
        remedy = (
            f"It was taken as arm of the centre of gravity over arm of the stack, so for the same "
            f"speeds write arm_centre_{unit} = {given:g} and arm_stack_{unit} = 1 (only ratios "
            f"count); that is right if the centre of gravity is {near} the pivot than the stack. "
            f"If it is {far} it, swap the two: the speeds were wrong. Add arm_lining_{unit}, the "
            f"lining's arm in the same measure (1 if it presses where the stack does)."
        )
    source.add(what, remedy, section, LEVER)
