"""`evenstack inspect`: what the bag holds and what can be made of it."""

from __future__ import annotations

from optimizer.cli.options import Fresh, JobFile, Json, Plot


def inspect(job: JobFile, fresh: Fresh = False, plot: Plot = None, json: Json = False) -> None:
    """Show what a bag holds: each disc, odd ones, what patterns reach the target."""
    from optimizer.cli.output import check_plot, say, write_plot
    from optimizer.cli.table import show_blocks
    from optimizer.face.inspection import inspect as look
    from optimizer.report.holdings_card import holdings_blocks
    from optimizer.report.pictures import bag_picture, picture
    from optimizer.wrapping import wrapped

    check_plot(plot)
    found = look(job, fresh=fresh)
    if plot is not None:
        write_plot(plot, picture(bag_picture(found.work), plot))
    if json:
        say(found.document())
        return
    verdict, *blocks = holdings_blocks(found.held)
    if isinstance(verdict, str):
        say("\n".join(wrapped(verdict, hang="  ")))
    show_blocks(blocks)
