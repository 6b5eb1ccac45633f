import numpy as np
import pytest

from optimizer.estimate.learn import calibrated, learn, loads
from optimizer.estimate.prior import LEVEL_SD
from optimizer.model.readings import Reading
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0, 0.0, 0.0)
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])


def rig(sharp=True, sd_mm=0.01, seed=3):
    world = World(sharp, sd_mm)
    return rig_for(Truth.draw(world, seed), job_for(world))


def readings(*loads_n, number=1, rebuilt=False):
    return [
        Reading(number, s + 1, STACKS[s], "settled", load, None, rebuilt)
        for s, load in enumerate(loads_n)
    ]


def test_nothing_is_learned_from_first_pushes():
    first = [Reading(1, 1, STACKS[0], "first", 950.0)]
    assert learn(rig(), first, NO_SHIMS).load_factor == 1.0


def test_readings_as_expected_move_nothing_but_narrow_the_doubt():
    bench = rig()
    before = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS)
    learned = learn(bench, readings(*before.mean_n), NO_SHIMS)
    assert learned.load_factor == pytest.approx(1.0, abs=1e-9)
    assert np.abs(learned.shift).max() < 1e-9
    assert learned.load_factor_sd < LEVEL_SD["en16984"] / 5
    gauge = bench.gauge
    noise = gauge.resolution_n**2 / 12 + gauge.repeatability_n**2
    noise += (before.rate * gauge.travel_stop_mm) ** 2
    after = loads(learned, STACKS, NO_SHIMS)
    # a wide prior leaves the doubt of the reading itself, 1/(1/prior + 1/noise)
    assert np.diag(after.covariance_n2) == pytest.approx(noise, rel=0.05)


def test_all_loads_high_by_a_share_is_a_load_factor():
    bench = rig()
    before = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS)
    learned = learn(bench, readings(*(1.04 * before.mean_n)), NO_SHIMS)
    # seated at a fixed load, a stack's load rises a little less than its stiffness
    assert learned.load_factor == pytest.approx(1.04, abs=0.004)
    assert np.ptp(loads(learned, STACKS, NO_SHIMS).mean_n / before.mean_n) < 2e-4


def test_a_reading_again_averages_the_gauge_and_a_rebuild_brings_new_scatter():
    bench = rig()
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    once = readings(*mean)

    def variance(more):
        cover = loads(learn(bench, once + more, NO_SHIMS), STACKS, NO_SHIMS).covariance_n2
        return cover[0, 0]

    assert variance(readings(*mean, number=2)) == pytest.approx(variance([]) / 2, rel=0.05)
    assert variance(readings(*mean, number=2, rebuilt=True)) > 0.8 * variance([])


def test_untouched_stacks_stay_known_when_another_is_rebuilt():
    bench = rig()
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    learned = learn(bench, readings(*mean), NO_SHIMS)
    swapped = list(STACKS[0])
    swapped[0] = ("D30",)
    after = loads(learned, (tuple(swapped), *STACKS[1:]), NO_SHIMS)
    now = loads(learned, STACKS, NO_SHIMS)
    assert after.covariance_n2[1:, 1:] == pytest.approx(now.covariance_n2[1:, 1:])
    assert after.covariance_n2[0, 0] > 4 * now.covariance_n2[0, 0]


def test_loads_believed_are_as_far_off_as_they_say():
    """Calibration on the hidden bench: 25 sets, chi-square of what is said of differences.

    The bench draws a gauge zero, a modulus and friction that the learner does not know;
    they are common to all stacks. 50 degrees of freedom: mean 1, sd of the mean 0.2.
    """
    square = []
    for seed in range(25):
        world = World(sharp=True, instrument_sd_mm=0.01)
        truth = Truth.draw(world, seed)
        stacks = [np.arange(9 * s, 9 * s + 9) for s in range(3)]
        for stack in stacks:
            truth.build(stack)
        seen = readings(*(truth.read_n(stack) for stack in stacks))
        believed = loads(learn(rig_for(truth, job_for(world)), seen, NO_SHIMS), STACKS, NO_SHIMS)
        apart = np.array([[1, -1, 0], [0, 1, -1]])
        error = apart @ (believed.mean_n - [truth.load_n(stack) for stack in stacks])
        cover = apart @ believed.covariance_n2 @ apart.T
        square.append(error @ np.linalg.solve(cover, error) / 2)
    assert np.mean(square) == pytest.approx(1.0, abs=0.45)


def test_calibrated_discs_are_no_more_doubtful_than_before():
    bench = rig()
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    left = calibrated(learn(bench, readings(*mean), NO_SHIMS)).belief.covariance
    was = bench.belief.covariance
    assert np.all(np.einsum("nii->ni", left) <= np.einsum("nii->ni", was) * (1 + 1e-9))
    assert left[0, 0, 0] < was[0, 0, 0]
    assert left[-1] == pytest.approx(was[-1])  # never read
