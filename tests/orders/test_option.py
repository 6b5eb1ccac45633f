"""What the draws say of an option: what it takes to buy all at once, and a sample first."""

from dataclasses import replace

import pytest

from optimizer.model.job import Effort, Instrument
from optimizer.orders.judging import ConfidenceGoal, JudgedCandidate
from optimizer.orders.option import option
from optimizer.orders.simulate import draw_outcomes
from tests.orders.cases import study, surely_matched

WISH = ConfidenceGoal(0.5, 20)


def judged(**changes):
    """A study of twenty draws, of a size that comes in five days, which any spread will do."""
    of = surely_matched(study(1))
    one = of.candidate
    offers = tuple(replace(offer, lead_days=5.0) for offer in one.size.offers)
    one = replace(one, size=replace(one.size, offers=offers))
    of = replace(of, candidate=one, clutch=replace(of.clutch, **changes))
    return JudgedCandidate(of).joined(draw_outcomes((of,), 3, range(20))[0])


def test_both_ways_to_buy_say_what_they_take():
    """The usual minutes: a disc by micrometer 1, a stack built 3 and read 1.5 (README's table)."""
    best = option(judged(), WISH, True)
    now, then, two = best.at_once, best.sampled, best.steps
    assert (now.cost, now.days, now.confidence) == (best.cost, best.lead_days, best.confidence)
    assert now.minutes == best.discs + 4.5
    assert (then.cost, then.confidence) == (two.cost, two.confidence)
    discs = two.mean_discs + (two.samples - 1) * two.sample_discs
    assert then.minutes == pytest.approx(discs + two.samples * 4.5)
    assert now.days == 5
    assert then.days == pytest.approx(5 * (two.samples + (two.mean_discs > two.sample_discs)))
    unpriced = option(judged(), WISH, False)
    assert unpriced.at_once.cost is unpriced.sampled.cost is None


def test_a_caliper_and_the_minutes_of_the_job_count():
    slow = Effort(caliper=2.0, build=10.0, reading=0.0)
    coarse = judged(effort=slow, instrument=Instrument(thickness_sd_mm=0.01))
    best = option(coarse, WISH, True)
    bought = best.enough - best.held if best.discs is None else best.discs
    assert best.at_once.minutes == 2.0 * bought + 10.0


def test_beyond_the_budget_the_most_that_it_buys_is_judged():
    of, sure = judged(), ConfidenceGoal(0.95, 20)
    packs, each = of.packs, of.item.size.offers[0].price
    enough = of.does(sure)
    assert packs.least < enough - 1 < packs.most
    bought = option(of, replace(sure, budget=each * (enough - 1)), True)
    assert (bought.does, bought.enough) == (False, (enough - 1) * packs.pack)
    assert bought.confidence == of.promise(enough - 1)
    none = option(of, replace(sure, budget=0.5), True)  # not even the fewest
    assert none.enough == packs.least * packs.pack
