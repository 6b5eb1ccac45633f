"""`evenstack retarget`: from today's stacks to a later or earlier hookup."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import Fresh, JobFile, Json, Plot, Seed, TimeLimit, Why


def retarget(
    job: JobFile,
    plan: Annotated[
        Path | None,
        typer.Option(help="The plan of today's stacks; else what the bench left standing."),
    ] = None,
    later: Annotated[
        float | None, typer.Option(help="Later by so many rpm than today; negative is earlier.")
    ] = None,
    engage: Annotated[
        float | None, typer.Option(help="The new engagement speed in rpm.", min=50, max=50_000)
    ] = None,
    load_now: Annotated[
        str | None, typer.Option(help="Load measured on today's stacks, in the job's units.")
    ] = None,
    rpm_now: Annotated[
        float | None,
        typer.Option(help="Engagement speed seen with today's stacks.", min=50, max=50_000),
    ] = None,
    catalog: Annotated[
        Path | None, typer.Option(help="Catalog of discs that are sold: names what to buy.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="New folder for a plan and sheet of the way chosen.")
    ] = None,
    way: Annotated[int, typer.Option(help="The way to write, by its number.", min=1)] = 1,
    number: Annotated[int, typer.Option("--set", help="Which set of the plan.", min=1)] = 1,
    fresh: Fresh = False,
    seed: Seed = 0,
    time_limit: TimeLimit = None,
    why: Why = False,
    plot: Plot = None,
    json: Json = False,
) -> None:
    """Find ways from today's stacks to a new engagement speed, with what is on hand."""
    from optimizer.cli.chosen_way import write_way
    from optimizer.cli.output import check_plot, progress, say, warn, write_plot
    from optimizer.control import Limits, keep_best_on_interrupt
    from optimizer.errors import InputError
    from optimizer.face.sources import open_job
    from optimizer.face.speeds import retarget as find
    from optimizer.hookup.loads import parse_load
    from optimizer.report.pictures import picture
    from optimizer.report.speed_pictures import retarget_picture

    if (later is None) == (engage is None):
        raise InputError("Expected either --later RPM or --engage RPM. Give exactly one of them.")
    check_plot(plot)
    work = open_job(job, fresh=fresh)
    load_now_n = None if load_now is None else parse_load(load_now, work.job, "--load-now")
    limits = Limits.of(time_limit)
    with keep_best_on_interrupt(limits), progress("retarget") as report:
        found = find(
            work, later, engage, plan, number, load_now_n, rpm_now, False, seed, limits, report,
            catalog,
        )  # fmt: skip
    if plot is not None:
        write_plot(plot, picture(retarget_picture(found.found), plot))
    if out is not None:
        names = write_way(found, way, out)
        warn(f"Wrote {', '.join(names)} of way {way} into {out}.")
    say(found.document() if json else found.text(why))
    if limits.stopped:
        warn("Interrupted: not every way was tried.")
        raise typer.Exit(130)
