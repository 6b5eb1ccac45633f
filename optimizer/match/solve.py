"""Match: the best assignment over all arrangements, with its proof or bound."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.control import Interrupted, Limits, Report, quiet
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match.bounds import Relaxation
from optimizer.match.branch_and_bound import least_variance
from optimizer.match.check import kept
from optimizer.match.exhaustive import every_stack, listable
from optimizer.match.infeasibility import refuse
from optimizer.match.layouts import Layouts, every_arrangement, nothing_fits
from optimizer.match.local_search import Descent
from optimizer.match.minimise_variance import (
    ENOUGH,
    least_by_descents,
    least_by_model,
    matched_by_descents,
)
from optimizer.match.nearest import MOST_SEARCHED, any_set, within_tolerance
from optimizer.match.packets import PacketTable, all_over, constant_variance
from optimizer.match.queue import Queue
from optimizer.match.result import Assigned, Matched, rank, surcharge
from optimizer.match.subproblem import Chosen

#: counted work for the least variance in each, at first and once descents have found a set
QUICK_WORK, WORK = 40_000_000, 300_000_000
#: arrangements tried to tell whether a limit binds
MOST_OPENED = 2
#: discs that one set is searched among
MOST_DISCS = 100
#: what proves that there is no set
NO_SUM = "no packets of this bag add up to such a load"
LISTED = "every stack that these discs can make was looked at"
PROGRAMME = "an integer programme over every packet has no solution"
AT_WORK_ALONE = (
    "No set of these discs was found that is alike at rest and on a worn drum too: this one "
    "is matched at the working travel. More discs to choose from help."
)


def match(task: Task, limits: Limits, seed: int = 0, report: Report = quiet) -> Matched:
    """Assign discs to stacks.

    Raises
    ------
    CannotBuildError
        when no set within the limits was found; says whether that is proven, what binds and
        what comes nearest.
    """
    few = thinned(task)
    found, why = search_all(few, limits, seed, report)
    if found is not None and few is task:
        return found
    if found is not None:
        note = (
            f"only {len(few.usable)} of the {len(task.usable)} usable discs were looked at: those "
            "of least doubt, and others from all over the bag."
        )
        return replace(found, variance_gap=None, notes=(*found.notes, note))
    if limits.stopped:
        raise Interrupted
    if limits.over():
        raise CannotBuildError(
            "Stopped by the clock before a set was found; whether there is one is not known.",
            "",
            "Give it more seconds, or none with no --time-limit.",
        )
    raise refusal(few, why if few is task else "", limits, seed)


def thinned(task: Task) -> Task:
    """The same task with as many of its discs as a search can do with.

    One set needs a tenth of them, and choosing among more takes its time and gains little.
    """
    if len(task.usable) <= MOST_DISCS:
        return task
    variance = constant_variance(task, task.usable[:, None])
    asked = np.unique(np.concatenate([task.use, *task.together]))
    least = task.usable[np.argsort(variance, kind="stable")[: MOST_DISCS // 2]]
    taken = np.union1d(asked[np.isin(asked, task.usable)], least)
    rest = all_over(task, np.setdiff1d(task.usable, taken), max(MOST_DISCS - len(taken), 0))
    return replace(task, usable=np.union1d(taken, rest))


def proof(task: Task, table: PacketTable) -> str:
    """What proves without any search that there is no set; empty where nothing does."""
    return NO_SUM if nothing_fits(task, table) else ""


def refusal(task: Task, why: str, limits: Limits, seed: int = 0) -> CannotBuildError:
    """Explain why there is no set; every limit is lifted by itself and a set searched again."""
    return refuse(task, why, lambda other: _opens(other, limits, seed))


def _opens(task: Task, limits: Limits, seed: int) -> bool:
    """Whether a set is soon found of a task."""
    layouts = Layouts.of(task)
    if not layouts.choices:
        return False
    if listable(task, layouts.choices):
        small, complete = every_stack(layouts, limits, quiet)
        if small is not None or complete:
            return small is not None
    if soon_found(layouts, False, MOST_OPENED, limits, seed) is not None:
        return True
    return within_tolerance(layouts, limits, seed, quiet, MOST_OPENED) is not None


def soon_found(
    layouts: Layouts, everywhere: bool, most: int, limits: Limits, seed: int
) -> Assigned | None:
    """Find any set that matches, by descents alone, in `most` likely arrangements; else None.

    Stacks are alike `everywhere`, else at the working travel alone.
    """
    task = layouts.task
    queue = Queue(layouts, task.resolution_n / 2, task.resolution_n, everywhere)
    for at in range(most):
        lead = queue.next(np.inf, limits)
        if lead is None:
            return None
        rng = np.random.default_rng([seed, at])
        found = matched_by_descents(Descent(task, lead.subproblem), lead, rng, limits)
        answer = None if found is None else kept(task, lead.subproblem, found)
        if answer is not None:
            return answer
    return None


def search_all(task: Task, limits: Limits, seed: int, report: Report) -> tuple[Matched | None, str]:
    """Find the best set; where there is none, say by what that is proven, else nothing."""
    report("tabulating packets", 0.0)
    layouts = Layouts.of(task)
    table, small = layouts.table, None
    if not layouts.choices:
        return None, proof(task, table)
    if listable(task, layouts.choices):
        small, complete = every_stack(layouts, limits, report)
        if complete or limits.over():
            none = small is None and complete
            return small, LISTED if none and every_arrangement(task, table) else ""
    window = task.resolution_n / 2
    for everywhere, notes in (True, ()), (False, (AT_WORK_ALONE,)):
        queue = Queue(layouts, window, task.resolution_n, everywhere)
        best = _search(task, queue, limits, seed, report)
        if best is not None:
            return replace(best, notes=notes), ""
        if limits.over():
            return None, ""
    best = small or within_tolerance(layouts, limits, seed, report)
    if best is not None or limits.over():
        return best, ""
    best, none = any_set(layouts, limits, seed)
    return best, PROGRAMME if none and every_arrangement(task, table) else ""


def _search(task: Task, queue: Queue, limits: Limits, seed: int, report: Report) -> Matched | None:
    """Search the most promising subproblems for a full match of least variance."""
    best: Assigned | None = None
    best_n2, bound = np.inf, np.inf
    for at in range(MOST_SEARCHED):
        lead = None if at and limits.over() else queue.next(best_n2, limits)
        if lead is None:
            break
        report("matching stacks", at / MOST_SEARCHED)
        rng = np.random.default_rng([seed, at])
        answer, least = _in_subproblem(task, lead, best_n2, rng, limits, seed)
        bound = min(bound, least * surcharge(lead.subproblem.patterns))
        if answer is not None and (best is None or rank(task, answer) < rank(task, best)):
            best, best_n2 = answer, answer.surcharged_n2
    if best is None:
        return None
    gap = max(1 - min(bound, queue.least, best_n2) / best_n2, 0.0) if best_n2 > 0 else 0.0
    proven = best.spread_n(task.weight) <= task.resolution_n * 1.001
    return Matched(best, proven, 0.0, gap, ())


def _in_subproblem(
    task: Task,
    lead: Relaxation,
    best_n2: float,
    rng: np.random.Generator,
    limits: Limits,
    seed: int,
) -> tuple[Assigned | None, float]:
    """Least variance found in a subproblem, and a bound on it; `best_n2` is that of the best.

    What is found keeps every limit on the exact mechanics as well.
    """
    answers: list[Assigned] = []

    def keep(found: Chosen | None) -> None:
        if found is not None and (exact := kept(task, lead.subproblem, found)):
            answers.append(exact)

    if len(task.use) or task.together:
        found, bound = least_by_model(task, lead, limits, seed)
        keep(found)
        return next(iter(answers), None), bound
    top = best_n2 / surcharge(lead.subproblem.patterns)
    best, bound = least_variance(task, lead, top, QUICK_WORK, limits)
    if best is None and bound >= top * (1 - ENOUGH):
        return None, bound
    keep(best)
    if not answers or answers[0].cost - bound > ENOUGH * answers[0].cost:
        descent = Descent(task, lead.subproblem)
        keep(least_by_descents(descent, lead, rng, limits))
        below = min((answer.cost for answer in answers), default=top)
        best, again = least_variance(task, lead, below, WORK, limits)
        keep(best)
        bound = max(bound, again)
        if not answers:
            keep(matched_by_descents(descent, lead, rng, limits))
        if not answers:
            keep(least_by_model(task, lead, limits, seed)[0])
    return min(answers, key=lambda answer: answer.cost, default=None), bound
