"""How far stacks are pressed where nobody reads them: on a worn drum, and at rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from optimizer import text
from optimizer.estimate.problem import Task
from optimizer.match.result import Assigned, is_loose
from optimizer.mechanics.state import greatest_share, shares

#: shares are said to two figures: what is less off is not told
SAID = 0.005


def extremes_note(task: Task, answers: Iterable[Assigned]) -> Iterator[str]:
    """Say where stacks leave what the limits allow at the travel, on a worn drum or at rest."""
    worn, rest = [], []
    for answer in answers:
        p = task.packets(answer.stacks)
        worn += greatest_share(p, answer.worn_n).tolist()
        if not is_loose(task, answer):  # of which more is said elsewhere
            rest += np.where(p.free_mm > 0, shares(p, answer.rest_n), np.inf).min(-1).tolist()
    limit = task.rules.worn_limit or task.rules.deflection_limit
    over = [share for share in worn if share > limit + SAID]
    if over:
        yield (
            f"on a worn drum {len(over)} of {len(worn)} stacks are pressed beyond the deflection "
            f"limit of {limit:g} h, to {max(over):.2f} h: they may set or crack before the drum is "
            "worn out. Replace the drum sooner (worn_travel), or ask for more discs a stack."
        )
    # supplier guidance after DIN 2093, from memory: below 0.15 h cracks begin at point I
    least = task.rules.rest_share
    loose = np.array(rest) < least - SAID
    if task.datum.has_room and loose.any():
        yield (
            f"at rest discs of {loose.sum()} of {len(rest)} stacks are pressed to "
            f"{min(rest):.2f} h only: "
            f"springs that work to and fro should keep {least:g} h, or cracks may begin at their "
            "upper inside edge. More shims or a taller pattern press them further."
        )


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
