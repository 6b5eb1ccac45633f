from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from optimizer.orders.joint import lay_out
from optimizer.orders.quantity import (
    NEVER,
    Proportion,
    confidence,
    fewest,
    least_that,
    smallest,
    typical_times,
)
from optimizer.orders.study import Quantities
from optimizer.orders.unpack import DeliveryDraw
from tests.orders.cases import study


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 90))
def test_the_least_that_does_is_found(low, width, threshold):
    high = low + width
    expected = max(threshold, low) if threshold <= high else NEVER
    assert least_that(lambda k: k >= threshold, low, high) == expected


def test_the_interval_of_a_share_is_that_of_clopper_and_pearson():
    # closed form of the ends: with 0 of n good the upper end is 1 - 0.025^(1/n)
    none, every = Proportion.of(0, 10), Proportion.of(10, 10)
    assert none.low == 0
    assert none.high == pytest.approx(1 - 0.025**0.1)
    assert every.high == 1
    assert every.low == pytest.approx(0.025**0.1)
    some = Proportion.of(380, 400)
    assert some.low < 0.95 < some.high


def test_the_smallest_quantity_is_the_quantile_of_the_draws():
    draws = np.array([5] * 90 + [7] * 5 + [NEVER] * 5)
    assert smallest(draws, 0.90) == 5
    assert smallest(draws, 0.91) == 7
    assert smallest(draws, 0.95) == 7
    assert smallest(draws, 0.96) == NEVER
    assert confidence(draws, 7).share == pytest.approx(0.95)
    assert confidence(draws, 6).share == pytest.approx(0.90)


def test_packs_round_up_and_count_what_is_on_hand():
    packs = Quantities.of(pack=50, held=24, needed=270)
    assert (packs.least, packs.discs(5), packs.discs(packs.least)) == (5, 274, 274)
    assert Quantities.of(10, 300, 270).least == 0
    assert packs.most_discs >= 3 * 270


@given(st.floats(0.05, 1.1))
def test_the_best_of_a_typical_lot_have_the_mean_asked_for(shift):
    times = float(typical_times(np.array(shift)))
    q = 1 / times
    assert norm.pdf(norm.isf(q)) / q == pytest.approx(shift, abs=0.01)


def test_sets_whose_true_loads_scatter_widely_cannot_be_bought_surely():
    """They are dealt by what was measured; no quantity mends what is not."""
    draw, of = DeliveryDraw(5, 0), study()
    packs = of.packs
    on = lay_out(of, draw, packs.most_discs)
    at, built = fewest(on, draw)
    assert packs.least <= at <= packs.most
    assert built is not None
    off = np.random.default_rng(1).standard_normal(len(on.true_constant_n))
    wild = replace(on, true_constant_n=on.true_constant_n + 2000 * (off - off.mean()))
    assert wild.error_n == pytest.approx(on.error_n)
    assert fewest(wild, draw) == (NEVER, None)


def test_a_lot_on_target_needs_no_more_than_is_used():
    assert typical_times(np.array([-1.0, 0.0])) == pytest.approx(1.0)
