"""`evenstack ways`: the fewest minutes from here to a truly matched set."""

from __future__ import annotations

from typing import Annotated

import typer

from optimizer.cli.options import Fresh, JobFile, Json, Plot, Seed, TimeLimit


def ways(
    job: JobFile,
    stop_at: Annotated[
        float, typer.Option(help="Chance at which the set is good enough.", min=0.5, max=0.999)
    ] = 0.9,
    draws: Annotated[
        int, typer.Option(help="Benches that every way is played on at most.", min=2, max=1000)
    ] = 24,
    workers: Annotated[
        int | None, typer.Option(help="Processes; all cores if none, same answer.", min=1)
    ] = None,
    fresh: Fresh = False,
    seed: Seed = 0,
    time_limit: TimeLimit = None,
    plot: Plot = None,
    json: Json = False,
) -> None:
    """Compare ways to a matched set by a person's minutes, before the work is done.

    Every way (match and swap as measured, measure again, press discs or groups of them first,
    dress) is played on benches drawn from what is believed of this very bag, with the rules that
    the bench command goes by. Minutes are those of [effort] in the job.
    """
    from optimizer.cli.output import check_plot, progress, say, write_plot
    from optimizer.cli.table import show_blocks
    from optimizer.control import INTERRUPTED, Limits, keep_best_on_interrupt
    from optimizer.face.planning import ways as compare
    from optimizer.report.pictures import picture
    from optimizer.report.ways_card import ways_blocks
    from optimizer.report.ways_picture import ways_picture

    check_plot(plot)
    limits = Limits.of(time_limit)
    with keep_best_on_interrupt(limits), progress("ways") as report:
        told = compare(
            job,
            stop_at=stop_at,
            draws=draws,
            seed=seed,
            fresh=fresh,
            limits=limits,
            report=report,
            workers=workers,
        )
    if plot is not None:
        write_plot(plot, picture(ways_picture(told.found), plot))
    if json:
        say(told.document())
    else:
        show_blocks(ways_blocks(told.found))
    if told.found.stopped == INTERRUPTED:
        raise typer.Exit(130)
