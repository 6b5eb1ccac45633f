import numpy as np
import pytest

from optimizer.orders.quantity import NEVER
from optimizer.orders.simulate import Outcome, draw_outcomes
from optimizer.orders.steps import steps
from tests.orders.cases import study


def outcome(packs, short):
    n = len(packs)
    return Outcome(
        np.array(packs), np.array(packs), np.array(short, dtype=float), *np.zeros((3, n))
    )


def price(discs):
    return 4.0 + 0.5 * discs


#: 27 discs a set in packs of 10: 270, and a sample of 10
TEN = study(10, pack=10)


def test_lots_on_target_are_bought_without_a_margin():
    two = steps(TEN, outcome([27] * 20, [-1.0] * 20), 0.95, 1.0, price)
    assert (two.margin_sd, two.mean_discs, two.most_discs) == (0.0, 270.0, 270)
    assert two.cost == price(10) + price(260)
    assert two.suits.share == two.confidence.share == 1.0


def test_a_lot_far_off_is_given_up_after_the_sample():
    two = steps(TEN, outcome([27] * 15 + [NEVER] * 5, [-1.0] * 15 + [2.0] * 5), 0.95, 1.0, price)
    assert two.suits.share == 0.75
    assert two.confidence.share == 1.0
    assert two.cost == pytest.approx(price(10) / 0.75 + price(260))  # a sample of lots refused


def test_the_margin_is_what_the_confidence_wants():
    wanted = [27] * 18 + [36, 36]
    two = steps(TEN, outcome(wanted, [0.0] * 20), 0.95, 1.0, price)
    assert two.margin_sd > 0
    assert two.mean_discs >= 360


def test_where_no_lot_suits_nothing_is_claimed():
    two = steps(TEN, outcome([NEVER] * 4, [3.0] * 4), 0.95, 1.0, price)
    assert two.suits.share == two.confidence.share == 0.0


def test_a_sample_lifts_the_confidence_where_the_lot_rules():
    """Tolerance 2 lbf: at once without a gauge about half, after a sample nine in ten lots."""
    of = study(1, tolerance_n=8.9)
    [found] = draw_outcomes((of,), 1, range(80))
    two = steps(of, found, 0.8, 1.0, price)
    blind = np.mean(found.blind_packs <= of.packs.most)
    assert two.confidence.share > blind + 0.1
