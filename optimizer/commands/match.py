"""`evenstack match`: which discs go under which shoe."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def match(
    job: Annotated[Path, typer.Argument(help="The job file (TOML).")],
    json: Annotated[bool, typer.Option("--json", help="One JSON document to stdout.")] = False,
    out: Annotated[
        Path | None, typer.Option(help="Folder for plan.json and the card; made if missing.")
    ] = None,
    seed: Annotated[int, typer.Option(help="Same seed, same answer.", min=0)] = 0,
    time_limit: Annotated[
        float, typer.Option(help="Seconds after which the best so far is given.", min=0.1)
    ] = 60.0,
) -> None:
    """Assign the discs of a bag to the stacks of a clutch so that all shoes push alike."""
    from dataclasses import replace
    from time import monotonic

    from optimizer.assignment.limits import Limits, keep_best_on_interrupt
    from optimizer.assignment.solver import match as solve
    from optimizer.commands.output import progress, say, warn
    from optimizer.files import write_all_new
    from optimizer.plan.build import plan as write_plan
    from optimizer.plan.card import card
    from optimizer.plan.store import to_json
    from optimizer.plan.workspace import open_job

    started = monotonic()
    work = open_job(job)
    limits = Limits(time_limit)
    with keep_best_on_interrupt(limits), progress("match") as report:
        matched = solve(work.task, limits, seed, report)
    plan = write_plan(
        work.job, work.task, (matched,), work.bag.warnings, seed, monotonic() - started
    )
    text = card(plan, work.job)
    if out is not None:
        write_all_new(
            {out / "plan.json": to_json(replace(plan, solve_seconds=None)), out / "card.txt": text}
        )
        warn(f"Wrote {out / 'plan.json'} and {out / 'card.txt'}.")
    say(to_json(plan) if json else text)
