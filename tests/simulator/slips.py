"""A hand that slips once in twenty readings, before a bench command that asks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.doubts import doubts
from optimizer.estimate.problem import Task
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job
from optimizer.model.readings import Reading
from optimizer.units import N_PER_LBF
from tests.simulator.play import MOST_READINGS, turns
from tests.simulator.setup import WIDTH_N
from tests.simulator.truth import SHOES, Truth

OFTEN = 1 / 20
#: what becomes of a load: (bench, stacks, shoe, load) -> load
Slip = Callable[[Truth, list[Array], int, float], float]


def ten_times(_truth: Truth, _stacks: list[Array], _shoe: int, load_n: float) -> float:
    return 10 * load_n


def hundred_lbf(_truth: Truth, _stacks: list[Array], _shoe: int, load_n: float) -> float:
    return load_n + 100 * N_PER_LBF


def wrong_shoe(truth: Truth, stacks: list[Array], shoe: int, _load_n: float) -> float:
    return truth.read_n(stacks[shoe % SHOES], shoe=shoe % SHOES)


SLIPS: dict[str, Slip | None] = {
    "none": None,
    "ten times": ten_times,
    "100 lbf": hundred_lbf,
    "wrong shoe": wrong_shoe,
}
#: slips that are asked about, so that it matters what the user answers
ASKED = ("ten times", "100 lbf")


@dataclass(frozen=True)
class Slipped:
    """A session until it stops: rounds of building and rounds read, was the truth within, how
    many readings slipped, and how many right and wrong ones were asked about."""

    builds: int
    rounds: int
    within: bool
    slips: int
    asked_right: int
    asked_wrong: int


def session(truth: Truth, job: Job, slip: Slip | None, insists: bool, seed: int) -> Slipped:
    """Play the bench command to its stop.

    Who is asked reads the gauge again, or always insists.
    """
    rng = np.random.default_rng([seed, 17])
    counts = {"slips": 0, "right": 0, "wrong": 0}

    def typed(rig: Task, before: Sequence[Reading], shown: Reading, stacks: list[Array]) -> Reading:
        slips = bool(rng.random() < OFTEN) and slip is not None
        read = shown
        if slips and slip is not None:
            counts["slips"] += 1
            assert shown.shoe is not None
            load = slip(truth, stacks, shown.shoe, shown.load_n)
            read = replace(shown, load_n=load)
        rows = [*before, read]
        if not doubts(rig, rows, range(len(before), len(rows))):
            return read
        counts["wrong" if slips else "right"] += 1
        return replace(read, trust="insisted") if insists else shown

    builds = 0
    for rounds, turn in enumerate(turns(truth, job, typed=typed), 1):
        builds += turn.built
        if turn.advice.kind in ("stop", "leave") or rounds == MOST_READINGS:
            break
    within = truth.spread_n(turn.stacks) <= WIDTH_N
    return Slipped(builds, rounds, within, counts["slips"], counts["right"], counts["wrong"])
