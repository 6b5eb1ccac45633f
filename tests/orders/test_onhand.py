"""What the discs in hand tell of the lot that more is bought of."""

from math import log
from pathlib import Path

import numpy as np
import pytest

from optimizer.estimate.prior import believe
from optimizer.io.bag.reader import read_bag
from optimizer.io.job.reader import read_job
from optimizer.io.known_file import write_known
from optimizer.match.workspace import opened
from optimizer.model.readings import Reading, Record
from optimizer.orders.lot import seen
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.onhand import bag_of, in_hand, on_hand
from tests.orders.cases import size

EXAMPLE = Path(__file__).parents[2] / "examples" / "spring_order"
V18, MAKING = size("V18-100"), Manufacture()


@pytest.fixture
def held(tmp_path):
    for name in ("job.toml", "bag.csv"):
        (tmp_path / name).write_text((EXAMPLE / name).read_text(encoding="utf-8"))
    job = read_job(tmp_path / "job.toml")
    return job, read_bag(job.bag_file, job)


def test_discs_of_the_same_lot_tell_its_means(held):
    job, bag = held
    hand, remarks = in_hand(job, bag, (V18,), MAKING, same_lot=True)
    plain, none = in_hand(job, bag, (V18,), MAKING, same_lot=False)
    discs = plain["V18-100"].discs
    assert hand["V18-100"].lot == seen(V18, MAKING, job.instrument, discs)
    assert (plain["V18-100"].lot, none) == (None, [])
    [said] = remarks
    assert "of the lot of the 24 discs in hand" in said
    assert "only to the assumed 1.5%: press a stack of them" in said


def test_a_stack_that_was_read_tells_the_stiffness_of_the_lot(held):
    job, bag = held
    names = [(disc.name,) for disc in bag.discs]
    stacks = tuple(tuple(names[at : at + 8]) for at in (0, 8, 16))
    rows = tuple(Reading(1, n, stack, "settled", 930.0) for n, stack in enumerate(stacks, 1))
    write_known(job, bag, (Record("readings.csv", stacks, ((),) * 3, False, rows),), None)
    hand, [said] = in_hand(job, bag, (V18,), MAKING, same_lot=True)
    known = opened(job, bag).known
    lot = hand["V18-100"].lot
    assert lot.gauged
    assert lot.stiff == pytest.approx(log(known.learned.load_factor))
    assert lot.stiff_sd == known.factor_sd < MAKING.modulus_sd
    # the discs in hand count as stiff as their lot
    plain = on_hand(V18, believe(bag, job), job).discs.factor
    assert hand["V18-100"].discs.factor == pytest.approx(plain * np.exp(lot.stiff))
    assert "by the readings of the bench" in said


def test_a_bag_that_is_not_there_holds_nothing(held):
    job, _ = held
    job.bag_file.unlink()
    assert bag_of(job, None) == (
        None,
        ["There is no bag bag.csv: planned with no disc on hand."],
    )
