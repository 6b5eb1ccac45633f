"""What the bag could become with the job as it is: said at once beside the form."""

from __future__ import annotations

from optimizer import text
from optimizer.errors import EvenstackError
from optimizer.match.outlook import outlooks
from optimizer.match.packets import columns
from optimizer.match.workspace import open_job
from optimizer.page.folder import Clutch

#: patterns that are named
MOST_NAMED = 3


def outlook_words(clutch: Clutch) -> tuple[str, ...]:
    """Say how many patterns reach the target with what is in the bag, and the likeliest."""
    try:
        work = open_job(clutch.job)
        found = outlooks(work.task, columns(work.task), work.job.target.spread_tolerance_n)
    except EvenstackError:
        return ()
    if not found:
        return ("No pattern of the discs in the bag reaches the target.",)
    count = "1 pattern" if len(found) == 1 else f"{len(found)} patterns"
    return (
        f"{count} of the discs in the bag may reach the target. Likeliest to match:",
        *(f"{o.pattern}: {text.share(o.odds)} chance" for o in found[:MOST_NAMED]),
    )
