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
    from optimizer.clutch.shoes import shoes_of
    from optimizer.clutch.wear import LINING_SHARE_PER_MM
    from optimizer.errors import InputError
    from optimizer.hookup.loads import given_loads, read_loads
    from optimizer.hookup.now import engagement, remarks, today
    from optimizer.io.known_file import known_path
    from optimizer.match.workspace import keep_speed, open_job
    from optimizer.model.knowledge import Speed
    from optimizer.report.hookup_card import engagement_card
    from optimizer.report.hookup_json import engagement_json
    from optimizer.report.pictures import picture, torque_picture

    if loads is not None and readings is not None:
        raise InputError("Expected --loads or --readings, got both. Leave one away.")
    check_plot(plot)
    work = open_job(job, fresh)
    shoes_of(work.job)  # says what lacks before anything is worked out
    now = today(work, plan, number)
    source, load_n, sd_n = "the job's target loads", work.task.target_n, None
    if now is not None:
        source, load_n, sd_n = now.source, now.load_n, now.sd_n
    stacks = None if now is None else now.stacks
    more: tuple[str, ...] = ()
    if loads is not None:
        source = "the loads given"
        load_n, sd_n = given_loads(loads, work.job)
    if readings is not None:
        source = str(readings)
        load_n, sd_n, more = read_loads(readings, work.job, work.task, stacks)
    if rpm_seen is not None:
        if now is None and loads is None and readings is None:
            raise InputError(
                "Expected the loads with which --rpm-seen was seen, found none. Add --plan, "
                "--loads or --readings."
            )
        work = keep_speed(work, Speed(rpm_seen, tuple(load_n.tolist())), fresh)
        warn(f"The speed is kept in {known_path(work.job)}; the other commands go by it.")
    warnings = work.warnings + remarks(work.job, lining_g_per_mm is None) + more
    mass_g = shoes_of(work.job).mass_g
    lost = mass_g * LINING_SHARE_PER_MM if lining_g_per_mm is None else lining_g_per_mm + 0 * mass_g
    found = engagement(work.task, work.job, source, load_n, sd_n, stacks, lost)
    units = work.job.units
    if plot is not None:
        if found.torque is None:
            raise InputError(
                "No torque to draw: add drum_radius_mm (or drum_radius_in) and friction under "
                "[clutch]."
            )
        write_plot(plot, picture(torque_picture(found.torque, units), plot))
    say(engagement_json(found, warnings) if json else engagement_card(found, units, warnings))
