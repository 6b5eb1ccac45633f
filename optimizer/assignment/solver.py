"""Match: the best assignment over all arrangements, with its proof or bound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.assignment import search
from optimizer.assignment.bound import Relaxation, relax
from optimizer.assignment.candidates import Arrangement, arrangements
from optimizer.assignment.columns import Columns, columns
from optimizer.assignment.constraint import Assignment
from optimizer.assignment.descent import Descent
from optimizer.assignment.frame import Frame, frame
from optimizer.assignment.levels import Levels, levels
from optimizer.assignment.limits import Limits, Report, quiet
from optimizer.assignment.problem import Task
from optimizer.assignment.refusal import refuse
from optimizer.assignment.result import Assigned, exact, key, surcharge
from optimizer.assignment.whole import best_whole, listable

#: arrangements whose relaxation is solved, and those then searched
MOST_RELAXED = 60
MOST_SEARCHED = 6


@dataclass(frozen=True)
class Matched:
    """The answer and what is known of it.

    `spread_bound_n` is a proven lower bound on the spread of any set within tolerance;
    `proven` says that no set has a smaller spread, down to the resolution; `variance_gap`
    is the share by which the variance could at most be smaller with the same match, over
    all arrangements tried, or None where no bound is known.
    """

    answer: Assigned
    proven: bool
    spread_bound_n: float
    variance_gap: float | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Lead:
    """A frame with its relaxation, waiting to be searched."""

    choice: Arrangement
    frame: Frame
    relaxation: Relaxation

    @property
    def promise(self) -> float:
        """The least surcharged variance that this frame can give."""
        return self.relaxation.bound * surcharge(self.choice.patterns)


def match(task: Task, limits: Limits, seed: int = 0, report: Report = quiet) -> Matched:
    """Assign discs to stacks.

    Raises
    ------
    CannotBuildError
        when no arrangement can reach the target within tolerance; says what binds.
    """
    report("tabulating packets", 0.0)
    table = columns(task)
    choices = arrangements(task, table) if len(table.size) else []
    if not choices:
        raise refuse(task, table)
    level = levels(task, table)
    if listable(task, choices):
        return _small(task, table, level, choices, limits, report)
    leads = _leads(task, table, level, choices, task.resolution_n / 2, limits, report)
    best = _search(task, leads, limits, seed, report)
    if best is None:
        best = _loose(task, table, level, choices, limits, seed, report)
    if best is None:
        raise refuse(task, table)
    return best


def _small(
    task: Task,
    table: Columns,
    level: Levels,
    choices: list[Arrangement],
    limits: Limits,
    report: Report,
) -> Matched:
    best = None
    for at, choice in enumerate(choices):
        report("listing every stack", at / len(choices))
        rate = float(np.mean([level.rate(p, level.target_n) for p in choice.patterns]))
        answer = best_whole(task, table, choice, rate, limits)
        if answer is not None and (best is None or key(task, answer) < key(task, best)):
            best = answer
    if best is None:
        raise refuse(task, table)
    complete = not limits.over()
    spread = best.spread_n(task.weight)
    notes = () if complete else ("stopped before every stack was looked at",)
    return Matched(best, complete, spread if complete else 0.0, 0.0 if complete else None, notes)


def _leads(
    task: Task,
    table: Columns,
    level: Levels,
    choices: list[Arrangement],
    half_window_n: float,
    limits: Limits,
    report: Report,
) -> list[_Lead]:
    found = []
    for at, choice in enumerate(choices[:MOST_RELAXED]):
        report("bounding patterns", at / len(choices))
        made = frame(task, table, level, choice.patterns, choice.shims)
        relaxation = None if made is None else relax(task, made, half_window_n)
        if made is not None and relaxation is not None:
            found.append(_Lead(choice, made, relaxation))
        if limits.over():
            break
    return sorted(found, key=lambda lead: (sum(map(len, lead.choice.shims)), lead.promise))


def _search(
    task: Task, leads: list[_Lead], limits: Limits, seed: int, report: Report
) -> Matched | None:
    """Search the most promising frames for a full match of least variance."""
    best: Assigned | None = None
    bound = np.inf
    for at, lead in enumerate(leads[:MOST_SEARCHED]):
        if best is not None and lead.promise >= best.cost * surcharge(best.patterns):
            break
        report("matching stacks", at / MOST_SEARCHED)
        rng = np.random.default_rng([seed, at])
        found, least = _in_frame(task, lead, rng, limits, seed)
        bound = min(bound, least * surcharge(lead.choice.patterns))
        if found is not None and found.kept:
            stacks = search.stacks_of(lead.frame, found.chosen)
            answer = exact(task, stacks, lead.choice.shims, found.cost)
            if best is None or key(task, answer) < key(task, best):
                best = answer
        if limits.over():
            break
    if best is None:
        return None
    cost = best.cost * surcharge(best.patterns)
    waiting = min((lead.promise for lead in leads[at + 1 :]), default=np.inf)
    gap = max(1 - min(bound, waiting, cost) / cost, 0.0) if cost > 0 else 0.0
    spread = best.spread_n(task.weight)
    proven = spread <= task.resolution_n * 1.001
    return Matched(best, proven, 0.0, gap, ())


def _in_frame(
    task: Task, lead: _Lead, rng: np.random.Generator, limits: Limits, seed: int
) -> tuple[search.Found | None, float]:
    if len(task.use) or task.together:
        return search.polish(task, lead.frame, None, lead.relaxation, limits, seed)
    descent = Descent(task, lead.frame)
    bound = lead.relaxation.bound
    if lead.frame.alike and lead.frame.patterns[0].sizes[-1] == 1:
        best, proven = search.singles(task, lead.frame, descent, rng, limits, seed)
        bound = max(bound, proven)
        if best is not None:
            return best, bound
    best = search.steady(lead.frame, descent, lead.relaxation, rng, limits)
    if best is None:
        best = search.match(task, lead.frame, descent, rng, limits)
        best = best if best is not None and best.kept else None
    best, proven = search.polish(task, lead.frame, best, lead.relaxation, limits, seed)
    return best, max(bound, proven)


def _loose(
    task: Task,
    table: Columns,
    level: Levels,
    choices: list[Arrangement],
    limits: Limits,
    seed: int,
    report: Report,
) -> Matched | None:
    """Where no full match was found: the least spread within the load tolerance."""
    best: Assigned | None = None
    bound = np.inf
    leads = _leads(task, table, level, choices, task.load_tolerance_n, limits, report)
    for at, lead in enumerate(leads[:MOST_SEARCHED]):
        report("least spread", at / len(leads))
        rows = np.argsort(lead.relaxation.reduced, kind="stable")[: search.MOST_COLUMNS]
        model = Assignment(task, lead.frame, rows)
        model.least_spread(task.load_tolerance_n)
        verdict = model.solve(limits, search.WORK, seed)
        bound = min(bound, verdict.bound / 1000 if len(rows) == len(lead.frame.cost) else 0.0)
        if verdict.chosen is not None:
            cost = float(lead.frame.cost[np.concatenate(verdict.chosen)].sum())
            stacks = search.stacks_of(lead.frame, verdict.chosen)
            answer = exact(task, stacks, lead.choice.shims, cost)
            if best is None or key(task, answer) < key(task, best):
                best = answer
        if limits.over():
            break
    if best is None:
        return None
    spread = best.spread_n(task.weight)
    bound = 0.0 if len(leads) > MOST_SEARCHED else max(float(bound), 0.0)
    proven = spread <= max(bound, task.resolution_n) * 1.001
    return Matched(best, proven, min(bound, spread), None, ("no set keeps every window",))
