"""What would mend an order that no quantity fulfils."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.model.catalog import Offer
from optimizer.model.job import Gauge
from optimizer.model.pattern import Pattern
from optimizer.orders.clutch import BenchWork
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate, judge, more
from optimizer.orders.levers import ChangedClutch, loading, loose
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.mend import ChangeTrials, mend
from optimizer.orders.quantity import NEVER, confidence, plateau
from optimizer.orders.simulate import draw_outcomes as outcomes
from optimizer.orders.study import Study
from tests.orders.cases import KART, clutch, installed, size, study, surely_matched

WISH = ConfidenceGoal(0.9, 20, 0, 1)
SIZES = (size("V18-100", 10),)


def mends(to, goal=WISH):
    found = judge(to, SIZES, Manufacture(), {}, goal)
    return found, mend(found, SIZES, {}, goal)


def test_an_order_that_does_needs_no_mending():
    found, told = mends(clutch(1, 60.0, spread_n=60.0, work=BenchWork(3)))
    assert found[0].cart(WISH) is not None
    assert told == ()


def test_what_the_gauge_cannot_see_is_mended_by_gauging_in_the_clutch():
    """Shoes known to 20 um, gauged beside the clutch: no round of swaps mends that."""
    to = clutch(1, 60.0, spread_n=22.0, work=BenchWork(3), place_sd_mm=0.02, gauge=Gauge(4.4, 0.9))
    found, told = mends(to)
    assert found[0].cart(WISH) is None
    assert found[0].matched < 0.7
    first = told[0]
    assert first.lines
    assert first.cost > 0
    assert first.confidence.share >= 0.9
    every = [one.changes for one in told]
    assert any(len(c) == 1 and "under its own shoe" in c[0] for c in every)
    assert any(len(c) == 1 and "dial gauge" in c[0] for c in every)
    assert not any("load tolerance" in words for c in every for words in c)
    costs = [one.cost for one in told]
    assert costs == sorted(costs)


def test_a_load_tolerance_too_narrow_is_widened_by_no_more_than_does():
    found, told = mends(clutch(1, 4.0, spread_n=60.0, work=BenchWork(3)))
    assert found[0].cart(WISH) is None
    [words] = [c for one in told for c in one.changes if "load tolerance" in c]
    named = float(words.split(" of ")[1].split()[0])
    assert 5.0 < named <= 24.0
    assert next(one for one in told if words in one.changes).confidence.share >= 0.9


def test_what_is_dearer_than_the_budget_names_the_budget_that_does():
    to = clutch(1, 60.0, spread_n=60.0, work=BenchWork(3))
    _, [told] = mends(to, replace(WISH, budget=1.0))
    assert told.changes == (f"a budget of {told.cost:.2f}",)
    scarce = (size("V18-100", offers=(Offer("a", 10, 4.0, stock_packs=1),)),)
    found = judge(to, scarce, Manufacture(), {}, WISH)
    [told] = mend(found, scarce, {}, WISH)
    assert told.changes == ("more packs in stock, or another supplier",)


def test_no_more_is_named_than_reaches_the_plateau():
    wanted = np.array([8] * 600 + [NEVER] * 400)
    assert plateau(wanted, 16) == 8
    assert plateau(np.array([8] * 600 + [16] * 5 + [NEVER] * 395), 16) == 8
    assert plateau(np.array([8] * 300 + [12] * 300 + [NEVER] * 400), 16) == 12
    assert plateau(np.array([NEVER] * 20), 16) == 16


def test_measuring_the_lot_on_the_gauge_never_hurts():
    """The same deliveries with and without a gauge, where only a part of the lots will do."""
    of = study(4, tolerance_n=9.0)
    [outcome] = outcomes((of,), 4, range(60))
    packs = of.packs
    for k in (packs.least + 5, packs.most):
        gauged, blind = (
            confidence(found, k).share for found in (outcome.packs, outcome.blind_packs)
        )
        assert gauged >= blind


def test_what_no_quantity_does_is_told_without_all_the_draws():
    of = surely_matched(study(2, tolerance_n=2.0))
    of = Study(of.clutch, of.candidate, of.making, of.on_hand)
    found = judge(of.clutch, (of.candidate.size,), of.making, {}, replace(WISH, draws=200))
    assert max(j.draws for j in found) == 60
    assert all(j.hopeless(WISH) for j in found)


def test_a_set_that_cannot_be_matched_is_told_before_any_draw():
    of = study(6)
    of = replace(of, clutch=replace(of.clutch, work=BenchWork(0)))
    [judged] = more([JudgedCandidate(of)], 20, WISH)
    assert judged.matched < 1e-2
    assert judged.does(WISH) == NEVER
    assert judged.promise(judged.packs.most).share == pytest.approx(
        judged.matched * confidence(judged.outcome.packs, judged.packs.most).share
    )


def test_a_room_in_which_stacks_would_rattle_is_mended_by_a_softer_pattern():
    """Nine singles are longer than the height window lets them, but press at rest.

    Of the pattern that the window allows most lots hang loose, and they alone stand in the way.
    """
    of = installed(0.1, (0.0, 0.1, 0.2))
    rules = replace(of.clutch.rules, free_height_mm=(10.0, 12.4))
    at = ChangedClutch(replace(of.clutch, sets=1, spread_n=500.0, rules=rules), Manufacture())
    trials = ChangeTrials(SIZES, {}, replace(WISH, asked=0.95))
    as_it_is = trials.judged(at)
    assert as_it_is.candidate.pattern == KART
    assert as_it_is.hopeless(trials.few)
    [longer] = [one for one in loading(at) if "height" in one.kinds]
    judged = trials.judged(longer)
    assert judged.candidate.pattern == Pattern(9)
    assert judged.cart(trials.few).cost > 0
    assert trials.judged(loose(at)).cart(trials.few) is not None
