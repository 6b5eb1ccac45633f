"""What a bag holds and what can be made of it, as tables and paragraphs."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from optimizer import text
from optimizer.estimate.words import drawn_words
from optimizer.match.holdings import HeldKnown, Holdings
from optimizer.wrapping import Block, TextTable, plain

#: patterns listed for people; JSON has them all
MOST_PATTERNS = 15
#: letters of a lot's name that leave the table within 80 columns
LOT_WIDTH = 12


def holdings_card(held: Holdings) -> str:
    """Write what a bag holds as text."""
    blocks = holdings_blocks(held)
    hangs = itertools.chain(("  ",), itertools.repeat(None))
    return "".join(plain(one, hang) for one, hang in zip(blocks, hangs, strict=False))


def holdings_blocks(held: Holdings) -> Iterator[Block]:
    """Yield tables and paragraphs: what can be built, remarks, patterns, lots, and every disc."""
    u = held.units
    yield _verdict(held)
    yield from (*held.reasons, *(f"Note: {warning}" for warning in held.warnings))
    if held.known is not None:
        yield from _known(held.known, u)
    if held.patterns:
        yield from _patterns(held, held.known is not None)
    yield TextTable(
        ("lot", "edge", "discs", "thickness", "sd", "real", "cone", "sd", "real"),
        [
            (
                _cut(lot.lot or "-"),
                lot.edge,
                str(lot.discs),
                text.length(lot.thickness_mm, u),
                text.length(lot.thickness_sd_mm, u).split()[0],
                _real(lot.thickness_believed, lot.thickness_sd_mm),
                text.length(lot.cone_height_mm, u),
                text.length(lot.cone_height_sd_mm, u).split()[0],
                _real(lot.cone_height_believed, lot.cone_height_sd_mm),
            )
            for lot in held.lots
        ],
        "Lots: mean, measured sd, and how much of the measured differences is real: the "
        "rest is the instrument's own noise and is drawn towards the lot's mean",
    )
    yield TextTable(
        ("disc", "edge", "thickness", "cone height", "load", "at target", "times"),
        [
            (
                d.disc,
                d.edge,
                text.length(d.thickness_mm, u),
                text.length(d.cone_height_mm, u),
                text.load(d.reference_load_n, u),
                "flat" if d.target_share is None else f"{d.target_share:.2f} h",
                str(d.repeats),
            )
            for d in held.discs
        ],
        f"Discs as measured; load at {held.reference_share:g} of the disc's own cone height; "
        f"how far {text.load(held.target_load_n, u)} would press it alone; times measured",
    )
    if words := drawn_words(
        [d.disc for d in held.discs],
        [d.cone_height_mm for d in held.discs],
        [d.believed_cone_height_mm for d in held.discs],
        u,
    ):
        yield words


def _verdict(held: Holdings) -> str:
    """Say whether the bag reaches the target, and with which pattern most surely."""
    u = held.units
    target = f"{text.load(held.target_load_n, u)} +- {text.load(held.load_tolerance_n, u)}"
    if not held.patterns:
        return f"NOT ENOUGH: no pattern of the {len(held.discs)} discs reaches {target}."
    best = max(held.patterns, key=lambda p: (p.chance, p.best_chance))
    count = len(held.patterns)
    reach = "1 pattern reaches" if count == 1 else f"{count} patterns reach"
    return (
        f"ENOUGH: {reach} {target} with these {len(held.discs)} discs; the surest is "
        f"{best.pattern}, {text.percent(best.chance)} likely truly within "
        f"{text.load(held.spread_tolerance_n, u)} of each other, at best "
        f"{text.percent(best.best_chance)}."
    )


def _known(known: HeldKnown, u: str) -> Iterator[Block]:
    yield (
        f"What the bench taught ({known.file}, {known.readings} settled readings): load factor "
        f"{known.load_factor:.4f} +- {known.load_factor_sd:.4f}."
    )
    if known.rpm is not None:
        yield (f"Engagement speed seen on the engine: {known.rpm:.0f} rpm.")
    yield TextTable(
        ("stands", "last read", "believed", "+-", "discs"),
        [
            (
                f"shoe {stack.shoe}",
                ", ".join(text.load(load, u) for load in stack.read_n) or "never",
                text.load(stack.load_n, u),
                text.load(stack.sd_n, u).split()[0],
                " ".join(text.packet(packet) for packet in stack.packets),
            )
            for stack in known.stacks
        ],
        "What stands under the shoes, loads at the travel",
    )
    if known.chance_within_tolerance is not None and known.chance_on_target is not None:
        yield (
            f"{text.percent(known.chance_within_tolerance)} likely truly within the spread "
            f"tolerance, {text.percent(known.chance_on_target)} that their mean is on target."
        )


def _real(believed: float, sd_mm: float) -> str:
    return text.percent(believed) if sd_mm > 0 else "-"


def _cut(words: str) -> str:
    return words if len(words) <= LOT_WIDTH else words[: LOT_WIDTH - 1] + "."


def _patterns(held: Holdings, taught: bool) -> Iterator[Block]:
    u = held.units
    yield TextTable(
        ("pattern", "discs", "mean load", "+-", "free height", "pressed", "chance", "best"),
        [
            (
                p.pattern,
                str(p.discs),
                text.load(p.load_n, u),
                text.load(p.sd_n, u).split()[0],
                text.length(p.free_height_mm, u),
                f"{p.share:.2f} h",
                text.percent(p.chance),
                text.percent(p.best_chance),
            )
            for p in held.patterns[:MOST_PATTERNS]
        ],
        f"Patterns that chosen discs may bring to {text.load(held.target_load_n, u)} "
        f"+- {text.load(held.load_tolerance_n, u)}; mean load is that of average discs, before "
        "choosing; "
        f"chance that the true spread of a matched set is within "
        f"{text.load(held.spread_tolerance_n, u)}, with average discs and, at best, "
        "with the least doubtful ones",
    )
    if len(held.patterns) > MOST_PATTERNS:
        yield (f"{len(held.patterns) - MOST_PATTERNS} more patterns: see --json.")
    yield (
        "The chances are those of stacks built anew, with discs and load factor as the bench "
        "taught them and assumed scatter."
        if taught
        else "The chances are before any reading: they rest on the instrument's word and on "
        "assumed scatter."
    )
