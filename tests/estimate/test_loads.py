"""Doubt of loads against Monte Carlo on the exact mechanics."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.errors import MechanicsError
from optimizer.estimate.loads import SOURCES, chance, load_uncertainty
from optimizer.estimate.prior import believe, level_sd
from optimizer.estimate.probability import spread_within
from optimizer.estimate.problem import pose
from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import stack_load
from tests.bags import plain_job, seeded_bag
from tests.estimate.sets import a_set, spread_chance, true_loads

DRAWS = 6000


@pytest.mark.parametrize(
    ("law", "datum", "overall"),  # every two of them in all ways
    [
        ("en16984", "seating", True),
        ("en16984", "installed", False),
        ("thick", "seating", False),
        ("thick", "installed", True),
    ],
)
def test_sd_and_chances_agree_with_exact_mechanics(law, datum, overall):
    one = a_set(datum, law, overall=overall)
    uncertainty = load_uncertainty(one.task, one.stacks, one.load_n)
    drawn = true_loads(one, DRAWS)
    # the sd of 6000 draws is itself known to 0.9 %
    np.testing.assert_allclose(uncertainty.sd_n, drawn.std(0), rtol=0.035)
    level = one.load_n - one.load_n.mean() * np.ones(3)
    near = 0.3 * level  # as a match would have them, yet not equal
    width = 2.0 * float(uncertainty.sd_n.mean())
    within = spread_within(near + uncertainty.shift_n, uncertainty.covariance_n2(), width)
    assert 0.2 < within < 0.7
    assert within == pytest.approx(spread_chance(drawn - one.load_n + near, width), abs=0.01)


@pytest.mark.parametrize(("singles", "pairs"), [(9, 0), (1, 5)])
def test_singles_and_many_pairs_too(singles, pairs):
    one = a_set("seating", singles=singles, pairs=pairs)
    uncertainty = load_uncertainty(one.task, one.stacks, one.load_n)
    drawn = true_loads(one, DRAWS)
    np.testing.assert_allclose(uncertainty.sd_n, drawn.std(0), rtol=0.035)
    # nested cones hang free at the seating load: the believed discs flatter the stack
    np.testing.assert_allclose(uncertainty.shift_n, drawn.mean(0) - one.load_n, atol=0.6)


def test_sources_add_up_and_belong_to_their_discs():
    one = a_set()
    uncertainty = load_uncertainty(one.task, one.stacks, one.load_n)
    np.testing.assert_allclose(uncertainty.parts_n2.sum(1), uncertainty.sd_n**2)
    assert (uncertainty.disc_n2 >= 0).all()
    sharp = one.task.belief.scatter > one.job.model.dressed_scatter
    for s, stack in enumerate(one.stacks):
        for p, packet in enumerate(stack):
            for j in range(3):
                if packet[j] < 0:
                    assert not uncertainty.disc_n2[s, p, j].any()
                else:
                    edges, stiffness = (
                        uncertainty.disc_n2[s, p, j, 3],
                        uncertainty.disc_n2[s, p, j, 2],
                    )
                    assert (edges > stiffness) == sharp[packet[j]]  # 2 % or 0.4 % against 1 %


def test_the_common_factor_moves_all_loads_and_not_their_spread():
    one = a_set("installed")
    uncertainty = load_uncertainty(one.task, one.stacks, one.load_n)
    # at a given deflection every load is proportional to the modulus
    np.testing.assert_allclose(uncertainty.common_n, one.load_n, rtol=1e-3)
    drawn = true_loads(one, DRAWS, common_sd=level_sd(one.task.model.law))
    found = chance(one.task, uncertainty, one.load_n, 9.0)
    assert found.within_tolerance == pytest.approx((np.ptp(drawn, axis=1) <= 9.0).mean(), abs=0.015)
    off = drawn.mean(1) - one.task.target_n.mean()
    assert found.on_target == pytest.approx(
        (np.abs(off) <= one.task.load_tolerance_n).mean(), abs=0.015
    )
    assert chance(one.task, uncertainty, one.load_n, 9.0, 0.0).within_tolerance == pytest.approx(
        found.within_tolerance, abs=1e-3
    )


def test_a_disc_that_the_law_has_no_answer_for_is_named():
    bag, job = seeded_bag(6, 1), plain_job()
    wide = tuple(replace(d, flat_mm=2.46) if d.name == "D04" else d for d in bag.discs)
    with pytest.raises(MechanicsError, match="disc D04: Expected a ring width") as caught:
        pose(believe(replace(bag, discs=wide), job), job, np.full(3, 890.0))
    assert len(caught.value.problems) == 1


@pytest.mark.parametrize("law", ["en16984", "thick"])
def test_the_doubt_of_flats_agrees_with_exact_mechanics(law):
    """Flats drawn as declared, all else as believed: 1,200 stacks pressed exactly."""
    bag, job = seeded_bag(12, 3), plain_job()
    discs = tuple(replace(d, edge="dressed", flat_mm=0.15) for d in bag.discs)
    job = replace(job, model=replace(job.model, law=law, disc_stiffness_sd=0.0))
    task = pose(believe(replace(bag, discs=discs), job), job, np.full(3, 890.0))
    stacks = np.full((1, 9, 3), -1)
    stacks[0, :, 0] = np.arange(9)
    alone = replace(
        task,
        travel_mm=task.travel_mm[:1],
        target_n=task.target_n[:1],
        travel_sd_mm=task.travel_sd_mm[:1],
        seat_sd_mm=task.seat_sd_mm[:1],
    )
    load = stack_load(packets(task.discs, stacks, task.model), task.datum, 1.5)
    part = load_uncertainty(alone, stacks, load).parts_n2[0, SOURCES.index("flats")]
    rng = np.random.default_rng(2)
    count, times = len(task.belief), 1200
    own = task.discs.take(np.tile(np.arange(count), times))
    off = rng.normal(0, job.instrument.flat_sd_mm, count * times)
    own = replace(own, flat_mm=own.flat_mm + off)
    members = np.tile(stacks, (times, 1, 1))
    members = np.where(members >= 0, members + count * np.arange(times)[:, None, None], -1)
    drawn = stack_load(packets(own, members, task.model), task.datum, 1.5)
    assert np.sqrt(part) == pytest.approx(np.std(drawn), rel=0.08)


def once(datum):
    """The datum of shoes that are all alike, for stacks of any number."""
    return datum if isinstance(datum, Seating) else Installed(float(np.mean(datum.length_mm)))


@pytest.mark.parametrize("datum", ["seating", "installed"])
def test_the_doubt_of_travel_and_seat_agrees_with_exact_mechanics(datum):
    """2,000 travels and seats drawn as declared, the stacks pressed exactly."""
    one = a_set(datum)
    task = replace(one.task, travel_sd_mm=np.full(3, 0.02), seat_sd_mm=np.full(3, 0.01))
    uncertainty = load_uncertainty(task, one.stacks, one.load_n)
    rng = np.random.default_rng(5)
    p = packets(task.discs, one.stacks, task.model)
    many = p.take(np.tile(np.arange(3), 2000))
    for sd, source in ((task.travel_sd_mm, "travel"), (task.seat_sd_mm, "seat")):
        travel = task.travel_mm + rng.normal(0, sd, (2000, 3))
        drawn = stack_load(many, once(task.datum), travel.ravel()).reshape(2000, 3)
        part = uncertainty.parts_n2[:, SOURCES.index(source)]
        np.testing.assert_allclose(np.sqrt(part), np.std(drawn, axis=0), rtol=0.05)
    np.testing.assert_allclose(
        uncertainty.sd_n**2 - uncertainty.on_tester.sd_n**2, uncertainty.parts_n2[:, -2:].sum(1)
    )
