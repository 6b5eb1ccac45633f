"""`evenstack load`: what load a given stack gives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.options import Fresh, JobFile, Json, Plot

if TYPE_CHECKING:
    from optimizer.match.one_stack import OneStack


def load(
    job: JobFile,
    stack: Annotated[
        str,
        typer.Option(help='Discs bottom to top, + nests: "D01 D02+D03 D04".', show_default=False),
    ],
    shims: Annotated[
        str, typer.Option(help="Shims under it, in the job's length unit: 0.2,0.1.")
    ] = "",
    shoe: Annotated[int, typer.Option(help="The shoe it sits under.", min=1)] = 1,
    fresh: Fresh = False,
    as_measured: Annotated[
        bool,
        typer.Option(
            "--as-measured",
            help="Go by the very values of the bag, to check by hand; else each is drawn towards "
            "its lot's mean as far as the instrument's noise explains the differences.",
        ),
    ] = False,
    plot: Plot = None,
    json: Json = False,
) -> None:
    """Compute the load of one stack at rest, at the travel and worn, disc by disc."""
    from optimizer.cli.output import check_plot, say, write_plot
    from optimizer.face.curves import load_curve
    from optimizer.face.sources import open_job
    from optimizer.report.pictures import picture, stack_picture

    check_plot(plot)
    work = open_job(job, fresh=fresh or as_measured)
    found = load_curve(work, stack, _lengths(shims, work.job.units), shoe, as_measured=as_measured)
    if plot is not None:
        write_plot(plot, picture(stack_picture(found.stack, work.job), plot))
    if json:
        say(found.document())
    else:
        say(found.summary() + "\n")
        _show(found.stack)


def _lengths(written: str, units: str) -> tuple[float, ...]:
    from optimizer.errors import InputError
    from optimizer.units import TO_INSIDE

    try:
        values = tuple(float(word) for word in written.replace(",", " ").split())
    except ValueError:
        values = (-1.0,)
    if not all(0 < value < 50 for value in values):
        raise InputError(f'Expected lengths > 0, got "{written}".', "--shims", "Such as 0.2,0.1.")
    return tuple(value * TO_INSIDE[units] for value in values)


def _show(one: OneStack) -> None:
    from optimizer import text
    from optimizer.cli.table import show_table, show_text

    u = one.units
    show_table(
        ("travel", "load"),
        [(text.length(travel, u), text.load(force, u)) for travel, force in one.table],
    )
    show_table(
        ("disc", "packet", "rest", "deflection", "work", "worn", "load", "most tension"),
        [
            (
                d.disc,
                str(d.packet),
                f"{d.rest.deflection_share:.2f} h",
                text.length(d.deflection_mm, u),
                f"{d.deflection_share:.2f} h",
                f"{d.worn.deflection_share:.2f} h",
                text.load(d.load_n, u),
                text.stress(max(d.stress_ii_mpa, d.stress_iii_mpa), u),
            )
            for d in one.discs
        ],
        "Discs; deflection, load and stress (EN 16984) at the travel, more with --json",
    )
    for warning in one.warnings:
        show_text(f"Mind: {warning}")
