"""Single discs on the gauge, against the dense normal conditional and against readings."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.estimate.direct import Direct, alone, folded, mean_of
from optimizer.estimate.learn import learn
from optimizer.estimate.prior import LEVEL_SD
from optimizer.model.readings import Reading
from tests.simulator.play import NO_SHIMS
from tests.simulator.setup import job_for, rig_for
from tests.simulator.truth import TRAVEL_MM, Truth, World

WORLD = World(sharp=True, instrument_sd_mm=0.010, discs=8)
AT_MM = TRAVEL_MM / 9
LEVEL = LEVEL_SD["en16984"]


@pytest.fixture(scope="module")
def rig():
    return rig_for(Truth.draw(WORLD, 3), job_for(WORLD))


def pressed(rig, loads_n, which):
    disc = np.array(which)
    seen = Direct(disc, np.full(len(disc), AT_MM), np.asarray(loads_n), np.ones(len(disc)))
    return folded(rig.belief, rig.discs, rig.model, rig.datum, rig.gauge, seen, LEVEL)


def test_one_by_one_is_what_all_at_once_would_be(rig):
    """The normal conditional of all discs and the factor together (any textbook)."""
    which = [0, 2, 3, 5]
    disc, at = np.array(which), np.full(4, AT_MM)
    one = alone(rig.belief, rig.discs, rig.model, rig.datum, rig.gauge, disc, at)
    loads = one.load_n * (1 + 0.004 * np.array([1.0, -2.0, 3.0, 2.0]))  # small: hardly curved
    n = len(rig.belief)
    prior = np.zeros((3 * n + 1, 3 * n + 1))
    for d in range(n):
        prior[3 * d : 3 * d + 3, 3 * d : 3 * d + 3] = rig.belief.covariance[d]
    prior[-1, -1] = LEVEL**2
    h = np.zeros((4, 3 * n + 1))
    for row, d in enumerate(which):
        h[row, 3 * d : 3 * d + 3] = one.slope[row]
        h[row, -1] = one.slope[row, 2]
    gain = np.linalg.solve(h @ prior @ h.T + np.diag(one.noise_n2), h @ prior).T
    state = gain @ (loads - one.load_n)
    left = prior - gain @ h @ prior
    after, level_sd = pressed(rig, loads, which)
    assert after.thickness_mm - rig.belief.thickness_mm == pytest.approx(
        state[0 : 3 * n : 3], abs=2e-5
    )
    assert np.log(after.factor) == pytest.approx(state[2 : 3 * n : 3] + state[-1], abs=2e-4)
    assert level_sd == pytest.approx(np.sqrt(left[-1, -1]), rel=0.01)
    assert (np.linalg.eigvalsh(after.covariance) > -1e-12).all()


def test_a_bag_of_loads_tells_what_readings_of_the_same_discs_tell(rig):
    """`learn` takes each as a sub-stack of one, by another road."""
    names, which = rig.belief.names, range(8)
    disc = np.array(which)
    one = alone(rig.belief, rig.discs, rig.model, rig.datum, rig.gauge, disc, np.full(8, AT_MM))
    loads = one.load_n * np.array([1.02, 0.99, 1.01, 1.03, 1.0, 0.98, 1.02, 1.01])
    readings = [
        Reading(1, None, ((names[d],),), "settled", loads[d], AT_MM, rebuilt=True) for d in which
    ]
    learned = learn(rig, readings, NO_SHIMS)
    after, level_sd = pressed(rig, loads, which)
    told = alone(learned.rig.belief, learned.rig.discs, learned.rig.model, rig.datum, rig.gauge,
                 disc, np.full(8, AT_MM))  # fmt: skip
    d = replace(
        rig.discs,
        thickness_mm=after.thickness_mm,
        cone_height_mm=after.cone_height_mm,
        factor=after.factor,
    )
    mine = alone(after, d, rig.model, rig.datum, rig.gauge, disc, np.full(8, AT_MM))
    assert mine.load_n == pytest.approx(told.load_n, rel=2e-3)
    assert level_sd == pytest.approx(learned.load_factor_sd / learned.load_factor, rel=0.1)


def test_a_disc_of_known_load_is_known_to_the_gauge(rig):
    """Without edges and with a fine gauge the believed load is the load that was read."""
    sure = replace(rig.belief, scatter=np.zeros(8))
    fine = replace(rig.gauge, resolution_n=0.01, repeatability_n=0.01, travel_stop_mm=0.0)
    disc, at = np.arange(8), np.full(8, AT_MM)
    one = alone(sure, rig.discs, rig.model, rig.datum, fine, disc, at)
    loads = one.load_n * np.linspace(0.97, 1.05, 8)
    seen = Direct(disc, at, loads, np.ones(8))
    after, _ = folded(sure, rig.discs, rig.model, rig.datum, fine, seen, LEVEL)
    d = replace(
        rig.discs,
        thickness_mm=after.thickness_mm,
        cone_height_mm=after.cone_height_mm,
        factor=after.factor,
    )
    assert alone(after, d, rig.model, rig.datum, fine, disc, at).load_n == pytest.approx(
        loads, abs=0.1
    )


def test_readings_of_one_disc_are_averaged_and_counted():
    mean = mean_of([(4, 0.17, 100.0), (2, 0.17, 90.0), (4, 0.17, 104.0)])
    assert mean.disc.tolist() == [4, 2]
    assert mean.load_n.tolist() == [102.0, 90.0]
    assert mean.times.tolist() == [2.0, 1.0]
