import numpy as np
import pytest

from optimizer.estimate.consistency import judge
from optimizer.estimate.learn import learn, loads
from optimizer.model.readings import Reading
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0, 0.0, 0.0)
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])
INSISTED = "insisted"


@pytest.fixture(scope="module")
def rig():
    world = World(sharp=True, instrument_sd_mm=0.01)
    return rig_for(Truth.draw(world, 3), job_for(world))


@pytest.fixture(scope="module")
def right(rig):
    return loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n


def read(shoe, load_n, number=1, trust="usual"):
    return Reading(number, shoe, STACKS[shoe - 1], "settled", float(load_n), trust=trust)


@pytest.mark.parametrize("wrong", [10.0, 1.5, 1e6, 0.1])
@pytest.mark.parametrize("trust", ["insisted", "doubted"])
def test_a_slip_that_is_insisted_on_moves_no_belief(rig, right, wrong, trust):
    others = [read(1, right[0] + 5.0), read(3, right[2] - 3.0)]
    without = learn(rig, others, NO_SHIMS)
    slipped = [*others, read(2, wrong * right[1], trust=trust)]
    learned = learn(rig, slipped, NO_SHIMS)
    assert list(learned.evidence.heard) == [True, True, False]
    assert learned.load_factor == pytest.approx(without.load_factor, rel=1e-6)
    now, before = (loads(each, STACKS, NO_SHIMS) for each in (learned, without))
    assert now.mean_n == pytest.approx(before.mean_n, abs=0.01)
    assert [learned.heard(shoe) for shoe in (1, 2, 3)] == [True, False, True]
    said = judge(learned, slipped)
    assert not said.contradiction
    assert said.suspects == ()


def test_three_stacks_far_off_alike_bear_each_other_out(rig, right):
    low = [read(s + 1, 0.7 * right[s], trust=INSISTED) for s in range(3)]
    assert not learn(rig, low[:1], NO_SHIMS).evidence.heard.any()
    learned = learn(rig, low, NO_SHIMS)
    assert learned.evidence.heard.all()
    assert learned.load_factor == pytest.approx(0.7, abs=0.02)


def test_reading_again_bears_out_what_is_not_beyond_belief(rig, right):
    usual = [read(1, right[0]), read(3, right[2])]
    once = [*usual, read(2, 1.13 * right[1], trust=INSISTED)]
    assert learn(rig, once, NO_SHIMS).evidence.not_borne_out == (once[2],)
    again = [*once, read(2, 1.13 * right[1] - 1.0, 2, INSISTED)]
    assert learn(rig, again, NO_SHIMS).evidence.not_borne_out == ()
    beyond = [*usual, *(read(2, 2 * right[1], k, INSISTED) for k in (1, 2, 3))]
    assert len(learn(rig, beyond, NO_SHIMS).evidence.not_borne_out) == 3


def test_what_is_insisted_on_and_fits_counts_as_any_other(rig, right):
    plain, insisted = (
        learn(rig, [read(s + 1, right[s] + s, trust=t) for s in range(3)], NO_SHIMS)
        for t in ("usual", INSISTED)
    )
    assert insisted.shift == pytest.approx(plain.shift)


def test_a_reading_that_does_not_count_still_tells_what_stands(rig, right):
    moved = Reading(2, 1, (("D30",), *STACKS[0][1:]), "settled", 9e9, trust="doubted")
    learned = learn(rig, [read(1, right[0]), moved], NO_SHIMS)
    assert learned.standing.shoes[1].packs == moved.packs
    assert not learned.heard(1)
