import numpy as np
import pytest

from optimizer.bench.bag_file import calibrated_bag, deflection_shift
from optimizer.bench.learn import learn, loads
from optimizer.bench.readings import Reading
from optimizer.inventory.belief import believe
from optimizer.inventory.reader import read_bag
from optimizer.physics.packet import packets
from optimizer.physics.stack import Seating, stack_load
from tests.simulator.setup import bag_for, disc_push_n, job_for, packs_of, rig_for, task_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0, 0.0, 0.0)
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])


@pytest.mark.parametrize("instrument_sd_mm", [0.002, 0.010])
def test_the_file_read_again_gives_what_was_learned(tmp_path, instrument_sd_mm):
    world = World(sharp=True, instrument_sd_mm=instrument_sd_mm)
    truth, job = Truth.draw(world, 4), job_for(world)
    bag, rig = bag_for(truth), rig_for(truth, job)
    mean = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    apart = mean + np.array([10.0, 0.0, -10.0])
    readings = [Reading(1, s + 1, STACKS[s], "settled", apart[s]) for s in range(3)]
    learned = learn(rig, readings, NO_SHIMS)
    target = job.target.load_n
    path = tmp_path / "calibrated.csv"
    path.write_text(calibrated_bag(bag, learned, job.instrument, target), encoding="utf-8")
    again = believe(read_bag(path, job), job)
    assert again.names == rig.belief.names
    moved = disc_push_n(task_for(again, job)) - disc_push_n(task_for(rig.belief, job))
    shift, _ = deflection_shift(learned, target)
    wanted = -shift * stack_rate(rig)
    stacks = np.arange(27).reshape(3, 9)
    apart_now, apart_wanted = (np.diff(push[stacks].sum(1)) for push in (moved, wanted))
    # the lot's variance is estimated again from the corrected values, hence the tolerance
    assert np.abs(apart_wanted).min() > 1.0
    assert apart_now == pytest.approx(apart_wanted, rel=0.4)


def stack_rate(rig):
    p = packets(rig.discs, rig.members(STACKS[:1]), rig.model)
    seated = Seating(rig.datum.load_n)
    up, down = (stack_load(p, seated, rig.travel_mm[:1] + step) for step in (1e-4, -1e-4))
    return (up - down)[0] / 2e-4
