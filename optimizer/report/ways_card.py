"""What the ways from here say in words: the best in one sentence, then all of them, then why."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from optimizer import text
from optimizer.model.job import Effort
from optimizer.ways.compare import Comparison, WayResult, side
from optimizer.wrapping import Block, TextTable, plain


def ways_card(found: Comparison) -> str:
    """Write the comparison as text of at most 80 columns."""
    return "".join(plain(one) + "\n" * isinstance(one, str) for one in ways_blocks(found))


def ways_blocks(found: Comparison) -> Iterator[Block]:
    """Yield paragraphs and the table of ways."""
    yield best_sentence(found)
    yield TextTable(
        ("way", "minutes", "9 in 10", "discs", "rounds", "chance"),
        [_row(told) for told in found.told],
        "Minutes of a person from here, give or take what so few benches leave open (95 in 100); "
        "within how many nine in ten are done; discs measured, dressed, pressed or moved; rounds "
        "on the gauge; chance at the end that the true loads are within tolerance.",
    )
    yield look_sentence(found)
    if found.impossible:
        names = "; ".join(way.name for way in found.impossible)
        yield f"Leads to no set within the limits of the job: {names}."
    inside = float(found.best.of("in_clutch").mean())
    if inside < found.best.chance - 0.005:
        yield (
            f"That is of the stacks on the gauge. In the clutch, whose travels and seats a gauge "
            f"beside it does not see, the chance is then {text.percent(inside)}."
        )
    most, least = (f(len(told.plays) for told in found.told) for f in (max, min))
    yield (
        f"Played on {most} benches drawn from what is believed of these discs, with the rules that "
        f"bench goes by and {effort_words(found.start.job.effort)} Ways far behind the first are "
        f"left early, after {least} at the least."
    )
    if found.stopped:
        yield "Stopped early: this rests on fewer benches than were asked for."


def best_sentence(found: Comparison) -> str:
    """Say the best way in one sentence."""
    best = found.best
    reached = best.chance >= found.stop_at
    head = "Fewest minutes" if reached else f"No way reaches {text.percent(found.stop_at)}; best"
    return (
        f"{head}: {best.way.name}, {best.minutes:.0f} minutes (nine in ten within "
        f"{best.ninth_decile:.0f}), then truly matched with {text.percent(best.chance)}."
    )


def look_sentence(found: Comparison) -> str:
    """Say whether what was measured is enough, and which discs are worth a second look."""
    look = found.look
    if not look.discs or not len(found.saved):
        return "Nothing would be known better by measuring discs of this set once more."
    give = side(found.saved)
    each = ", ".join(
        f"{text.disc(disc)} ({found.saves * part:.1f})"
        for disc, part in zip(look.discs, look.part, strict=True)
    )
    close = abs(found.saves - look.minutes) < give
    unsure = " So few benches leave open which is more." if close else ""
    saved = f"{found.saves:.1f} +- {give:.1f} at the gauge" if found.saves > 0 else "none"
    if found.enough:
        names = ", ".join(map(text.disc, look.discs))
        which = f"the {text.number(len(look.discs))} discs that decide most"
        which = "the disc that decides most" if len(look.discs) == 1 else which
        return (
            f"What was measured is enough: to measure {which} once more ({names}) costs "
            f"{look.minutes:.0f} minutes and saves {saved}.{unsure}"
        )
    return (
        f"Worth a second look, with the minutes that each saves: {each}. Together that costs "
        f"{look.minutes:.0f} minutes and saves {saved}.{unsure}"
    )


#: what each of [effort] is for, and what the page counted of it
WORK = {
    "caliper": ("a disc by caliper", "disc"),
    "micrometer": ("by micrometer", "disc"),
    "dressing": ("dressing one", "disc"),
    "reading": ("a reading", "reading"),
    "exchange": ("exchanging a disc", "exchange"),
    "build": ("building a stack", "stack"),
}


def effort_words(effort: Effort) -> str:
    """Say the minutes that are gone by, and which of them the bench page learned."""
    learned = dict(effort.learned)
    each = ", ".join(_minutes(effort, kind, learned.get(kind, 0)) for kind in WORK)
    return f"these minutes of [effort] (assumptions unless you set them): {each}."


def _minutes(effort: Effort, kind: str, seen: int) -> str:
    what, one = WORK[kind]
    said = f"{what} {getattr(effort, kind):.2g}"
    plural = "" if seen == 1 else "s"
    return f"{said} (learned from {seen} {one}{plural})" if seen else said


def _row(told: WayResult) -> tuple[str, ...]:
    give = told.minutes_side
    return (
        told.way.name,
        f"{told.minutes:.0f}" + (f" +- {give:.0f}" if np.isfinite(give) else ""),
        f"{told.ninth_decile:.0f}",
        f"{told.of('discs').mean():.0f}",
        f"{told.of('rounds').mean():.1f}",
        text.percent(told.chance),
    )
