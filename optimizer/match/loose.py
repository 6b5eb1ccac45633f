"""Stacks that hang loose in their room at rest."""

from __future__ import annotations

from collections.abc import Mapping

from optimizer import text

#: more loose stacks than this are counted, not named
NAMED = 6


def loose_note(gap_mm: Mapping[str, float], units: str) -> tuple[str, ...]:
    """Say which stacks do not fill their room, by how much, and what to do; nothing if all do.

    `gap_mm` is the room at rest less free height and shims of each stack, by its name.
    """
    loose = {name: gap for name, gap in gap_mm.items() if gap >= 0}
    if not loose:
        return ()
    which = ", ".join(loose) if len(loose) <= NAMED else f"{len(loose)} of {len(gap_mm)} stacks"
    least, most = (text.length(pick(loose.values()), units) for pick in (min, max))
    gap = most if least == most else f"{least} to {most}"
    return (
        f"loose at rest: {which}. {gap} is left between stack and shoe, so nothing pushes until "
        "the shoe has moved so far. Remedy: lay more than that in shims under every stack, take "
        "the shims off installed_length in the job and match again; or ask for another pattern "
        "(discs or packet_sizes under [stack]).",
    )
