"""What it costs to match three travels at once: at rest, at the travel and on a worn drum."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.loads import chance, load_uncertainty
from optimizer.estimate.problem import Task
from optimizer.face.sources import open_job
from optimizer.match.result import exact
from optimizer.match.solve import match
from optimizer.mechanics.datum import Installed
from optimizer.units import N_PER_LBF
from tests.bags import plain_job, seeded_bag, seeded_task

EXAMPLE = Path(__file__).parents[2] / "examples" / "kart_mm" / "job.toml"
DISCS, ROOM_MM = 40, 11.15
WIDTH_N = 2 * N_PER_LBF


@dataclass(frozen=True)
class Outcome:
    """One set: spreads in lbf at the three travels, least load at rest, odds within 2 lbf."""

    pattern: str
    work: float
    worn: float
    rest: float
    rest_load: float
    odds: float


def example(_seed: int) -> dict[str, Any]:
    """The shipped example, matched both ways."""
    return _both(open_job(EXAMPLE).task)


def seeded(seed: int) -> dict[str, Any]:
    """An invented bag in a room that presses its stacks at rest, matched both ways."""
    return _both(seeded_task(seeded_bag(DISCS, seed), plain_job(installed_mm=ROOM_MM)))


def at_work_only(task: Task) -> Task:
    """The same stacks in a room as short as the travel leaves, with no travel to go.

    Their load at the travel is unchanged; rest and worn drum are the working point too, so
    nothing is asked of them.
    """
    assert isinstance(task.datum, Installed)
    none = np.zeros(task.shoes)
    room = Installed(np.asarray(task.datum.length_mm) - task.travel_mm)
    return replace(task, datum=room, travel_mm=none, worn_travel_mm=none)


def _both(task: Task) -> dict[str, Any]:
    return {
        "three travels": asdict(_matched(task, task)),
        "work only": asdict(_matched(task, at_work_only(task))),
    }


def _matched(task: Task, asked: Task) -> Outcome:
    """Match what is `asked`, then look at all travels of the `task`."""
    found = match(asked, Limits()).answer
    answer = exact(task, found.stacks, found.shims, found.cost)
    work, worn, rest = (
        float(np.ptp(load) / N_PER_LBF) for load in (answer.work_n, answer.worn_n, answer.rest_n)
    )
    uncertainty = load_uncertainty(task, answer.stacks, answer.work_n)
    odds = chance(task, uncertainty, answer.work_n, WIDTH_N).within_tolerance
    least = float(answer.rest_n.min() / N_PER_LBF)
    return Outcome(str(answer.patterns[0]), work, worn, rest, least, odds)
