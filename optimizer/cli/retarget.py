"""`evenstack retarget`: from today's stacks to a later or earlier hookup."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import Fresh, JobFile, Json, Seed, TimeLimit


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
    number: Annotated[int, typer.Option("--set", help="Which set of the plan.", min=1)] = 1,
    fresh: Fresh = False,
    seed: Seed = 0,
    time_limit: TimeLimit = None,
    json: Json = False,
) -> None:
    """Find ways from today's stacks to a new engagement speed, with what is on hand."""
    from optimizer.cli.output import progress, say, warn
    from optimizer.control import Limits, keep_best_on_interrupt
    from optimizer.errors import InputError
    from optimizer.hookup.loads import parse_load
    from optimizer.hookup.now import today
    from optimizer.hookup.retarget import retarget as search
    from optimizer.hookup.start import start
    from optimizer.match.workspace import open_job
    from optimizer.report.hookup_card import retarget_card
    from optimizer.report.hookup_json import retarget_json

    if (later is None) == (engage is None):
        raise InputError("Expected either --later RPM or --engage RPM. Give exactly one of them.")
    work = open_job(job, fresh)
    measured = None if load_now is None else parse_load(load_now, work.job, "--load-now")
    seen = None if work.known is None else work.known.speed
    task, now = start(work.task, work.job, today(work, plan, number), measured, rpm_now, seen)
    target = engage if engage is not None else now.hookup.mean_rpm + (later or 0.0)
    if not 50 <= target <= 50_000:
        raise InputError(
            f"Expected an engagement speed from 50 to 50000 rpm, got {target:.6g}: today's is "
            f"{now.hookup.mean_rpm:.0f} rpm. Correct --later."
        )
    limits = Limits.of(time_limit)
    spread = work.job.target.spread_tolerance_n
    with keep_best_on_interrupt(limits), progress("retarget") as report:
        found = search(task, spread, now, target, work.job.units, limits, seed, report)
    units, notes = work.job.units, work.warnings
    say(retarget_json(found, notes) if json else retarget_card(found, units, notes))
    if limits.stopped:
        warn("Interrupted: not every way was tried.")
        raise typer.Exit(130)
