from dataclasses import replace

import numpy as np

from optimizer.model.pattern import Pattern
from optimizer.orders.judging import (
    SETTLED_TIMES,
    ConfidenceGoal,
    JudgedCandidate,
    judge,
    more,
    said_so_far,
    undecided,
)
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.quantity import NEVER
from optimizer.orders.simulate import Outcome
from tests.orders.cases import size, study, surely_matched

WISH = ConfidenceGoal(0.95, 20, 0, 1)


def judged(packs):
    """A study whose draws wanted so many packs; every set ends truly within."""
    n = len(packs)
    return JudgedCandidate(
        surely_matched(study(1)), Outcome(np.array(packs), np.array(packs), *np.zeros((4, n)))
    )


def test_draws_go_on_where_those_before_ended():
    [once] = more([JudgedCandidate(study(1))], 20, WISH)
    [half] = more([JudgedCandidate(study(1))], 10, WISH)
    [twice] = more([half], 10, WISH)
    assert once.draws == twice.draws == 20
    assert np.array_equal(once.outcome.packs, twice.outcome.packs)


def test_candidates_of_one_size_are_judged_as_if_alone():
    one, other = JudgedCandidate(study(1)), JudgedCandidate(study(1, pattern=Pattern(6, 3)))
    together = more([one, other], 10, WISH)
    [alone] = more([other], 10, WISH)
    assert np.array_equal(together[1].outcome.packs, alone.outcome.packs)


def test_more_is_drawn_only_where_the_quantity_is_not_told():
    least = judged([]).packs.least
    plain = judged([least] * 500)  # hardly a doubt: all but a few in a hundred do
    assert not undecided(plain, plain, WISH)
    close = judged([least + 1] * 19 + [least + 2])
    assert undecided(close, close, WISH)
    [more_draws] = more([close], SETTLED_TIMES * WISH.draws - close.draws, WISH)
    assert not undecided(more_draws, more_draws, WISH)
    steep = judged([least + 1] * 490 + [least + 2] * 10)  # none do with one pack less
    assert not undecided(steep, steep, replace(WISH, draws=500))


def test_what_is_known_is_said_with_its_doubt():
    assert (
        said_so_far([JudgedCandidate(surely_matched(study(1)))], WISH)
        == "Stopped; nothing was written."
    )
    least = judged([]).packs.least
    said = said_so_far([judged([least] * 20)], WISH)
    assert said.startswith("Stopped; nothing was written. After 20 deliveries: ")
    assert f"BUY {least} x 5 discs of V18-100 for " in said
    # 1 - 0.025^(1/20) of 20 of 20 (Clopper and Pearson)
    assert "EUR; does in 83% to 100%." in said
    seldom = said_so_far([judged([least] * 10 + [NEVER] * 10)], WISH)
    assert "no quantity keeps 95% so far" in seldom
    assert "do in 27% to 73%" in seldom  # 10 of 20


def test_what_is_told_on_the_way_is_not_contradicted_in_the_end():
    """The first answer comes after 20 deliveries; each names a cart, its cost and its chance."""
    told = []
    to = replace(surely_matched(study(2)).clutch, spread_n=300.0)
    goal = replace(WISH, draws=100)
    found = judge(
        to, (size("V18-100", 5),), Manufacture(), {}, goal, lambda stage, _: told.append(stage)
    )
    said = list(dict.fromkeys(one.partition("; does in")[0] for one in told if "After" in one))
    assert said[0].startswith("After 20 deliveries: BUY ")
    assert all(one.count("After") == 1 for one in told if "After" in one)
    best = found[0]
    bought = best.cart(goal)
    final = best.promise(best.does(goal)).share
    for stage in dict.fromkeys(one.partition("%. ")[0] for one in told if "After" in one):
        low, high = (int(word.rstrip("%")) for word in stage.split("does in ")[1].split(" to "))
        assert low <= 100 * final <= high
        cost = float(stage.split(" for ")[1].split()[0])
        least = float(stage.split("at least ")[1].split(")")[0]) if "at least" in stage else cost
        assert least <= bought.cost
