"""Where no full match is found: the least spread within the tolerance, or any set at all."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from optimizer.control import Limits, Report
from optimizer.estimate.problem import Task
from optimizer.match.bounds import Relaxation
from optimizer.match.check import kept
from optimizer.match.layouts import Layouts
from optimizer.match.local_search import Descent
from optimizer.match.minimise_variance import MOST_COLUMNS, WORK, matched_by_descents
from optimizer.match.packets import reach_n
from optimizer.match.queue import Queue
from optimizer.match.result import Assigned, Matched, rank
from optimizer.match.subproblem import Subproblem, bare_subproblem

if TYPE_CHECKING:
    from optimizer.match.cpsat import Solution

#: arrangements searched at most, and those of which it is asked whether there is any set
MOST_SEARCHED, MOST_PROVEN = 6, 6
#: rounds of descents in each
ROUNDS = 4
#: deterministic time for each of these
ANY_WORK = 1.0
#: deterministic time of the least spread
SPREAD_WORK = 1.5
_NOT_EVERYWHERE = (
    "No set of these discs was found that is at the very target and alike at every travel down to "
    "the resolution: this is the nearest. Within the tolerances nothing is wrong with it; else "
    "more discs to choose from help, or a target between what such stacks carry."
)


def within_tolerance(
    layouts: Layouts, limits: Limits, seed: int, report: Report, most: int = MOST_SEARCHED
) -> Matched | None:
    """Where no full match was found: the least spread within the load tolerance."""
    task, best, bound = layouts.task, None, np.inf
    reach = float(reach_n(task).max())
    queue = Queue(layouts, task.load_tolerance_n, -2 * reach)
    for at in range(most):
        lead = None if at and limits.over() else queue.next(np.inf, limits)
        if lead is None:
            break
        report("least spread", at / most)
        rng = np.random.default_rng([seed, MOST_SEARCHED + at])
        answer, least = _least_spread(task, lead, rng, limits, seed)
        bound = min(bound, least)
        if answer is not None and (best is None or rank(task, answer) < rank(task, best)):
            best = answer
    if best is None:
        return None
    spread = best.spread_n(task.weight)
    bound = max(float(bound), 0.0) if queue.empty else 0.0
    proven = spread <= max(bound, task.resolution_n) * 1.001
    return Matched(best, proven, min(bound, spread), None, (_NOT_EVERYWHERE,))


def _least_spread(
    task: Task, lead: Relaxation, rng: np.random.Generator, limits: Limits, seed: int
) -> tuple[Assigned | None, float]:
    """Find a set of little spread within the load tolerance, and a bound on the spread.

    Where every disc is needed the mean of the stacks is as it is, so the level is left free:
    descents first, then the solver.
    """
    from optimizer.match.cpsat import PER_N, Assignment  # slow to import

    work, *others = lead.subproblem.rows
    level_free = replace(lead.subproblem, rows=(replace(work, centred=True), *others))
    rows = np.argsort(lead.reduced, kind="stable")[:MOST_COLUMNS]
    if not len(task.use) and not task.together:
        descent = Descent(task, level_free)
        found = matched_by_descents(descent, lead, rng, limits, ROUNDS)
        if found is not None and np.abs(work.off_n(found)).max() <= task.load_tolerance_n:
            near = Assignment(task, level_free, np.union1d(rows, np.concatenate(found)))
            near.within_rows()
            near.within_tolerance()
            near.nearest_target()
            near.hint(found)
            for chosen in (near.solve(limits, WORK, seed).chosen, found):
                answer = None if chosen is None else kept(task, lead.subproblem, chosen)
                if answer is not None:
                    return answer, 0.0
    model = Assignment(task, lead.subproblem, rows)
    model.within_tolerance()
    model.least_spread()
    verdict = model.solve(limits, SPREAD_WORK, seed)
    whole = len(rows) == len(lead.subproblem.cost)
    answer = None if verdict.chosen is None else kept(task, lead.subproblem, verdict.chosen)
    return answer, verdict.bound / PER_N if whole else 0.0


def any_set(layouts: Layouts, limits: Limits, seed: int) -> tuple[Matched | None, bool]:
    """Ask the constraint solver for any set within the limits, over every packet there is.

    Returns a set, or whether it is proven of every arrangement that there is none.
    """
    task = layouts.task
    none = len(layouts.choices) <= MOST_PROVEN
    for choice in layouts.choices[:MOST_PROVEN]:
        made = bare_subproblem(layouts, choice)
        verdict = _any_of(task, made, 1, limits, seed)
        if verdict.chosen is not None:
            answer = kept(task, made, verdict.chosen)
            if answer is not None:
                return Matched(answer, False, 0.0, None, (_NOT_EVERYWHERE,)), False
        none = none and verdict.impossible and _any_of(task, made, -1, limits, seed).impossible
    return None, none


def _any_of(task: Task, made: Subproblem, side: int, limits: Limits, seed: int) -> Solution:
    """Ask for any set of the subproblem; `side` as in `Assignment`."""
    from optimizer.match.cpsat import Assignment  # slow to import

    model = Assignment(task, made, np.arange(len(made.cost)), side)
    model.within_tolerance()
    return model.solve(limits, ANY_WORK, seed)
