"""Ways to a truly matched set: which takes the fewest minutes from here."""

from __future__ import annotations

import json
from collections.abc import Hashable

from optimizer.face.sources import read_job
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route
from optimizer.page.folder import ClutchFolder, known_file
from optimizer.page.house import version
from optimizer.page.works import names

#: benches that every way is played on at most: somebody waits with a phone in the hand
DRAWS = 12
#: columns of the table of ways that a phone has room for
SHOWN = ("way", "minutes", "9 in 10", "chance")


def ways_page(asked: PageRequest) -> Answer:
    """Show the ways by their minutes, as far as they were compared."""
    clutch = asked.clutch
    run = asked.house.works.of(names(clutch.name)[3])
    told = run is not None and run.ended
    blocks = json.loads(run.answer) if run and told and run.answer else []
    context = {
        **frame(asked.house, clutch),
        "step": "match",
        "run": run,
        "blocks": [one if isinstance(one, str) else _narrow(one) for one in blocks],
        "old": bool(run and told and run.about != _about(clutch)),
    }
    return Page("ways", context)


def _narrow(table: list[list[str]]) -> list[list[str]]:
    """Return the columns of a table that are shown."""
    kept = [at for at, head in enumerate(table[0]) if head in SHOWN]
    return [[row[at] for at in kept] for row in table]


def _about(clutch: ClutchFolder) -> Hashable:
    """Return what a comparison rests on."""
    files = (clutch.job, read_job(clutch.job).bag_file, known_file(clutch.job))
    return tuple((path, version(path)) for path in files)


def start(asked: PageRequest) -> Answer:
    """Begin to play the ways."""
    clutch = asked.clutch
    words = ("ways", str(clutch.job), str(DRAWS))
    asked.house.works.start(names(clutch.name)[3], words, _about(clutch))
    return Go(f"{clutch.url}/ways")


def stop(asked: PageRequest) -> Answer:
    """End it with what was played so far."""
    asked.house.works.stop(names(asked.clutch.name)[3])
    return Go(f"{asked.clutch.url}/ways")


ROUTES = [
    route("/c/{clutch}/ways", ways_page),
    route("/c/{clutch}/ways/start", start, writes=True),
    route("/c/{clutch}/ways/stop", stop, writes=True),
]
