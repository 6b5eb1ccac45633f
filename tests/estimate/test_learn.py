from dataclasses import replace

import numpy as np
import pytest

from optimizer.bench.decide import certified, told_n2
from optimizer.estimate.builds import Standing
from optimizer.estimate.gauge import step_variance
from optimizer.estimate.learn import as_learned, foreseen, in_clutch, learn, loads
from optimizer.estimate.prior import LEVEL_SD
from optimizer.estimate.probability import spread_within
from optimizer.model.readings import Reading
from tests.bags import plain_job, seeded_bag, seeded_task
from tests.simulator.setup import job_for, packs_of, rig_for, task_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0, 0.0, 0.0)
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])
SHARP = World(sharp=True, instrument_sd_mm=0.01)


def rig(sharp=True, sd_mm=0.01, seed=3):
    world = World(sharp, sd_mm)
    return rig_for(Truth.draw(world, seed), job_for(world))


def readings(*loads_n, stacks=STACKS, number=1, rebuilt=False):
    return [
        Reading(number, s + 1, stacks[s], "settled", load, None, rebuilt)
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
    fine = replace(bench.gauge, resolution_n=0.01, repeatability_n=1.5)  # no step to speak of
    bench = replace(bench, gauge=fine)
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    once = readings(*mean)

    def variance(more):
        cover = loads(learn(bench, once + more, NO_SHIMS), STACKS, NO_SHIMS).covariance_n2
        return cover[0, 0]

    assert variance(readings(*mean, number=2)) == pytest.approx(variance([]) / 2, rel=0.05)
    assert variance(readings(*mean, number=2, rebuilt=True)) > 0.8 * variance([])


def test_reading_again_does_not_average_the_step_of_the_display():
    """A gauge of 1 lbf steps and hardly any noise: three readings are told little more than one."""
    bench = rig()
    still = replace(bench.gauge, resolution_n=4.448, repeatability_n=0.05, travel_stop_mm=0.0)
    bench = replace(bench, gauge=still)
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    thrice = [r for number in (1, 2, 3) for r in readings(*mean, number=number)]
    left = loads(learn(bench, thrice, NO_SHIMS), STACKS, NO_SHIMS).covariance_n2
    assert np.sqrt(np.diag(left)) == pytest.approx(4.448 / np.sqrt(12), rel=0.05)


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


PLACE_SD_MM = 0.02


def placed(reads):
    """A bench whose travels are known to 0.02 mm, read in the clutch or beside it."""
    world = replace(SHARP, place_sd_mm=PLACE_SD_MM)
    job = job_for(world)
    job = replace(job, gauge=replace(job.gauge, reads=reads))
    return rig_for(Truth.draw(world, 3), job), job


def test_a_shoe_that_presses_further_is_learned_in_the_clutch_and_not_beside_it():
    """Swapped stacks read high under shoe 1 whatever the discs: its travel is longer."""
    for reads, told in (("in the clutch", True), ("beside it", False)):
        bench, job = placed(reads)
        rate = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).rate
        seen = []
        for number in range(3):
            stacks = STACKS[number:] + STACKS[:number]
            mean = loads(learn(bench, (), NO_SHIMS), stacks, NO_SHIMS).mean_n.copy()
            mean[0] += 0.03 * rate[0]
            seen += readings(*mean, stacks=stacks, number=number + 1)
        learned = learn(bench, seen, NO_SHIMS)
        further = learned.rig.travel_mm - bench.travel_mm
        task = task_for(bench.belief, job)
        after = as_learned(task, learned)
        if told:
            assert 0.012 < further[0] - further[1:].mean() < 0.03
            assert (after.travel_sd_mm < PLACE_SD_MM).all()
        else:
            assert not further.any()
            assert after.travel_sd_mm == pytest.approx(PLACE_SD_MM)
        assert after.travel_mm == pytest.approx(task.travel_mm + further)
        assert after.worn_travel_mm == pytest.approx(task.worn_travel_mm + further)


def test_before_any_reading_every_shoe_is_doubted_as_declared_and_one_read_alone_less():
    """Travel and seat of a shoe stand under its travel: their sds add in squares."""
    bench, job = placed("in the clutch")
    travel_sd, seat_sd = np.array([0.01, 0.02, 0.03]), np.array([0.004, 0.0, 0.016])
    task = replace(task_for(bench.belief, job), travel_sd_mm=travel_sd, seat_sd_mm=seat_sd)
    bench = replace(bench, travel_sd_mm=task.travel_sd_mm, seat_sd_mm=task.seat_sd_mm)
    declared = np.hypot(travel_sd, seat_sd)
    after = as_learned(task, learn(bench, (), NO_SHIMS))
    assert after.place_sd_mm == pytest.approx(declared)
    # the third alone, and by one that wrote down three readings too low for its travel
    mean = loads(learn(bench, (), NO_SHIMS), STACKS[2:], (0.0,), (3,))
    low = [
        Reading(n, 3, STACKS[2], "settled", mean.mean_n[0] - 0.04 * mean.rate[0], None, True)
        for n in (1, 2, 3)
    ]
    learned = learn(bench, low, NO_SHIMS)
    after = as_learned(task, learned)
    assert after.place_sd_mm[:2] == pytest.approx(declared[:2])
    assert 0.5 * declared[2] < after.place_sd_mm[2] < 0.99 * declared[2]
    assert after.travel_mm[2] < task.travel_mm[2] - 0.001
    assert (after.model.load_factor, after.discs) == (learned.load_factor, learned.rig.discs)
    assert after.model.load_factor < 1


def test_what_a_reading_would_tell_is_of_a_stack_without_shims_where_it_names_none():
    """In a room of fixed length shims press the stack further."""
    job = plain_job(installed_mm=12.4)
    rig = replace(seeded_task(seeded_bag(30, 3), job), gauge=job.gauge)
    stacks = tuple(tuple((f"D{9 * s + k:02d}",) for k in range(1, 10)) for s in range(3))
    would = foreseen(rig, readings(890.0, 890.0, 890.0, stacks=stacks), False)
    now = loads(learn(rig, (), NO_SHIMS), stacks, NO_SHIMS)
    assert would.slope[:, : rig.durable] == pytest.approx(now.slope[:, : rig.durable])
    shimmed = loads(learn(rig, (), NO_SHIMS), stacks, (0.2, 0.2, 0.2))
    assert shimmed.slope[:, : rig.durable] != pytest.approx(now.slope[:, : rig.durable])


def test_beside_the_clutch_its_shoes_are_doubted_whatever_is_read():
    bench, _ = placed("beside it")
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    read = loads(learn(bench, readings(*mean), NO_SHIMS), STACKS, NO_SHIMS)
    more = np.diag(in_clutch(bench, read).covariance_n2 - read.covariance_n2)
    assert np.sqrt(more) == pytest.approx(PLACE_SD_MM * read.rate)
    there, _ = placed("in the clutch")
    own = loads(learn(there, readings(*mean), NO_SHIMS), STACKS, NO_SHIMS)
    assert in_clutch(there, own) is own
    assert np.diag(own.covariance_n2).max() < np.diag(in_clutch(bench, read).covariance_n2).min()


@pytest.mark.parametrize("place_sd_mm", [0.0, PLACE_SD_MM])
def test_loads_believed_are_as_far_off_as_they_say(place_sd_mm):
    """Calibration on the hidden bench: 25 sets, chi-square of what is said of differences.

    The bench draws a gauge zero, a modulus and friction that the learner does not know;
    they are common to all stacks. 50 degrees of freedom: mean 1, sd of the mean 0.2.
    """
    square = []
    for seed in range(25):
        world = replace(SHARP, place_sd_mm=place_sd_mm)
        truth = Truth.draw(world, seed)
        stacks = [np.arange(9 * s, 9 * s + 9) for s in range(3)]
        for stack in stacks:
            truth.build(stack)
        seen = readings(*(truth.read_n(stack, shoe=s) for s, stack in enumerate(stacks)))
        believed = loads(learn(rig_for(truth, job_for(world)), seen, NO_SHIMS), STACKS, NO_SHIMS)
        apart = np.array([[1, -1, 0], [0, 1, -1]])
        true = [truth.load_n(stack, shoe=s) for s, stack in enumerate(stacks)]
        error = apart @ (believed.mean_n - true)
        cover = apart @ believed.covariance_n2 @ apart.T
        square.append(error @ np.linalg.solve(cover, error) / 2)
    assert np.mean(square) == pytest.approx(1.0, abs=0.45)


def test_calibrated_discs_are_no_more_doubtful_than_before():
    bench = rig()
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    learned = learn(bench, readings(*mean), NO_SHIMS)
    left = as_learned(task_for(bench.belief, job_for(SHARP)), learned).belief.covariance
    was = bench.belief.covariance
    assert np.all(np.einsum("nii->ni", left) <= np.einsum("nii->ni", was) * (1 + 1e-9))
    assert left[0, 0, 0] < was[0, 0, 0]
    assert left[-1] == pytest.approx(was[-1])  # never read


def test_a_load_that_is_read_again_on_a_still_gauge_promises_nothing_new():
    """The display will say the same number, so no chance moves; a stack built anew is news."""
    bench = rig()
    still = replace(bench.gauge, resolution_n=8.0, repeatability_n=0.01, travel_stop_mm=0.0)
    bench = replace(bench, gauge=still)
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    learned = learn(bench, readings(*mean), NO_SHIMS)
    weight, width = np.ones(3), 4.0
    now = loads(learned, STACKS, NO_SHIMS)
    within = float(spread_within(now.mean_n, now.covariance_n2, width))
    for stop_at in (within - 0.02, within + 0.02):
        chance = certified(learned, now, weight, width, stop_at)
        assert chance == float(stop_at < within)
    apart = loads(replace(learned, standing=Standing({}, {})), STACKS, NO_SHIMS)
    assert 0.05 < certified(learned, apart, weight, width, within) < 0.95


def test_what_reading_again_tells_is_what_drawn_readings_tell():
    """Loads and readings drawn together from the state; what a reading tells, by regression."""
    bench = rig()
    coarse = replace(bench.gauge, resolution_n=6.0, repeatability_n=1.2, travel_stop_mm=0.0)
    bench = replace(bench, gauge=coarse)
    mean = loads(learn(bench, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    learned = learn(bench, readings(*mean), NO_SHIMS)
    now = loads(learned, STACKS, NO_SHIMS)
    rng = np.random.default_rng(4)
    state = rng.multivariate_normal(
        np.zeros(len(learned.covariance)), learned.covariance, 40_000, method="eigh"
    )
    noise = coarse.resolution_n**2 / 12 + coarse.repeatability_n**2
    noise -= float(step_variance(coarse, now.rate)[0])
    off = state @ now.slope.T
    read = off + state @ now.rounding.T + np.sqrt(noise) * rng.standard_normal(off.shape)
    both = np.cov(np.concatenate([off, read], axis=1).T)
    drawn = both[:3, 3:] @ np.linalg.inv(both[3:, 3:]) @ both[3:, :3]
    assert np.diag(told_n2(learned, now)) == pytest.approx(np.diag(drawn), rel=0.04)


def test_a_stack_put_together_anew_scatters_as_its_edges_do():
    """Beside what is known of its discs: the deflection that edges add, times the rate."""
    bench = rig()
    learned = learn(bench, (), NO_SHIMS)
    now = loads(learned, STACKS, NO_SHIMS)
    known = np.diag(now.slope @ learned.covariance @ now.slope.T)
    np.testing.assert_allclose(np.diag(now.covariance_n2), known + now.scatter_n2, rtol=1e-9)
    edges_mm = np.sqrt(now.scatter_n2) / now.rate
    assert ((edges_mm > 1e-4) & (edges_mm < 0.1)).all()
