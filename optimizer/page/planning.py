"""Ways to a truly matched set: which takes the fewest minutes from here."""

from __future__ import annotations

from optimizer.page.answers import kept_answer
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route, stopping
from optimizer.page.house import rests_on
from optimizer.page.works import named

#: benches that every way is played on at most: somebody waits with a phone in the hand
DRAWS = 12
#: columns of the table of ways that a phone has room for, and what they are headed there
SHOWN = {"way": "way", "minutes": "min", "9 in 10": "9 in 10", "chance": "chance"}


def ways_page(asked: PageRequest) -> Answer:
    """Show the ways by their minutes, as far as they were compared."""
    clutch = asked.clutch
    run = asked.house.works.of(named(clutch.name, "ways"))
    kept = kept_answer(clutch.job, "ways")
    blocks = kept.answer if kept else []
    context = {
        **frame(asked.house, clutch),
        "step": "match",
        "run": run,
        "blocks": [one if isinstance(one, str) else _narrow(one) for one in blocks],
        "old": kept is not None and kept.rests_on != rests_on(clutch),
    }
    return Page("ways", context)


def _narrow(table: list[list[str]]) -> list[list[str]]:
    """Return the columns of a table that are shown."""
    kept = [at for at, head in enumerate(table[0]) if head in SHOWN]
    head = [SHOWN[table[0][at]] for at in kept]
    return [head, *([row[at] for at in kept] for row in table[1:])]


def start(asked: PageRequest) -> Answer:
    """Begin to play the ways."""
    clutch = asked.clutch
    words = ("ways", str(clutch.job), str(DRAWS), rests_on(clutch))
    asked.house.works.start(named(clutch.name, "ways"), words)
    return Go(f"{clutch.url}/ways")


ROUTES = [
    route("/c/{clutch}/ways", ways_page),
    route("/c/{clutch}/ways/start", start, writes=True),
    route("/c/{clutch}/ways/stop", stopping("ways", "ways"), writes=True),
]
