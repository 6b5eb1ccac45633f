"""`evenstack match`: which discs go under which shoe."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import Fresh, JobFile, Json, Seed, TimeLimit, Why


def match(
    job: JobFile,
    json: Json = False,
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for plan.json, card and sheet; a new match-1 ... beside the job."
        ),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Write the build sheet (HTML) to this file.")
    ] = None,
    xlsx: Annotated[Path | None, typer.Option(help="Write a workbook to this file.")] = None,
    why: Why = False,
    fresh: Fresh = False,
    seed: Seed = 0,
    time_limit: TimeLimit = None,
    sets: Annotated[
        str, typer.Option(help="Sets to make of a lot: a number, or max for all it admits.")
    ] = "1",
    built: Annotated[
        Path | None,
        typer.Option(help="plan.json of sets of this lot that stand: the rest is dealt anew."),
    ] = None,
    built_sets: Annotated[
        int | None,
        typer.Option(help="How many of its sets stand, from the first; all if not given.", min=0),
    ] = None,
    lost: Annotated[
        str, typer.Option(help="Discs that are lost or spoiled, with commas between.")
    ] = "",
) -> None:
    """Assign the discs of a bag to the stacks of a clutch so that all shoes push alike."""
    from datetime import date

    from optimizer import wrapping
    from optimizer.cli.output import progress, say, warn
    from optimizer.control import Limits, keep_best_on_interrupt
    from optimizer.face.matching import match as find
    from optimizer.io.documents import to_json
    from optimizer.io.files import check_new, new_folder, write_all_new
    from optimizer.match.mid_work import mid_work
    from optimizer.report.page import sheet_files
    from optimizer.report.plan_card import next_steps
    from optimizer.report.workbook import workbook

    wanted = _number(sets)
    standing = None
    if built is not None or lost:
        standing = mid_work(built, built_sets, lost.split(","))
    if out is None and not json and sheet is None and xlsx is None:
        out = new_folder(job, "match")
    targets = [out / name for name in ("plan.json", "card.txt", "sheet.html")] if out else []
    check_new([*targets, *(path for path in (sheet, xlsx) if path is not None)])
    limits = Limits.of(time_limit)
    with keep_best_on_interrupt(limits), progress("match") as report:
        found = find(job, None, wanted, seed, None, fresh, limits, report, standing)
    plan, work = found.plan, found.work
    plan_file = out and out / "plan.json"
    files: dict[Path, str | bytes] = {}
    if out is not None:
        with wrapping.columns(wrapping.FULL):
            files |= found.files(out)
            steps = next_steps(plan, work.job, job, plan_file)
        files[out / "card.txt"] = f"{files[out / 'card.txt']!s}{steps}"
    if sheet is not None:
        files |= sheet_files(sheet, plan, work, date.today())
    if xlsx is not None:
        files[xlsx] = workbook(plan, work, date.today())
    write_all_new(files)
    if files:
        warn(f"Wrote {', '.join(str(path) for path in files)}.")
    if json:
        say(to_json(plan))
    else:
        say(found.told(why) + next_steps(plan, work.job, job, plan_file))
    if limits.stopped:
        warn("Interrupted: this is the best so far.")
        raise typer.Exit(130)


def _number(sets: str) -> int | None:
    """Return the number of sets asked for, None for as many as there are."""
    from optimizer.errors import InputError, Problem

    if sets.strip().lower() == "max":
        return None
    if not sets.strip().isdecimal() or int(sets) < 1:
        raise InputError(
            Problem(
                f"Expected a number of sets > 0 or max, got {sets}.",
                "--sets",
                "Write --sets 4, or --sets max for all that the lot admits.",
            )
        )
    return int(sets)
