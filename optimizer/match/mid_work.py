"""A lot in the midst of its work: built sets stay, lost discs are gone, the rest is dealt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.errors import InputError, Problem, raise_if
from optimizer.estimate.problem import Task
from optimizer.io.documents import read_plan
from optimizer.model.plan import Plan


@dataclass(frozen=True)
class MidWork:
    """What is not dealt again: the discs of the first `sets` sets of a plan, and those lost."""

    sets: int
    built: frozenset[str]
    lost: frozenset[str]
    file: str = ""

    @property
    def away(self) -> frozenset[str]:
        """Return all discs that are not there to deal."""
        return self.built | self.lost

    @property
    def note(self) -> str:
        """Say what was left alone."""
        built = (
            f"{self.sets} sets of {self.file} stand with {len(self.built)} discs and were not "
            f"touched: count the sets of this plan from {self.sets + 1} on"
            if self.sets
            else "no set stands"
        )
        return f"{built}; {len(self.lost)} discs are lost."


def mid_work(plan: Path | None, sets: int | None, lost: Sequence[str]) -> MidWork:
    """Read which sets of a plan are built (all where None) and take off the discs lost.

    Raises
    ------
    InputError
        when the plan cannot be read, has fewer sets, or a lost disc is in a set that is built.
    """
    gone = frozenset(name.strip() for name in lost if name.strip())
    if plan is None:
        return MidWork(0, frozenset(), gone)
    read = read_plan(plan)
    count = len(read.sets) if sets is None else sets
    if count > len(read.sets):
        raise InputError(
            Problem(
                f"Expected at most the {len(read.sets)} sets of the plan, got {count}.",
                f"--built-sets, {plan}",
                "Count the sets that stand, from the first one on.",
            )
        )
    of_set = {name: number for number, one in enumerate(read.sets[:count], 1) for name in one.discs}
    raise_if(
        Problem(
            f"Disc {name} is said to be lost, and to stand in set {of_set[name]}.",
            f"--lost, {plan}",
            f"Name --built-sets {of_set[name] - 1} if that set does not stand.",
        )
        for name in sorted(gone & of_set.keys())
    )
    return MidWork(count, frozenset(of_set), gone, plan.name)


def without(task: Task, work: MidWork) -> Task:
    """Return the task without the discs that are not there to deal.

    Raises
    ------
    InputError
        when the bag has none of that name.
    """
    number = task.belief.numbers
    raise_if(
        Problem(f"Expected a disc of the bag, got {name}.", "--built, --lost", "Correct the name.")
        for name in sorted(work.away - number.keys())
    )
    gone = np.array([number[name] for name in work.away], dtype=np.intp)
    return replace(task, usable=np.setdiff1d(task.usable, gone))


def told(plan: Plan, work: MidWork) -> Plan:
    """Return the plan with what was left alone said, and off the list of discs left over."""
    left = tuple(name for name in plan.unused if name not in work.away)
    return replace(plan, unused=left, warnings=(*plan.warnings, work.note))
