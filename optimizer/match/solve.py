"""Match: the best assignment over all arrangements, with its proof or bound."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.control import Limits, Report, quiet
from optimizer.errors import CannotBuildError, Problem
from optimizer.estimate.problem import Task
from optimizer.match import minimise_variance as search
from optimizer.match.branch_and_bound import least_variance
from optimizer.match.branch_bounds import cover
from optimizer.match.exhaustive import best_whole, listable
from optimizer.match.infeasibility import refuse
from optimizer.match.layouts import Arrangement, arrangements
from optimizer.match.levels import Levels, levels
from optimizer.match.local_search import Descent
from optimizer.match.packets import Columns, columns
from optimizer.match.queue import Lead, Queue
from optimizer.match.result import Assigned, exact, key, surcharge
from optimizer.mechanics.packet import Index

#: arrangements searched at most
MOST_SEARCHED = 6
_NOT_EVERYWHERE = (
    "No set of these discs was found that is on target and alike at every travel: this is the "
    "nearest. More discs to choose from help, or a target between what such stacks carry."
)
#: counted work for the least variance in each
WORK = 300_000_000


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
    queue = Queue(task, table, level, choices, task.resolution_n / 2)
    best = _search(task, queue, limits, seed, report)
    if best is None:
        best = _loose(task, table, level, choices, limits, seed, report)
    if best is None and limits.over():
        raise CannotBuildError(
            Problem(
                "No set was found before the time was up; whether there is one is not known.",
                remedy="Give it more seconds.",
            )
        )
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


def _search(task: Task, queue: Queue, limits: Limits, seed: int, report: Report) -> Matched | None:
    """Search the most promising frames for a full match of least variance."""
    best: Assigned | None = None
    worth, bound = np.inf, np.inf
    at = 0
    while at < MOST_SEARCHED and (at == 0 or not limits.over()):
        lead = queue.next(worth, limits)
        if lead is None:
            break
        report("matching stacks", at / MOST_SEARCHED)
        rng = np.random.default_rng([seed, at])
        found, least = _in_frame(task, lead, worth, rng, limits, seed)
        bound = min(bound, least * surcharge(lead.choice.patterns))
        at += 1
        if found is None or not found.kept:
            continue
        stacks = search.stacks_of(lead.frame, found.chosen)
        answer = exact(task, stacks, lead.choice.shims, found.cost)
        if best is None or key(task, answer) < key(task, best):
            best, worth = answer, answer.worth
    if best is None:
        return None
    gap = max(1 - min(bound, queue.least, worth) / worth, 0.0) if worth > 0 else 0.0
    proven = best.spread_n(task.weight) <= task.resolution_n * 1.001
    return Matched(best, proven, 0.0, gap, ())


def _in_frame(
    task: Task, lead: Lead, worth: float, rng: np.random.Generator, limits: Limits, seed: int
) -> tuple[search.Found | None, float]:
    """Least variance found in a frame, and a bound on it; `worth` is that of the best so far."""
    if len(task.use) or task.together:
        return search.model(task, lead.frame, lead.relaxation, limits, seed)
    top = worth / surcharge(lead.choice.patterns)
    covering = cover(task, lead.frame, lead.relaxation, task.resolution_n / 2, top)
    if not covering.branches:
        return None, covering.top
    descent = Descent(task, lead.frame)
    likely = covering.branches[0]
    best = search.steady(lead.frame, descent, likely, 0, rng, limits)
    best, bound = least_variance(task, lead.frame, covering, best, WORK, limits)
    if best is None or best.cost - bound > search.ENOUGH * best.cost:
        other = search.steady(lead.frame, descent, likely, search.SHAKES, rng, limits)
        best = min([found for found in (best, other) if found], key=lambda f: f.cost, default=None)
    if best is None:
        best = search.match(lead.frame, descent, lead.relaxation, rng, limits)
    if best is None:
        return search.model(task, lead.frame, lead.relaxation, limits, seed)
    return best, bound


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
    queue = Queue(task, table, level, choices, task.load_tolerance_n)
    at = 0
    while at < MOST_SEARCHED and (at == 0 or not limits.over()):
        lead = queue.next(np.inf, limits)
        if lead is None:
            break
        report("least spread", at / MOST_SEARCHED)
        rng = np.random.default_rng([seed, MOST_SEARCHED + at])
        chosen, least = _least_spread(task, lead, rng, limits, seed)
        bound = min(bound, least)
        at += 1
        if chosen is not None:
            cost = float(lead.frame.cost[np.concatenate(chosen)].sum())
            stacks = search.stacks_of(lead.frame, chosen)
            answer = exact(task, stacks, lead.choice.shims, cost)
            if best is None or key(task, answer) < key(task, best):
                best = answer
    if best is None:
        return None
    spread = best.spread_n(task.weight)
    bound = max(float(bound), 0.0) if queue.empty else 0.0
    proven = spread <= max(bound, task.resolution_n) * 1.001
    return Matched(best, proven, min(bound, spread), None, (_NOT_EVERYWHERE,))


def _least_spread(
    task: Task, lead: Lead, rng: np.random.Generator, limits: Limits, seed: int
) -> tuple[tuple[Index, ...] | None, float]:
    """Columns of a set of little spread within the load tolerance, and a bound on the spread.

    Where every disc is needed the mean of the stacks is as it is, so the level is left free:
    descents first, then the solver.
    """
    from optimizer.match.cpsat import PER_N, Assignment  # slow to import

    work, *others = lead.frame.rows
    level_free = replace(lead.frame, rows=(replace(work, centred=True), *others))
    rows = np.argsort(lead.relaxation.reduced, kind="stable")[: search.MOST_COLUMNS]
    if not len(task.use) and not task.together:
        descent = Descent(task, level_free)
        found = search.match(level_free, descent, lead.relaxation, rng, limits)
        if found is not None and search.off_target(lead.frame, found) <= task.load_tolerance_n:
            near = Assignment(task, level_free, np.union1d(rows, np.concatenate(found.chosen)))
            near.within_rows()
            near.nearest_target(task.load_tolerance_n)
            near.hint(found.chosen)
            return near.solve(limits, search.WORK, seed).chosen or found.chosen, 0.0
    model = Assignment(task, lead.frame, rows)
    model.least_spread(task.load_tolerance_n)
    verdict = model.solve(limits, search.SPREAD_WORK, seed)
    whole = len(rows) == len(lead.frame.cost)
    return verdict.chosen, verdict.bound / PER_N if whole else 0.0
