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
    plot: Plot = None,
    json: Json = False,
) -> None:
    """Compute the load of one stack at rest, at the travel and worn, disc by disc."""
    from dataclasses import asdict

    from optimizer.cli.output import check_plot, say, write_plot
    from optimizer.io.documents import document
    from optimizer.match.one_stack import one_stack, read_stack
    from optimizer.match.workspace import open_job
    from optimizer.report.pictures import picture, stack_picture

    check_plot(plot)
    work = open_job(job, fresh)
    units = work.job.units
    found = one_stack(work, read_stack(stack, work.belief.names), _lengths(shims, units), shoe)
    if plot is not None:
        write_plot(plot, picture(stack_picture(found, work.job), plot))
    if json:
        say(document({"schema": "evenstack.load/1", **asdict(found)}))
    else:
        _show(found)


def _lengths(written: str, units: str) -> tuple[float, ...]:
    from optimizer.errors import InputError, Problem
    from optimizer.units import TO_INSIDE

    try:
        values = tuple(float(word) for word in written.replace(",", " ").split())
    except ValueError:
        values = (-1.0,)
    if not all(0 < value < 50 for value in values):
        raise InputError(
            Problem(f'Expected lengths > 0, got "{written}".', "--shims", "Such as 0.2,0.1.")
        )
    return tuple(value * TO_INSIDE[units] for value in values)


def _show(one: OneStack) -> None:
    from optimizer import text
    from optimizer.cli.output import say
    from optimizer.cli.table import show_table, show_text

    u = one.units
    shims = " with shims " + ", ".join(text.length(s, u) for s in one.shims_mm)
    say(
        f"Shoe {one.shoe}: {' '.join(text.packet(p) for p in one.packets)}"
        f"{shims if one.shims_mm else ''}\n"
        f"free height {text.length(one.free_height_mm, u)}, at the travel "
        f"{text.load(one.working_load_n, u)} +- {text.load(one.working_load_sd_n, u)}, "
        f"rate {text.rate(one.rate_n_per_mm, u)}\n"
        f"at rest {text.load(one.rest_load_n, u)}, worn {text.load(one.worn_load_n, u)}\n"
    )
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
