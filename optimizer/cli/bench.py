"""`evenstack bench`: learn from the gauge until the stacks agree."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.options import (
    RPM_SD,
    Fresh,
    JobFile,
    Json,
    RpmHold,
    RpmSd,
    RpmSeen,
    Seed,
    TimeLimit,
    Why,
)

if TYPE_CHECKING:
    from optimizer.bench.step import Step
    from optimizer.model.readings import Reading

#: files of the folder given with --out
WRITTEN = ("plan.json", "sheet.html", "readings.csv")


def bench(
    job: JobFile,
    plan: Annotated[Path, typer.Option(help="The plan that stands on the bench.")],
    readings: Annotated[
        Path | None,
        typer.Option(help="Readings so far; without it each is asked for on the terminal."),
    ] = None,
    stop_at: Annotated[
        float, typer.Option(help="Chance at which the set is good enough.", min=0.5, max=0.999)
    ] = 0.9,
    groups: Annotated[
        int,
        typer.Option(
            help="Gauge sub-stacks of so many discs, which then stay together.", min=0, max=9
        ),
    ] = 0,
    move: Annotated[
        int | None, typer.Option(help="Take the move of this number instead of the first.", min=1)
    ] = None,
    number: Annotated[int, typer.Option("--set", help="Which set of the plan.", min=1)] = 1,
    out: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the next plan, sheet and readings; FOLDER-2 ... where it is there."
        ),
    ] = None,
    why: Why = False,
    rpm_seen: RpmSeen = None,
    rpm_hold: RpmHold = None,
    rpm_sd: RpmSd = RPM_SD,
    fresh: Fresh = False,
    seed: Seed = 0,
    time_limit: TimeLimit = None,
    json: Json = False,
) -> None:
    """Learn from gauge readings, say how likely the loads truly agree, and what to do next.

    What the readings teach is kept beside the job, and every other command goes by it.

    A reading is judged before it counts: beyond 4 standard deviations from what measurements and
    earlier readings lead to expect (2 % of the load are allowed for what nobody foresaw), or
    settled above the first push, it is asked about; in a file it is named and left out until ok
    stands in its row in the column count. There no makes a row void.
    """
    from optimizer.bench.keeping import readings_of
    from optimizer.bench.session import open_session
    from optimizer.cli.output import progress, say, warn
    from optimizer.cli.taking import Taking
    from optimizer.cli.talk import converse
    from optimizer.control import INTERRUPTED, Limits, keep_best_on_interrupt
    from optimizer.errors import InputError
    from optimizer.estimate.words import left_out_words
    from optimizer.face.benching import BenchResult
    from optimizer.face.speeds import engagement
    from optimizer.io.documents import document
    from optimizer.io.files import check_new, free_folder, write_all_new
    from optimizer.report.bench_card import groups_text
    from optimizer.report.bench_json import groups_json
    from optimizer.wrapping import hung

    if out is not None:
        check_new(free_folder(out) / name for name in WRITTEN)
    session = open_session(job, plan, readings, number, groups, stop_at, seed, fresh)
    units = session.work.job.units
    if readings is None and json:
        if not groups:
            raise InputError("Expected --readings FILE with --json: nothing can be asked then.")
        say(document(groups_json(*session.groups())))
        return

    def work_out(rows: tuple[Reading, ...]) -> Step:
        limits = Limits.of(time_limit)
        with keep_best_on_interrupt(limits), progress("bench") as report:
            return session.advise(rows, limits, report)

    taking = Taking(session, plan, number, work_out)

    def show(done: Step) -> None:
        session.keep(done)
        found = BenchResult(session, readings_of(session), done)
        if json:
            say(found.document())
        else:
            say(found.text(why))
        if out is not None:
            folder = free_folder(out)
            write_all_new(found.files(folder))
            warn(f"Wrote {', '.join(WRITTEN)} into {folder}.")
        if done.next.stopped == INTERRUPTED and readings is None:
            raise KeyboardInterrupt  # the user's wish to end the talk

    if readings is None:
        if groups:
            say(groups_text(*session.groups(), units))
        done = converse(taking, show, move)
    else:
        read = session.read()
        done = taking.advise(read.rows)
        if move is not None:
            done = taking.take(move)
        if not json:
            for line in read.warnings:
                warn(line)
            for doubt in read.doubts:
                say(hung([left_out_words(doubt, readings.name, units)]))
        show(done)
    if done is None:
        return
    warn(f"What was learned is kept in {session.kept}; the other commands go by it.")
    if rpm_seen is not None or rpm_hold is not None:
        engagement(job, rpm_seen=rpm_seen, rpm_hold=rpm_hold, rpm_sd=rpm_sd)
        warn("The speeds seen are kept with it, for the stacks that stand.")
    if done.next.stopped == INTERRUPTED:
        raise typer.Exit(130)
