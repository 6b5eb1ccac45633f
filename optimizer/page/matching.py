"""Matching as long work: started, followed and stopped from any device."""

from __future__ import annotations

from optimizer.errors import InputError
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route, stopping
from optimizer.page.start import status_of

#: sets that can be asked for at once
MOST_SETS = 5_000


def match_page(asked: PageRequest) -> Answer:
    """Show what runs, or what came of it, and the plans there are."""
    clutch = asked.clutch
    run = asked.house.works.of(clutch.name)
    context = {"step": "match", "status": status_of(clutch), "run": run}
    return Page("match", {**frame(asked.house, clutch), **context})


def start(asked: PageRequest) -> Answer:
    """Begin a match."""
    sets = asked.text("sets") or "1"
    plain = sets.isascii() and sets.isdigit() and 1 <= int(sets[:9]) <= MOST_SETS
    if sets != "max" and not plain:
        raise InputError(f"Expected a number of sets from 1 to {MOST_SETS}, or max.")
    fresh = asked.text("fresh") == "1"
    asked.house.works.start(
        asked.clutch.name, ("match", str(asked.clutch.job), sets, str(int(fresh)))
    )
    return Go(f"{asked.clutch.url}/match")


ROUTES = [
    route("/c/{clutch}/match", match_page),
    route("/c/{clutch}/match/start", start, writes=True),
    route("/c/{clutch}/match/stop", stopping("match", "match"), writes=True),
]
