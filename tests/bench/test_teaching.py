"""What tells a seat from the discs on it."""

import numpy as np
import pytest

from optimizer.estimate.consistency import Suspect
from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.learn import learn, loads
from optimizer.model.readings import Reading
from optimizer.report.advice import seat_words
from tests.simulator.setup import SHOES, job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

NO_SHIMS = (0.0,) * SHOES
STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(SHOES)])


@pytest.fixture(scope="module")
def rig():
    """Dressed discs by caliper, travels known to 20 um."""
    world = World(False, 0.010, flat_sd_mm=0.02, place_sd_mm=0.02)
    return rig_for(Truth.draw(world, 3), job_for(world))


def apart_n(rig, rounds):
    """How well (sd in N) it is known by how much more shoe 1 presses than shoe 2."""
    level = loads(learn(rig, (), NO_SHIMS), STACKS, NO_SHIMS)
    readings = [
        Reading(number, shoe, packs, "settled", float(level.mean_n.mean()))
        for number, stacks in enumerate(rounds, 1)
        for shoe, packs in enumerate(stacks, 1)
    ]
    learned = learn(rig, readings, NO_SHIMS)
    between = np.zeros(len(learned.covariance))
    between[[rig.factor_at + 1, rig.factor_at + 2]] = level.rate[0], -level.rate[0]
    return float(np.sqrt(between @ learned.covariance @ between)), level


def test_whole_stacks_exchanged_tell_a_seat_from_its_discs_and_reading_again_does_not(rig):
    """Half the sum of both differences holds neither stack, only how readings and builds err.

    Of (a + p + e) and (b + q + f), then (b + p + g) and (a + q + h): p - q less its half sum is
    (e + g - f - h) / 2, of a variance as large as that of one build and its reading.
    """
    exchanged = (STACKS[1], STACKS[0], STACKS[2])
    once, level = apart_n(rig, [STACKS])
    again, _ = apart_n(rig, [STACKS, STACKS])
    told, _ = apart_n(rig, [STACKS, exchanged])
    own = float(level.scatter_n2[0] + reading_variance(rig.gauge, level.rate)[0])
    prior = 2 * (rig.place_sd_mm[0] * level.rate[0]) ** 2
    exact = np.sqrt(1 / (1 / own + 1 / prior))
    assert told == pytest.approx(exact, rel=0.1)
    assert told < 0.4 * again
    assert again > 0.9 * once


def test_how_to_tell_a_seat_from_its_discs_is_said_of_a_seat_alone():
    seat = Suspect("seat", "shoe 1", 3.4, ("disc D05",))
    assert "the whole stacks of shoes 1 and 2 under each other" in seat_words(seat, 3)
    assert "shoes 3 and 1" in seat_words(Suspect("seat", "shoe 3", -3.4, ()), 3)
    assert seat_words(Suspect("disc", "D05", 3.4, ()), 3) == ""
    assert seat_words(seat, 1) == ""
