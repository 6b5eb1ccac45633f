from dataclasses import replace

import numpy as np
import pytest

from optimizer.errors import InputError
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.packet import load as packet_load
from optimizer.model.catalog import Band
from optimizer.orders.catalog import printed_load_n
from optimizer.orders.lot import deliver, disc_sd
from optimizer.orders.manufacture import Manufacture
from tests.orders.cases import size

V18 = size("V18-100")


def delivered(seed, count=600, making=None, of=V18):
    return deliver(of, making or Manufacture(), np.random.default_rng(seed), count)[0]


@pytest.mark.parametrize("seed", range(5))
def test_every_disc_is_within_the_limits_of_lengths_and_load(seed):
    d = delivered(seed)
    limits = V18.limits
    off_t = d.thickness_mm - V18.thickness_mm
    off_l = off_t + d.cone_height_mm - V18.cone_height_mm
    assert limits.thickness.lower <= off_t.min() <= off_t.max() <= limits.thickness.upper
    assert limits.height.lower <= off_l.min() <= off_l.max() <= limits.height.upper
    p = packets(d, np.arange(600)[:, None], LoadModel(en16984))
    left = V18.thickness_mm + 0.25 * V18.cone_height_mm - d.thickness_mm
    share = packet_load(p, left) / printed_load_n((V18,))[0] - 1
    assert limits.load.lower <= share.min() <= share.max() <= limits.load.upper


def test_a_smaller_order_is_the_start_of_a_larger_one():
    few, many = delivered(3, 40), delivered(3, 900)
    for name in ("thickness_mm", "cone_height_mm", "factor"):
        assert np.array_equal(getattr(few, name), getattr(many, name)[:40])


def test_lots_and_discs_scatter_as_assumed():
    making = Manufacture(modulus_sd=0.02)
    wide = replace(V18, limits=replace(V18.limits, load=Band()))
    lots = [delivered(seed, 256, making, wide) for seed in range(400)]
    sd = disc_sd(V18.limits.thickness, making)
    assert sd == pytest.approx(0.03 / 3)
    within = sd / np.hypot(1, making.lot_share)
    means = np.array([lot.thickness_mm.mean() for lot in lots])
    assert np.mean([lot.thickness_mm.std() for lot in lots]) == pytest.approx(within, rel=0.03)
    assert means.std() == pytest.approx(making.lot_share * within, rel=0.12)
    factors = np.log([lot.factor.mean() for lot in lots])
    assert factors.std() == pytest.approx(0.02, rel=0.1)


def test_without_scatter_every_disc_is_nominal():
    exact = delivered(0, 10, Manufacture(1e9, 0.0, 0.0, 0.0))
    assert exact.thickness_mm == pytest.approx(V18.thickness_mm, abs=1e-8)
    assert exact.cone_height_mm == pytest.approx(V18.cone_height_mm, abs=1e-8)
    assert exact.factor == pytest.approx(1.0)


def test_limits_that_no_disc_keeps_together_are_refused():
    odd = replace(V18, limits=replace(V18.limits, load=Band(0.9, 1.0)))
    with pytest.raises(InputError, match="size V18-100: Expected limits"):
        delivered(0, of=odd)
