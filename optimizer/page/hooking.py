"""Hookup: at which speed the shoes take hold, how wear moves it, and ways to another speed."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from optimizer import text
from optimizer.clutch.drift import Drift
from optimizer.errors import InputError
from optimizer.face.sources import open_job, read_job
from optimizer.face.speeds import engagement
from optimizer.hookup.now import Engagement
from optimizer.hookup.today import StandingStacks, today
from optimizer.io.numbers import typed_number
from optimizer.match.workspace import Workspace, keep_speed
from optimizer.model.readings import Speed
from optimizer.page.answers import kept_answer
from optimizer.page.asked import Answer, Go, Page, PageRequest, frame, route
from optimizer.page.folder import ClutchFolder, plan_file, plans
from optimizer.page.house import rests_on
from optimizer.page.shoe_scale import ShoeScale, on_scale
from optimizer.page.works import named
from optimizer.report.hookup_json import WAYS
from optimizer.units import MM_PER_IN

#: fastest change of speed that is looked for, in rpm
FURTHEST_RPM = 20_000.0


@dataclass(frozen=True)
class DriftRow:
    """One kind of wear: what it does, the change of speed at each amount, and its limit."""

    name: str
    why: str
    changes: tuple[str, ...]
    limit: str


def hookup_page(asked: PageRequest) -> Answer:
    """Show when the shoes take hold, and ways to another speed where one is asked for."""
    clutch = asked.clutch
    listed = plans(clutch)
    kept = kept_answer(clutch.job, "hookup")
    if asked.query or kept is None or (kept.plan and kept.plan not in listed):
        of, later = asked.query.get("plan", ""), asked.query.get("by", "").strip()
    else:  # what was asked last
        of, later = kept.plan, kept.by
    plan = plan_file(clutch, of) if of else None
    units = read_job(clutch.job).units
    about = rests_on(clutch, plan)
    key = ("engagement", clutch.job, of, about)
    found = asked.house.once(key, lambda: engagement(clutch.job, plan))
    run = asked.house.works.of(named(clutch.name, "hookup"))
    same = kept if kept and (kept.plan, kept.by) == (of, later) else None
    fresh = same is not None and same.rests_on == about
    ways = same.answer if same and fresh else None
    now = found.engagement
    context: dict[str, Any] = {
        **frame(asked.house, clutch),
        "step": "hookup",
        "plans": list(listed),
        "of": of,
        "now": now,
        "picture": _picture(now),
        "speeds": _shoes(now, units),
        "drifts": _drifts(now, units),
        "amounts": _amounts(now, units),
        "notes": found.warnings,
        "wanted": later,
        "run": run,
        "ways": ways if isinstance(ways, dict) and ways.get("schema") == WAYS else None,
        "old": same is not None and not fresh,
        "said": run.problems if run and run.ended and later else (),
        "units": units,
        "card": found.summary(),
        "seen": asked.query.get("seen") == "1",
    }
    return Page("hookup", context)


def look_for_ways(asked: PageRequest) -> Answer:
    """Begin to look for ways to a change of speed."""
    clutch = asked.clutch
    of, typed = asked.text("plan"), asked.text("by", 20)
    plan = plan_file(clutch, of) if of else None
    there = urlencode({"plan": of, "by": typed})
    if not typed:
        return Go(f"{clutch.url}/hookup?{there}")
    later = typed_number(typed)
    if not 1 <= abs(later) <= FURTHEST_RPM:
        raise InputError(f"Expected a change from 1 to {FURTHEST_RPM:.0f} rpm, got {typed}.")
    _standing(clutch, plan)
    about = rests_on(clutch, plan)
    words = ("retarget", str(clutch.job), str(plan or ""), typed, about)
    asked.house.works.start(named(clutch.name, "hookup"), words)
    return Go(f"{clutch.url}/hookup?{there}")


def stop(asked: PageRequest) -> Answer:
    """End the search for ways with those found so far."""
    asked.house.works.stop(named(asked.clutch.name, "hookup"))
    back = {name: asked.text(name) for name in ("plan", "by")}
    return Go(f"{asked.clutch.url}/hookup?{urlencode(back)}")


def _shoes(now: Engagement, units: str) -> list[tuple[int, str, str, str]]:
    """Rows of the table: shoe, load, when it moves, when it touches."""
    how = now.hookup
    rows = []
    for i, load in enumerate(how.work_n):
        doubt = "" if how.touch_sd_rpm is None else f" ± {how.touch_sd_rpm[i]:.0f}"
        moves = "" if now.moves_rpm is None else f"{now.moves_rpm[i]:.0f}"
        rows.append((i + 1, text.load(float(load), units), moves, f"{how.touch_rpm[i]:.0f}{doubt}"))
    return rows


def _picture(now: Engagement) -> ShoeScale:
    how, tolerance = now.hookup, now.tolerance
    touch = how.touch_rpm
    sd = 0.0 * touch if how.touch_sd_rpm is None else how.touch_sd_rpm
    window = tolerance.rpm - tolerance.off_rpm, tolerance.rpm + tolerance.off_rpm
    words = [f"Shoe {shoe} touches at {rpm:.0f} rpm" for shoe, rpm in enumerate(touch, 1)]
    return on_scale(touch, sd, words, window, f"asked: {window[0]:.0f} to {window[1]:.0f} rpm")


def _amounts(now: Engagement, units: str) -> list[str]:
    if not now.drifts:
        return []
    scale, digits = (MM_PER_IN, 3) if units == "in" else (1.0, 1)
    return [f"+{amount / scale:.{digits}f}" for amount in now.drifts[0].amount_mm]


def _drifts(now: Engagement, units: str) -> list[DriftRow]:
    mean = now.hookup.mean_rpm
    return [
        DriftRow(
            drift.name,
            drift.why,
            tuple("solid" if isnan(m) else f"{m - mean:+.0f}" for m in drift.mean_rpm),
            _limit(drift, units),
        )
        for drift in now.drifts
    ]


def _limit(drift: Drift, units: str) -> str:
    if drift.limit_mm is None:
        return "stays"
    return "is out now" if drift.limit_mm == 0 else text.length(drift.limit_mm, units)


def _standing(clutch: ClutchFolder, plan: Path | None) -> tuple[Workspace, StandingStacks]:
    """Return the clutch and the loads of the stacks in it.

    Raises
    ------
    InputError
        where nobody has said which those are.
    """
    work = open_job(clutch.job)
    now = today(work, plan, 1)
    if now is None:
        raise InputError("Choose the plan whose stacks are in the clutch first.")
    return work, now


def seen(asked: PageRequest) -> Answer:
    """Keep a speed that was seen on the engine, with the loads that stood then."""
    clutch = asked.clutch
    of, typed = asked.text("plan"), asked.text("rpm", 20)
    plan = plan_file(clutch, of) if of else None
    rpm = typed_number(typed, "speed")
    if not 50 <= rpm <= 50_000:
        raise InputError(f"Expected a speed from 50 to 50000 rpm, got {typed}.")
    work, now = _standing(clutch, plan)
    keep_speed(work, Speed(rpm, tuple(now.load_n.tolist())), False)
    return Go(f"{clutch.url}/hookup?{urlencode({'plan': of, 'seen': 1})}")


ROUTES = [
    route("/c/{clutch}/hookup", hookup_page),
    route("/c/{clutch}/hookup/ways", look_for_ways, writes=True),
    route("/c/{clutch}/hookup/stop", stop, writes=True),
    route("/c/{clutch}/seen", seen, writes=True),
]
