"""What a delivered bag builds on shims, and how its lots lie about nominal."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from optimizer.clutch.engagement import target_loads
from optimizer.control import Limits
from optimizer.estimate.prior import believe
from optimizer.estimate.problem import pose
from optimizer.io.bag.reader import read_bag
from optimizer.io.job.reader import read_job
from optimizer.mechanics.datum import Installed
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import deflection, free_height
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.onhand import on_hand
from optimizer.orders.received import count_sets, lot_means
from tests.orders.cases import size

KART = Path(__file__).parents[2] / "examples" / "spring_order" / "job.toml"


@pytest.fixture(scope="module")
def held():
    job = read_job(KART)
    return job, believe(read_bag(job.bag_file, job), job)


def test_a_bag_that_wants_shims_is_built_on_them(held):
    """Rooms 0.5 mm longer than the mean stack of 8 singles wants: only shims fill them."""
    job, belief = held
    task = pose(belief, job, target_loads(job))
    p = packets(task.discs, np.arange(24).reshape(3, 8, 1), task.model)
    length = float((free_height(p) - deflection(p, 890.0)).mean()) + 1.5
    long = replace(task, datum=Installed(length + 0.5))
    limits = Limits(20.0)
    bare = count_sets(long, 1, 9.0, limits, 0)
    assert (bare.buildable_sets, bare.pattern) == (0, "")
    assert bare.reasons
    on_hand = replace(long, rules=replace(long.rules, shims_mm=(0.5,) * 3))
    shimmed = count_sets(on_hand, 1, 9.0, limits, 0)
    assert (shimmed.buildable_sets, shimmed.shim_mm, shimmed.reasons) == (1, 0.5, ())


def test_the_mean_of_a_lot_is_told_once_for_all_sizes_of_one_shape(held):
    job, belief = held
    sizes = (size("V18-100"), size("V18-100", name="V18-100 close"))
    hands = {s.name: on_hand(s, belief, job) for s in sizes}
    (lot,) = lot_means(sizes, hands, Manufacture())
    assert (lot.size, lot.discs) == ("V18-100", 24)
    assert lot.thickness_off_mm == pytest.approx(belief.thickness_mm.mean() - 1.0)
    # mean of lots: half the sd within one, of limits at 3 sd (EN 16983: +0.03 mm)
    assert lot.thickness_sd_mm == pytest.approx(0.5 * 0.01 / 1.25**0.5)
