"""What the bag could become with the job as it is: said at once beside the form."""

from __future__ import annotations

from optimizer import text
from optimizer.errors import EvenstackError
from optimizer.face.sources import open_job, read_job
from optimizer.io.known_file import known_path
from optimizer.match.infeasibility import missing
from optimizer.match.outlook import outlooks
from optimizer.page.folder import ClutchFolder
from optimizer.page.house import House, version

#: patterns that are named, and discs of a bag beyond which this is not said at once
MOST_NAMED, MOST_DISCS = 3, 150


def outlook_words(house: House, clutch: ClutchFolder) -> tuple[str, ...]:
    """Say how many patterns reach the target with what is in the bag, and the likeliest."""
    try:
        job = read_job(clutch.job)
        files = (clutch.job, job.bag_file, known_path(job))
        key = ("outlook", *((path, version(path)) for path in files))
        return house.once(key, lambda: _words(clutch))
    except (EvenstackError, OSError):
        return ()


def _words(clutch: ClutchFolder) -> tuple[str, ...]:
    work = open_job(clutch.job)
    if len(work.bag.discs) > MOST_DISCS:
        return ()
    found = outlooks(work.task, work.job.target.spread_tolerance_n)
    if not found:
        few = tuple(missing(work.task))
        return few or ("No pattern of the discs in the bag reaches the target.",)
    count = "1 pattern" if len(found) == 1 else f"{len(found)} patterns"
    return (
        f"{count} of the discs in the bag may reach the target. Likeliest to match:",
        *(f"{o.pattern}: {text.percent(o.chance)} chance" for o in found[:MOST_NAMED]),
    )
