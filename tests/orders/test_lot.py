"""What a sample tells of its lot, and what is bought then."""

from dataclasses import replace
from math import log

import numpy as np
import pytest

from optimizer.mechanics.disc import Discs
from optimizer.model.job import Instrument
from optimizer.orders.lot import deliver, seen, unseen, within_lot_sd
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.onhand import OnHand
from optimizer.orders.simulate import draw_outcomes
from optimizer.orders.unpack import DeliveryDraw
from tests.orders.cases import size, study

MAKING, TOOL = Manufacture(), Instrument(0.002, 0.005)
V18 = size("V18-100")


def sample(seed: int, count: int) -> tuple[Discs, float]:
    """Discs of one lot, exactly measured but for their stiffness, and its stiffness."""
    return deliver(V18, MAKING, np.random.default_rng(seed), count)


def test_a_lot_not_seen_is_as_assumed():
    lot = unseen(V18, MAKING)
    # limits at 3 sd of all discs; a lot's mean scatters by half of the sd within one
    t_sd, _ = within_lot_sd(V18, MAKING)
    assert lot.middle_sd_mm[0] == pytest.approx(0.5 * t_sd)
    assert (lot.middle_mm, lot.stiff, lot.stiff_sd) == ((0.0, 0.0), 0.0, 0.015)
    none = sample(1, 5)[0].take(np.zeros(0, dtype=int))
    assert seen(V18, MAKING, TOOL, none) == lot


def test_the_mean_of_a_lot_is_told_as_surely_as_is_said():
    """Of 300 samples of ten the posterior covers the true mean as a normal law does."""
    off = []
    for seed in range(300):
        discs, _ = sample(seed, 256)
        lot = seen(V18, MAKING, Instrument(0.0, 0.0), discs.take(np.arange(10)))
        true = discs.thickness_mm.mean() - V18.thickness_mm
        off.append((lot.middle_mm[0] - true) / lot.middle_sd_mm[0])
    # the mean of 256 discs stands for that of the lot; makers' limits cut the tails
    assert np.mean(np.abs(off) < 1) == pytest.approx(0.683, abs=0.08)
    assert np.mean(np.abs(off) < 2) == pytest.approx(0.954, abs=0.04)


def test_more_discs_tell_more_and_never_less_than_nothing():
    discs, _ = sample(3, 200)
    sds = [
        seen(V18, MAKING, TOOL, discs.take(np.arange(count))).middle_sd_mm[0]
        for count in (1, 5, 20, 200)
    ]
    assert sds == sorted(sds, reverse=True)
    assert sds[0] < unseen(V18, MAKING).middle_sd_mm[0]


def test_readings_tell_the_stiffness_where_they_tell_more_than_was_assumed():
    discs, _ = sample(3, 10)
    told = seen(V18, MAKING, TOOL, discs, (log(1.02), 0.004))
    assert (told.stiff, told.stiff_sd, told.gauged) == (log(1.02), 0.004, True)
    vague = seen(V18, MAKING, TOOL, discs, (log(1.02), 0.03))
    assert (vague.stiff, vague.stiff_sd, vague.gauged) == (0.0, 0.015, False)


def test_a_lot_known_to_suit_wants_fewer_discs_than_any_lot():
    """After a sample that lies on target: the rest of the same lot against a new one."""
    of = study(4, tolerance_n=12.0)
    sold = of.candidate.size
    alike = replace(MAKING, lot_share=0.0, modulus_sd=0.0)
    discs, _ = deliver(sold, alike, np.random.default_rng(5), 12)
    sds = np.full(12, 0.002), np.full(12, 0.005), np.full(12, 0.01)
    lot = seen(sold, MAKING, TOOL, discs, (0.0, 0.004))
    new, same = (replace(of, on_hand=OnHand(discs, *sds, known)) for known in (None, lot))
    wanted = [np.mean(draw_outcomes((one,), 6, range(30))[0].packs <= 25) for one in (new, same)]
    assert wanted[1] > wanted[0] + 0.1


def test_discs_in_hand_are_as_stiff_as_the_lot_that_is_bought():
    from optimizer.orders.unpack import unpack

    of = study(1)
    sold = of.candidate.size
    discs, _ = deliver(sold, MAKING, np.random.default_rng(5), 40)
    discs = replace(discs, factor=np.ones(40))
    lot = seen(sold, MAKING, TOOL, discs)
    hand = OnHand(discs, *np.zeros((3, 40)), lot)
    for number in range(5):
        true = unpack(
            replace(of, making=MAKING, on_hand=hand), DeliveryDraw(1, number), 200
        ).true.factor
        assert np.log(true[:40]).mean() == pytest.approx(np.log(true[40:]).mean(), abs=0.003)
