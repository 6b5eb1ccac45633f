"""Factors on the declared sds, learned from readings, against numerical integration."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from optimizer.estimate.evidence import Evidence
from optimizer.estimate.known import record, teach
from optimizer.estimate.learn import learn, loads
from optimizer.estimate.repeats import SCALE_SD
from optimizer.estimate.scale import EDGES, INSTRUMENT, REST, mended
from optimizer.model.readings import Reading
from tests.simulator.play import NO_SHIMS
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])


def one_by_one(surprise, sd=1.0, noise=0.5):
    """Each surprise is of a quantity of its own, declared with `sd`, read with `noise`."""
    n = len(surprise)
    eye, none = np.eye(n), np.zeros(n)
    return Evidence((), (), np.asarray(surprise), eye, sd**2 * eye, none + noise**2,
                    none, none + 1.0,
                    np.ones(n, dtype=bool))  # fmt: skip


@pytest.mark.parametrize("spread", [0.3, 1.0, 2.5])
def test_the_factor_is_the_posterior_mean_by_quadrature(spread):
    """Normal surprises of variance f^2 + 0.25, ln f normal about 0 (any textbook)."""
    surprise = spread * np.array([-1.4, 0.3, 0.9, -0.6, 1.1, 0.2])

    def density(ln):
        var = np.exp(2 * ln) + 0.25
        log = -0.5 * (ln / SCALE_SD) ** 2
        return np.exp(log + (-0.5 * np.log(var) - 0.5 * surprise**2 / var).sum())

    def mean(of):
        return quad(lambda ln: of(ln) * density(ln), -4, 4)[0] / quad(density, -4, 4)[0]

    told = mended(one_by_one(surprise), np.zeros(6, dtype=int))
    factor = np.exp(mean(lambda ln: ln))
    assert told.factors[0] == pytest.approx(factor, rel=0.03)
    # what is believed is the mean over the factor of the normal answers, and their spread counts
    gain = mean(lambda ln: np.exp(2 * ln) / (np.exp(2 * ln) + 0.25))
    more = mean(lambda ln: (np.exp(2 * ln) / (np.exp(2 * ln) + 0.25) - gain) ** 2)
    assert told.state == pytest.approx(gain * surprise, rel=0.03)
    left = factor**2 * 0.25 / (factor**2 + 0.25)
    assert np.diag(told.covariance) == pytest.approx(left + more * surprise**2, rel=0.05)


def test_a_few_readings_that_agree_hardly_prove_the_sds_too_large():
    """Where all is as declared, whoever stops as three agree is nearly as far off as is said."""
    rng = np.random.default_rng(5)
    true = rng.normal(size=(4000, 3))
    seen = true + rng.normal(size=(4000, 3))
    square = []
    for at in np.flatnonzero((np.abs(seen) < 1.4).all(1)):
        told = mended(one_by_one(seen[at], noise=1.0), np.zeros(3, dtype=int))
        square.append((told.state - true[at]) ** 2 / np.diag(told.covariance))
    assert 1 < np.mean(square) < 1.3  # 1.48 where the mean square of the factor is 1 before


def test_before_much_was_read_all_is_as_declared():
    told = mended(one_by_one([0.9]), np.zeros(1, dtype=int))
    assert told.factors[0] == pytest.approx(1.0, abs=0.15)
    assert told.covariance == pytest.approx(0.2, rel=0.15)  # 1 * 0.25 / (1 + 0.25)


def test_what_is_not_in_doubt_keeps_its_sd():
    told = mended(one_by_one([4.0, -5.0, 4.5]), np.array([-1, -1, -1]))
    assert told.state == pytest.approx(np.array([4.0, -5.0, 4.5]) / 1.25)
    assert np.diag(told.covariance) == pytest.approx(0.2)


def learned_at(gaps_n, scale_sd):
    world = World(sharp=True, instrument_sd_mm=0.002)
    rig = rig_for(Truth.draw(world, 7), job_for(world))
    mean = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    rows = [Reading(1, s + 1, STACKS[s], "settled", mean[s] + gaps_n[s]) for s in range(3)]
    return learn(rig, rows, NO_SHIMS, scale_sd=scale_sd)


def test_stacks_far_apart_widen_all_doubt_and_stacks_alike_narrow_it():
    scatter = [
        learned_at(gaps, SCALE_SD).rig.belief.scatter[0]
        for gaps in ((0.0, 0.0, 0.0), (60.0, -60.0, 0.0))
    ]
    assert scatter[0] < 0.02 < 0.03 < scatter[1]


def test_sds_that_are_known_give_the_plain_answer():
    plain, sure = learned_at((9.0, -4.0, 1.0), 0.0), learned_at((9.0, -4.0, 1.0), 1e-3)
    assert sure.rig.belief.factor == pytest.approx(plain.rig.belief.factor, abs=1e-6)
    assert sure.covariance == pytest.approx(plain.covariance, rel=0.01, abs=1e-6)


def built_often(rebuilt_n, moved_n, rounds=6):
    """Readings of the same stacks, built anew each round: off by `rebuilt_n` from round to round,
    and by `moved_n` from shoe to shoe in all of them (gaps by hand, in N)."""
    world = World(sharp=True, instrument_sd_mm=0.002)
    rig = rig_for(Truth.draw(world, 7), job_for(world))
    mean = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    gaps = np.array([[1, -1, 0], [-1, 0, 1], [0, 1, -1]])
    rows = [
        Reading(n + 1, s + 1, STACKS[s], "settled",
                mean[s] + rebuilt_n * gaps[n % 3, s] + moved_n * gaps[0, s], rebuilt=True)
        for n in range(rounds) for s in range(3)
    ]  # fmt: skip
    return rig, rows


def test_rebuilds_teach_edges_and_what_lasts_teaches_the_rest():
    """Stacks that differ at every build, against stacks that differ alike at every build."""
    wild, lasting = (
        learn(*built_often(*gaps), NO_SHIMS, scale_sd=SCALE_SD).factors
        for gaps in ((30.0, 0.0), (0.0, 30.0))
    )
    assert wild[EDGES] > 1.3
    assert wild[EDGES] > 1.2 * wild[INSTRUMENT]
    assert lasting[EDGES] < 0.9
    assert lasting[REST] > lasting[EDGES]


def factors_of(rig, gaps_n):
    """Factors learned from one reading of every stack, each so many N above what is believed."""
    mean = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    rows = [Reading(1, s + 1, STACKS[s], "settled", mean[s] + gaps_n[s]) for s in range(3)]
    return learn(rig, rows, NO_SHIMS, scale_sd=SCALE_SD).factors


def test_a_level_far_off_widens_no_doubt_but_its_own():
    """The law's level keeps its own sd: loads all a tenth high say nothing of discs and edges."""
    world = World(sharp=True, instrument_sd_mm=0.002)
    rig = rig_for(Truth.draw(world, 7), job_for(world))
    mean = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    assert factors_of(rig, 0.1 * mean) == pytest.approx(factors_of(rig, 0 * mean), rel=0.05)


def test_a_shoe_far_from_where_it_was_measured_widens_what_no_instrument_sees():
    """Any of three, of a clutch whose shoes are in more doubt than all else: alike by symmetry."""
    world = World(True, 0.0005, 0.001, sharp_scatter=0.001, place_sd_mm=0.02)
    rig = rig_for(Truth.draw(world, 7), job_for(world))
    rate = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).rate
    each = [factors_of(rig, 0.05 * rate * (np.arange(3) == shoe)) for shoe in range(3)]
    assert each[0][REST] > 1.2 > factors_of(rig, np.zeros(3))[REST]
    assert each[1] == pytest.approx(each[0], rel=0.02)
    assert each[2] == pytest.approx(each[0], rel=0.02)


def test_an_instrument_known_by_its_repeats_keeps_its_sd():
    rig, rows = built_often(30.0, 0.0)
    sure = replace(rig, belief=replace(rig.belief, instrument_doubt=0.01))
    told = learn(sure, rows, NO_SHIMS, scale_sd=SCALE_SD).factors
    assert told[INSTRUMENT] == pytest.approx(1.0, abs=0.02)
    assert told[EDGES] > 1.3


def test_an_earlier_bench_day_is_learned_from_too():
    """Two sessions of the known file teach what all their readings in one would."""
    rig, rows = built_often(30.0, 0.0)
    days = [record(f"day {k}.csv", STACKS, ((),) * 3, False, rows[9 * k : 9 * k + 9])
            for k in range(2)]  # fmt: skip
    both, last = teach(rig, days).learned.factors, teach(rig, days[1:]).learned.factors
    assert both == pytest.approx(learn(rig, rows, NO_SHIMS, scale_sd=SCALE_SD).factors)
    assert both[EDGES] > last[EDGES] > 1
