"""A set on the bench takes no disc of another set, and of a large lot only what it can do with."""

from dataclasses import replace

import numpy as np

from optimizer.bench import session as set_aside
from optimizer.bench.session import for_set, of_these
from optimizer.match.workspace import posed
from optimizer.model.job import StackRules
from optimizer.model.readings import Record
from tests.bags import plain_job, seeded_bag
from tests.report.plans import dealt


def test_no_disc_of_another_set_may_be_taken():
    plan, work = dealt(sets=2)
    first, second = plan.sets
    seen = for_set(work, plan, second)
    usable = {seen.belief.names[d] for d in seen.task.usable}
    assert usable & second.discs
    assert not usable & first.discs
    assert first.discs & {work.belief.names[d] for d in work.task.usable}


def test_of_a_large_lot_the_set_and_some_spares_are_in_sight(monkeypatch):
    plan, work = dealt(sets=2)
    monkeypatch.setattr(set_aside, "MOST_DISCS", 10)
    monkeypatch.setattr("optimizer.match.solve.MOST_DISCS", 40)
    first, second = plan.sets
    rules = replace(work.job.stack, leave=tuple(sorted(first.discs))[:1])
    seen = for_set(replace(work, job=replace(work.job, stack=rules)), plan, second)
    names = set(seen.belief.names)
    assert second.discs <= names
    assert not names & first.discs
    assert len(names) <= 40
    at = [work.belief.names.index(name) for name in seen.belief.names]
    assert np.array_equal(seen.belief.covariance, work.belief.covariance[at])
    assert np.array_equal(seen.task.discs.thickness_mm, work.task.discs.thickness_mm[at])
    assert seen.bag is work.bag


def test_sessions_of_discs_out_of_sight_do_not_count():
    work = posed(plain_job(rules=StackRules()), seeded_bag(30, 1))
    here = Record("a.csv", ((("D01",),),), ((),), False, ())
    gone = Record("b.csv", ((("D31",),),), ((),), False, ())
    assert of_these((here, gone), work) == (here,)
