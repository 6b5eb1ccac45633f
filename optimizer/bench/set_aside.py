"""The discs that one set on the bench has to do with: its own, and spares of no other set."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.estimate.problem import pose
from optimizer.match.solve import thinned
from optimizer.match.workspace import Workspace
from optimizer.mechanics.packet import Index
from optimizer.model.knowledge import Record
from optimizer.model.plan import Plan, PlanSet
from optimizer.model.stack import discs_of

#: discs of a bag from which on most spares are left out of sight: what readings tell is kept for
#: every pair of discs
MOST_DISCS = 300


def for_set(work: Workspace, plan: Plan, one: PlanSet) -> Workspace:
    """Return the workspace of one set of a plan, in which discs of other sets stay there.

    So do those that must stay with another set. Of a large lot so many spares are kept as a
    search can do with.
    """
    own = one.discs
    others = {disc for other in plan.sets if other is not one for disc in other.discs}
    others = others.union(plan.elsewhere) - own
    marks = {"", *(disc.keep_with for disc in work.bag.discs if disc.name in own)}
    kept = others | {disc.name for disc in work.bag.discs if disc.keep_with not in marks}
    names, task = work.belief.names, work.task
    usable = np.array([d for d in task.usable if names[d] not in kept], dtype=np.intp)
    task = replace(task, usable=usable)
    work = replace(work, elsewhere=frozenset(others))
    if len(names) <= MOST_DISCS:
        return replace(work, task=task)
    stands = np.array([d for d, name in enumerate(names) if name in own], dtype=np.intp)
    few = thinned(replace(task, usable=np.union1d(usable, stands), use=stands)).usable
    return _of(work, np.union1d(few, stands))


def of_these(records: tuple[Record, ...], work: Workspace) -> tuple[Record, ...]:
    """Sessions on the bench of which every disc is in sight."""
    known = set(work.belief.names)
    return tuple(
        record
        for record in records
        if all(
            discs_of(packs) <= known
            for packs in (*record.stacks, *(row.packs for row in record.rows))
        )
    )


def _of(work: Workspace, kept: Index) -> Workspace:
    """The workspace of some of its discs."""
    belief = work.belief.take(kept)
    known, rules = set(belief.names), work.job.stack
    stack = replace(
        rules,
        use=tuple(name for name in rules.use if name in known),
        leave=tuple(name for name in rules.leave if name in known),
        together=tuple(group for group in rules.together if set(group) <= known),
    )
    job = replace(work.job, stack=stack)
    return replace(work, job=job, belief=belief, task=pose(belief, job, work.task.target_n))
