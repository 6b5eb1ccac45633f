"""`evenstack engage`: at which speed the shoes take hold, and what wear does to it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import RPM_SD, Fresh, JobFile, Json, Plot, RpmHold, RpmSd, RpmSeen, Why


def engage(
    job: JobFile,
    setups: Annotated[
        list[Path] | None,
        typer.Argument(help="With --compare: two to four plans of this job, or other job files."),
    ] = None,
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
    rpm_seen: RpmSeen = None,
    rpm_hold: RpmHold = None,
    rpm_sd: RpmSd = RPM_SD,
    compare: Annotated[
        bool, typer.Option("--compare", help="Compare the starts of the setups named.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option(help="New folder for card, document and pictures.")
    ] = None,
    number: Annotated[int, typer.Option("--set", help="Which set of the plan.", min=1)] = 1,
    fresh: Fresh = False,
    why: Why = False,
    plot: Plot = None,
    json: Json = False,
) -> None:
    """Show engagement speeds, hookup band, torque against speed, and drift with wear.

    With an [engine] in the job also where the clutch holds full throttle, and what a start does.
    """
    from optimizer.cli.output import check_plot, say, warn, write_plot
    from optimizer.errors import InputError
    from optimizer.face.comparing import CompareResult
    from optimizer.face.comparing import compare as compare_setups
    from optimizer.face.sources import open_job
    from optimizer.face.speeds import EngagementResult, engagement
    from optimizer.hookup.loads import parse_load
    from optimizer.io.known_file import known_path

    check_plot(plot)
    work = open_job(job, fresh=fresh)
    if setups and not compare:
        raise InputError(
            f"Expected --plan or --compare with {setups[0]}, got neither.",
            "",
            "Write --plan for the speeds of one, --compare to set several side by side.",
        )
    if compare:
        if plan or loads or readings or rpm_seen or rpm_hold or number != 1:
            raise InputError(
                "Expected either --compare with setups, or one clutch with --plan, --loads or "
                "--readings, got both. Give one of them."
            )
        found: CompareResult | EngagementResult = compare_setups(work, setups or [], fresh)
    else:
        loads_n = None
        if loads is not None:
            words = loads.replace(";", ",").split(",")
            loads_n = [parse_load(word, work.job, "--loads") for word in words]
        found = engagement(
            work, plan, number, fresh, lining_g_per_mm, loads_n, readings, rpm_seen, rpm_hold,
            rpm_sd,
        )  # fmt: skip
    if rpm_seen is not None or rpm_hold is not None:
        warn(f"The speed is kept in {known_path(work.job)}; the other commands go by it.")
    if plot is not None:
        write_plot(plot, found.drawn(plot))
    if out is not None:
        warn(f"Wrote {', '.join(path.name for path in found.save(out))} into {out}.")
    say(found.document() if json else found.text(why))
