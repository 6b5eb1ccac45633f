import numpy as np
import pytest

from optimizer.estimate.learn import deflection_shift, learn, loads
from optimizer.mechanics.datum import Seating
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import stack_load
from optimizer.model.readings import Reading
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0, 0.0, 0.0)
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])


@pytest.mark.parametrize("instrument_sd_mm", [0.002, 0.010])
def test_the_shifts_of_a_stack_are_what_its_load_was_corrected_by(instrument_sd_mm):
    world = World(sharp=True, instrument_sd_mm=instrument_sd_mm)
    truth, job = Truth.draw(world, 4), job_for(world)
    rig = rig_for(truth, job)
    mean = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    apart = mean + np.array([10.0, 0.0, -10.0])
    readings = [Reading(1, s + 1, STACKS[s], "settled", apart[s]) for s in range(3)]
    learned = learn(rig, readings, NO_SHIMS)
    # the discs alone: what the builds add is not theirs
    p = packets(learned.rig.discs, rig.members(STACKS), learned.rig.model)
    corrected = stack_load(p, learned.rig.datum, rig.travel_mm)
    shift, sd = deflection_shift(learned, job.target.load_n)
    by_shift = -shift[:27].reshape(3, 9).sum(1) * stack_rate(rig)
    moved = np.diff(corrected - mean * learned.load_factor)
    assert np.abs(moved).min() > 1.0
    assert np.diff(by_shift) == pytest.approx(moved, rel=0.1)
    assert (sd > 0).all()


def stack_rate(rig):
    p = packets(rig.discs, rig.members(STACKS[:1]), rig.model)
    seated = Seating(rig.datum.load_n)
    up, down = (stack_load(p, seated, rig.travel_mm[:1] + step) for step in (1e-4, -1e-4))
    return (up - down)[0] / 2e-4
