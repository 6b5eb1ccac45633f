"""Where groups meet in a stack their end faces settle anew: a build of its own."""

import numpy as np
import pytest

from optimizer.estimate.builds import track
from optimizer.estimate.learn import learn, loads
from optimizer.model.readings import Reading
from tests.simulator.play import NO_SHIMS
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

GROUPS = packs_of([np.arange(3 * g, 3 * g + 3) for g in range(9)])
STACKS = tuple(sum(GROUPS[3 * s : 3 * s + 3], ()) for s in range(3))
GAUGED = [Reading(0, None, g, "settled", 900.0, 0.5) for g in GROUPS]


def under(number, stacks=STACKS, **more):
    return [Reading(number, s + 1, p, "settled", 900.0, **more) for s, p in enumerate(stacks)]


def test_a_stack_of_groups_has_a_build_of_its_own_until_it_is_taken_apart():
    rows = [*GAUGED, *under(1), *under(2), *under(3, rebuilt=True)]
    built, count, _ = track(rows, True)
    assert count == 9 + 3 + 3
    first, again, anew = (built[9 + 3 * k] for k in range(3))
    assert first.build == (0, 0, 0, 1, 1, 1, 2, 2, 2) == anew.build
    assert first.builds == again.builds
    assert set(anew.builds) - set(first.builds) == {12}


def test_its_variance_is_that_of_the_faces_that_met_something_else():
    """Of nine discs the ends of three groups, each with one of its two faces: 6/2 of 9."""
    world = World(sharp=True, instrument_sd_mm=0.002)
    rig = rig_for(Truth.draw(world, 7), job_for(world))
    one = learn(rig, [*GAUGED, *under(1)[:1]], NO_SHIMS, keep_groups=True).evidence
    at = rig.durable + np.arange(10)
    variance = np.diag(one.prior)[at]
    slope = one.slope[9, at]
    scatter = variance * slope**2
    assert scatter[9] == pytest.approx(scatter[:3].sum() / 3, rel=0.05)


def test_a_reading_tells_of_the_joints_and_other_groups_do_not_have_them():
    world = World(sharp=True, instrument_sd_mm=0.002)
    rig = rig_for(Truth.draw(world, 7), job_for(world))
    mean = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS).mean_n
    rows = [Reading(1, s + 1, p, "settled", mean[s] + 12 * (s == 0)) for s, p in enumerate(STACKS)]
    told = learn(rig, [*GAUGED, *rows], NO_SHIMS, keep_groups=True)
    assert told.build_mm[9] < told.build_mm[10:12].min()  # the first reads high: it yields less
    other = (*GROUPS[0], *GROUPS[1], *GROUPS[3])
    standing, anew = (loads(told, (p, *STACKS[1:]), NO_SHIMS) for p in (STACKS[0], other))
    assert anew.covariance_n2[0, 0] > 1.5 * standing.covariance_n2[0, 0]
