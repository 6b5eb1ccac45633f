"""`evenstack engage`: at which speed the shoes take hold, and what wear does to it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import Fresh, JobFile, Json, Plot


def engage(
    job: JobFile,
    plan: Annotated[
        Path | None,
        typer.Option(help="The plan whose stacks these are; else what the bench left standing."),
    ] = None,
    loads: Annotated[
        str | None,
        typer.Option(help='Loads at the travel, shoe by shoe, in the job\'s units: "198,201,205".'),
    ] = None,
    readings: Annotated[
        Path | None, typer.Option(help="Readings file: the last settled reading of each shoe.")
    ] = None,
    lining_g_per_mm: Annotated[
        float | None,
        typer.Option(
            help="Mass in g a shoe loses per mm of lining; assumed 1.2 % of the shoe.", min=0.0
        ),
    ] = None,
    rpm_seen: Annotated[
        float | None,
        typer.Option(
            help="Engagement speed seen with these stacks; kept with what the bench taught.",
            min=50,
            max=50_000,
        ),
    ] = None,
    number: Annotated[int, typer.Option("--set", help="Which set of the plan.", min=1)] = 1,
    fresh: Fresh = False,
    plot: Plot = None,
    json: Json = False,
) -> None:
    """Show engagement speeds, hookup band, torque against speed, and drift with wear."""
    from optimizer.cli.output import check_plot, say, warn, write_plot
    from optimizer.face.sources import open_job
    from optimizer.face.speeds import engagement
    from optimizer.hookup.loads import parse_load
    from optimizer.io.known_file import known_path
    from optimizer.report.pictures import picture
    from optimizer.report.speed_pictures import engagement_picture

    check_plot(plot)
    work = open_job(job, fresh=fresh)
    loads_n = None
    if loads is not None:
        words = loads.replace(";", ",").split(",")
        loads_n = [parse_load(word, work.job, "--loads") for word in words]
    found = engagement(work, plan, number, fresh, lining_g_per_mm, loads_n, readings, rpm_seen)
    if rpm_seen is not None:
        warn(f"The speed is kept in {known_path(work.job)}; the other commands go by it.")
    if plot is not None:
        write_plot(plot, picture(engagement_picture(found.engagement, work.job.units), plot))
    say(found.document() if json else found.summary())
