"""`evenstack match`: which discs go under which shoe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import Fresh, Json, Seed, TimeLimit, Why
from optimizer.errors import InputError


def match(
    jobs: Annotated[
        list[Path], typer.Argument(help="The job file (TOML); more jobs share one bag.")
    ],
    json: Json = False,
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for plan.json, card and sheet; a new match-1 ... beside the job. Of "
            "several jobs each has a folder in it."
        ),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(help="Write the build sheet (HTML) to this file.")
    ] = None,
    xlsx: Annotated[Path | None, typer.Option(help="Write a workbook to this file.")] = None,
    plot: Annotated[
        Path | None,
        typer.Option(help="Of a lot: draw sets against spread to this file, .svg or .png."),
    ] = None,
    why: Why = False,
    fresh: Fresh = False,
    seed: Seed = 0,
    time_limit: TimeLimit = None,
    sets: Annotated[
        list[str] | None,
        typer.Option(
            help="Sets to make of a lot: a number, or max for all it admits; 1 if not given. "
            "Repeat it to give each job its own."
        ),
    ] = None,
    built: Annotated[
        list[Path] | None,
        typer.Option(
            help="plan.json of sets of this lot that stand: the rest is dealt anew. Repeat it for "
            "more plans."
        ),
    ] = None,
    built_sets: Annotated[
        list[int] | None,
        typer.Option(
            help="How many sets of each such plan stand, from the first; all if not given.", min=0
        ),
    ] = None,
    lost: Annotated[
        str, typer.Option(help="Discs that are lost or spoiled, with commas between.")
    ] = "",
) -> None:
    """Assign the discs of a bag to the stacks of a clutch so that all shoes push alike."""
    from datetime import date

    from optimizer import wrapping
    from optimizer.cli.output import check_plot, progress, say, warn
    from optimizer.control import Limits, keep_best_on_interrupt
    from optimizer.face.matching import fewer_words
    from optimizer.face.matching import match as find
    from optimizer.face.sharing import match_jobs
    from optimizer.io.documents import document
    from optimizer.io.files import check_new, write_all_new
    from optimizer.match.mid_work import mid_work
    from optimizer.report.page import sheet_files
    from optimizer.report.plan_card import next_steps
    from optimizer.report.trade import drawn
    from optimizer.report.workbook import workbook

    wanted = _numbers(sets or ["1"], len(jobs))
    _check_one(jobs, wanted, sheet, xlsx, plot)
    check_plot(plot)
    standing = None
    if built or lost:
        standing = mid_work(built or [], built_sets or [], lost.split(","))
    files_wanted = not json and sheet is None and xlsx is None
    outs = _folders(jobs, out) if out is not None or files_wanted else [None] * len(jobs)
    targets = [o / name for o in outs if o for name in ("plan.json", "card.txt", "sheet.html")]
    check_new([*targets, *(path for path in (sheet, xlsx) if path is not None)])
    limits = Limits.of(time_limit)
    with keep_best_on_interrupt(limits), progress("match") as report:
        every = (
            match_jobs(jobs, wanted, seed, fresh, limits, report, standing)
            if len(jobs) > 1
            else (find(jobs[0], None, wanted[0], seed, None, fresh, limits, report, standing),)
        )
    files: dict[Path, str | bytes] = {}
    words = []
    for job, folder, found in zip(jobs, outs, every, strict=True):
        steps = next_steps(found.plan, found.work.job, job, folder and folder / "plan.json")
        if folder is not None:
            with wrapping.columns(wrapping.FULL):
                files |= found.files(folder)
                kept = next_steps(found.plan, found.work.job, job, folder / "plan.json")
            files[folder / "card.txt"] = f"{files[folder / 'card.txt']!s}{kept}"
        head = f"{job}\n\n" if len(jobs) > 1 else ""
        words.append(head + found.text(why) + steps)
    if sheet is not None:
        files |= sheet_files(sheet, every[0].plan, every[0].work, date.today())
    if xlsx is not None:
        files[xlsx] = workbook(every[0].plan, every[0].work, date.today())
    if plot is not None:
        files[plot] = drawn(every[0].plan, plot)
    write_all_new(files)
    if files:
        warn(f"Wrote {', '.join(str(path) for path in files)}.")
    for job, asked, found in zip(jobs, wanted, every, strict=True):
        if fewer := fewer_words(asked, len(found.plan.sets)):
            warn(f"{job}: {fewer}")
    if json:
        plans = [asdict(found.plan) for found in every]
        many = {"schema": "evenstack.plans/1", "plans": plans}
        say(every[0].document() if len(jobs) == 1 else document(many))
    else:
        say("\n".join(words))
    if limits.stopped:
        warn("Interrupted: this is the best so far.")
        raise typer.Exit(130)


def _folders(jobs: Sequence[Path], out: Path | None) -> Sequence[Path | None]:
    """Name a folder for every job: `out` or in it, else a new one beside the job."""
    from optimizer.io.files import new_folder

    if len(jobs) == 1:
        return [out or new_folder(jobs[0], "match")]
    names = [job.stem if job.stem != "job" else job.resolve().parent.name for job in jobs]
    names = [f"{n}-{names[:k].count(n) + 1}" if n in names[:k] else n for k, n in enumerate(names)]
    if out is not None:
        return [out / name for name in names]
    beside = {job.resolve().parent for job in jobs}
    if len(beside) == len(jobs):
        return [new_folder(job, "match") for job in jobs]
    return [new_folder(job, f"match-{name}") for job, name in zip(jobs, names, strict=True)]


def _check_one(
    jobs: Sequence[Path],
    sets: Sequence[int | None],
    sheet: Path | None,
    xlsx: Path | None,
    plot: Path | None,
) -> None:
    """Refuse one file for several plans, a name that hides what is in it, a plot of one set."""
    if len(jobs) > 1 and (sheet or xlsx or plot):
        raise InputError(
            f"Expected one job with a single sheet, workbook or picture, got {len(jobs)}.",
            "--sheet, --xlsx, --plot",
            "Give --out FOLDER: each job has its sheet in a folder there.",
        )
    for option, path, ending in (("--sheet", sheet, ".html"), ("--xlsx", xlsx, ".xlsx")):
        if path is not None and path.suffix.lower() != ending:
            raise InputError(
                f"Expected a file ending in {ending}, got {path.name}.",
                option,
                f"Name it {path.with_suffix(ending).name}.",
            )
    if plot is not None and sets[0] == 1:
        raise InputError(
            "Expected several sets to draw against their spread, got one.",
            "--plot",
            "Write --sets max, or another number; `engage --plot` draws one set.",
        )


def _numbers(sets: Sequence[str], jobs: int) -> list[int | None]:
    """Return the sets asked for of each job, None for as many as there are."""
    if len(sets) not in (1, jobs):
        raise InputError(
            f"Expected --sets once, or once for each of {jobs} jobs, got it {len(sets)} times.",
            "--sets",
            "Give the sets in the order of the jobs.",
        )
    return [_number(one) for one in (sets if len(sets) == jobs else [*sets] * jobs)]


def _number(sets: str) -> int | None:
    """Return the number of sets asked for, None for as many as there are."""
    if sets.strip().lower() == "max":
        return None
    if not sets.strip().isdecimal() or int(sets) < 1:
        raise InputError(
            f"Expected a number of sets > 0 or max, got {sets}.",
            "--sets",
            "Write --sets 4, or --sets max for all that the lot admits.",
        )
    return int(sets)
