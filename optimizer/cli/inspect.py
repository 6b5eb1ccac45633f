"""`evenstack inspect`: what the bag holds and what can be made of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimizer.cli.options import Fresh, JobFile, Json, Plot

if TYPE_CHECKING:
    from optimizer.match.holdings import HeldDisc, HeldKnown, Holdings

#: patterns listed on a terminal; JSON has them all
MOST_PATTERNS = 15
#: letters of a lot's name that leave the table within 80 columns
LOT_WIDTH = 12


def inspect(
    job: JobFile,
    fresh: Fresh = False,
    plot: Plot = None,
    json: Json = False,
) -> None:
    """Show what a bag holds: each disc, odd ones, what patterns reach the target."""
    from optimizer.cli.output import check_plot, say, write_plot
    from optimizer.match.holdings import holdings
    from optimizer.match.workspace import open_job
    from optimizer.report.pictures import bag_picture, picture

    check_plot(plot)
    work = open_job(job, fresh)
    held = holdings(work)
    if plot is not None:
        write_plot(plot, picture(bag_picture(work), plot))
    if json:
        say(_document(held))
    else:
        _show(held)


def _document(held: Holdings) -> str:
    from dataclasses import asdict

    from optimizer.io.documents import document

    return document({"schema": "evenstack.inspect/1", **asdict(held)})


def _show(held: Holdings) -> None:
    from optimizer import text
    from optimizer.cli.table import show_table, show_text

    u = held.units
    show_table(
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
    show_table(
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
    if words := _drawn(held.discs, u):
        show_text(words)
    if held.known is not None:
        _show_known(held.known, u)
    if held.patterns:
        _show_patterns(held, held.known is not None)
    for words in (*held.reasons, *(f"Note: {warning}" for warning in held.warnings)):
        show_text(words)


def _drawn(discs: tuple[HeldDisc, ...], u: str) -> str:
    """Say that discs are computed with other values than those typed, and the furthest."""
    from optimizer import text

    disc = max(discs, key=lambda d: abs(d.believed_cone_height_mm - d.cone_height_mm))
    typed = text.length(disc.cone_height_mm, u)
    believed = text.length(disc.believed_cone_height_mm, u)
    if typed == believed:
        return ""
    return (
        "Loads are computed with values drawn towards the lot's mean so far: furthest "
        f"{disc.disc}, cone height {typed}, computed with {believed}. All are in --json; "
        "load --as-measured goes by the values as typed."
    )


def _show_known(known: HeldKnown, u: str) -> None:
    from optimizer import text
    from optimizer.cli.table import show_table, show_text

    show_text(
        f"What the bench taught ({known.file}, {known.readings} settled readings): load factor "
        f"{known.load_factor:.4f} +- {known.load_factor_sd:.4f}."
    )
    if known.rpm is not None:
        show_text(f"Engagement speed seen on the engine: {known.rpm:.0f} rpm.")
    show_table(
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
    if known.odds_within_tolerance is not None and known.odds_on_target is not None:
        show_text(
            f"{text.share(known.odds_within_tolerance)} likely truly within the spread tolerance, "
            f"{text.share(known.odds_on_target)} that their mean is on target."
        )


def _real(believed: float, sd_mm: float) -> str:
    from optimizer import text

    return text.share(believed) if sd_mm > 0 else "-"


def _cut(words: str) -> str:
    return words if len(words) <= LOT_WIDTH else words[: LOT_WIDTH - 1] + "."


def _show_patterns(held: Holdings, taught: bool) -> None:
    from optimizer import text
    from optimizer.cli.table import show_table, show_text

    u = held.units
    show_table(
        ("pattern", "discs", "mean load", "+-", "free height", "pressed", "odds", "best"),
        [
            (
                p.pattern,
                str(p.discs),
                text.load(p.load_n, u),
                text.load(p.sd_n, u).split()[0],
                text.length(p.free_height_mm, u),
                f"{p.share:.2f} h",
                text.share(p.odds),
                text.share(p.best_odds),
            )
            for p in held.patterns[:MOST_PATTERNS]
        ],
        f"Patterns that chosen discs may bring to {text.load(held.target_load_n, u)} "
        f"+- {text.load(held.load_tolerance_n, u)}; mean load is that of average discs, before "
        "choosing; "
        f"odds that the true spread of a matched set is within "
        f"{text.load(held.spread_tolerance_n, u)}, with average discs and, at best, "
        "with the least doubtful ones",
    )
    if len(held.patterns) > MOST_PATTERNS:
        show_text(f"{len(held.patterns) - MOST_PATTERNS} more patterns: see --json.")
    show_text(
        "The odds are those of stacks built anew, with discs and load factor as the bench "
        "taught them and assumed scatter."
        if taught
        else "The odds are before any reading: they rest on the instrument's word and on "
        "assumed scatter."
    )
