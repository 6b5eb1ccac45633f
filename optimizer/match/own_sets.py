"""Discs that must stay with a set: their sets are made first, each by itself, of its own discs.

A disc with a mark (`keep_with` in the bag) may be in the set of that mark or in none. A set is made
of its own discs alone where they do, else of all of them with others beside.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from optimizer.control import Limits, Report, quiet
from optimizer.errors import CannotBuildError, InputError
from optimizer.estimate.problem import Task
from optimizer.match.lots import Dealt, dealt_with, match_lots
from optimizer.match.packets import all_over
from optimizer.match.result import Matched, discs_of
from optimizer.match.solve import match, search_all, thinned
from optimizer.match.workspace import Workspace
from optimizer.mechanics.packet import Index

#: others that a set of marked discs is dealt with, from all over the bag
BESIDE = 200


def marks_of(work: Workspace) -> dict[str, Index]:
    """Return the discs of every mark by their numbers, with those of their groups.

    Raises
    ------
    InputError
        when discs of one group must stay with different sets.
    """
    mark = {disc.name: disc.keep_with for disc in work.bag.discs if disc.keep_with}
    marked = set(mark)
    for group in work.job.stack.together:
        of = {mark[name] for name in marked.intersection(group)}
        if len(of) > 1:
            raise InputError(
                f"Discs {', '.join(group)} are kept together, and with {', '.join(sorted(of))}.",
                f"{work.job.path.name} [stack] together",
                "Give them one mark under keep_with, or take the group apart.",
            )
        mark |= {name: one for one in of for name in group}
    found: dict[str, list[int]] = {}
    for number, disc in enumerate(work.bag.discs):
        if disc.name in mark:
            found.setdefault(mark[disc.name], []).append(number)
    return {one: np.array(numbers, dtype=np.intp) for one, numbers in found.items()}


def of_one_set(work: Workspace, stands: Collection[str]) -> Workspace:
    """Return the workspace of the set that some discs stand in, without discs kept with others.

    Raises
    ------
    InputError
        where discs are kept with several sets, and nothing stands that tells which is meant.
    """
    marks, own = marks_of(work), {work.belief.numbers[name] for name in stands}
    if len(marks) > 1 and not own:
        raise InputError(
            f"This is for one set, and the bag keeps discs for {', '.join(marks)}.",
            f"{work.bag.path.name}, keep_with",
            "Match, and go on from a plan or from what stands; or give a bag of one set's discs.",
        )
    others = [discs for discs in marks.values() if own and own.isdisjoint(discs.tolist())]
    left = np.setdiff1d(work.task.usable, np.concatenate([work.task.usable[:0], *others]))
    return replace(work, task=_among(work.task, left))


def of_each_mark(work: Workspace) -> list[Task]:
    """Return the task among the discs that the set of each mark may have; whole without marks."""
    marks, task = list(marks_of(work).values()), work.task
    every = np.concatenate([task.usable[:0], *marks])
    return [_among(task, np.setdiff1d(task.usable, np.setdiff1d(every, own))) for own in marks] or [
        task
    ]


def match_bag(
    task: Task,
    marks: Mapping[str, Index],
    sets: int | None,
    spread_n: float,
    limits: Limits,
    seed: int = 0,
    report: Report = quiet,
) -> Dealt:
    """Match one set or deal a lot, else as in `match_lots`, sets of marked discs first.

    Raises
    ------
    CannotBuildError
        when not one set can be built; says what binds.
    """
    own: tuple[Matched, ...] = ()
    notes: tuple[str, ...] = ()
    rest = task
    if marks:
        own, notes = _own_sets(task, marks, sets, spread_n, limits, seed, report)
        gone = np.concatenate([np.array(sorted(discs_of(own)), dtype=np.intp), *marks.values()])
        rest = _among(task, np.setdiff1d(task.usable, gone))
    if own and len(own) == sets:
        return Dealt(own, notes)
    if sets == 1:
        return Dealt((match(rest, limits, seed, report),), notes)
    more = None if sets is None else sets - len(own)
    try:
        lots = match_lots(rest, more, spread_n, limits, seed, report)
    except CannotBuildError as error:
        if not own:
            raise
        return Dealt(own, (*notes, f"no further set of the other discs: {error.problems[0].what}"))
    return Dealt((*own, *lots.sets), (*notes, *lots.notes), lots.beyond_n)


def _among(task: Task, usable: Index) -> Task:
    """The same task with some of its discs alone."""
    there = set(usable.tolist())
    return replace(
        task,
        usable=usable,
        use=np.intersect1d(task.use, usable),
        together=tuple(group for group in task.together if there.issuperset(group.tolist())),
    )


def _own_sets(
    task: Task,
    marks: Mapping[str, Index],
    most: int | None,
    spread_n: float,
    limits: Limits,
    seed: int,
    report: Report,
) -> tuple[tuple[Matched, ...], tuple[str, ...]]:
    """Make a set for every mark, in their order, `most` at most."""
    found: list[Matched] = []
    made, without = [], []
    names = task.belief.names
    marked = np.concatenate([np.zeros(0, dtype=np.intp), *marks.values()])
    pool = np.setdiff1d(task.usable, marked)
    for at, (mark, discs) in enumerate(marks.items()):
        own = np.intersect1d(discs, task.usable)
        if not len(own):
            continue
        report(f"a set for {mark}", at / len(marks))
        one = None
        if most is None or len(found) < most:
            one = _own_set(task, own, pool, spread_n, limits, seed)
        if one is None:
            without.append(f"{mark} ({len(own)} discs)")
            continue
        used = discs_of((one,))
        pool = np.setdiff1d(pool, list(used))
        left = [names[d] for d in own if d not in used]
        beside = f", {', '.join(left)} left over" if left else ""
        others = len(used.difference(own.tolist()))
        made.append(f"{mark} ({f'{others} other discs beside' if others else 'its own'}{beside})")
        found.append(one)
    notes = [f"the first sets are those of {', '.join(made)}, in this order."] if made else []
    if without:
        notes.append(f"no set was made for {', '.join(without)}: these discs stay in the bag.")
    lack = set(task.use.tolist()).intersection(marked.tolist()) - discs_of(found)
    if lack:
        raise InputError(
            f"No set was made with {', '.join(names[d] for d in sorted(lack))}.",
            "[stack] use, and keep_with in the bag",
            "Take the name out of use, or the mark away.",
        )
    return tuple(found), tuple(notes)


def _own_set(
    task: Task, own: Index, pool: Index, spread_n: float, limits: Limits, seed: int
) -> Matched | None:
    """Make the set of a mark: of its own discs if they match, else of all of them and others."""
    one, _ = search_all(thinned(_among(task, own)), limits, seed, quiet)
    if one is not None and one.answer.spread_n(task.weight) <= spread_n:
        return one
    beside = _among(task, np.union1d(own, all_over(task, pool, BESIDE)))
    return dealt_with(replace(beside, use=own), spread_n, limits, seed) or one
