"""The table of slips of the hand in small."""

from dataclasses import asdict

import numpy as np
import pytest

from tests.simulator.setup import job_for
from tests.simulator.slips import SLIPS, session
from tests.simulator.truth import Truth, World
from tests.simulator.write import markdown

WORLD = World(sharp=False, instrument_sd_mm=0.002)
#: bags in which a hand slips
BAGS = (4, 16)


def played(slip, insists):
    return [session(Truth.draw(WORLD, s), job_for(WORLD), SLIPS[slip], insists, s) for s in BAGS]


@pytest.mark.parametrize("insists", [False, True])
def test_slips_are_asked_about_and_spoil_nothing(insists):
    clean, slipped = played("none", insists), played("100 lbf", insists)
    assert sum(p.slips for p in slipped) >= 2
    assert all(p.asked_wrong == p.slips for p in slipped)
    assert all(p.asked_right == 0 for p in (*clean, *slipped))
    assert all(p.within for p in slipped)
    assert np.mean([p.builds for p in slipped]) <= np.mean([p.builds for p in clean]) + 0.5


def test_the_table_is_written():
    row = "dressed + micrometer | 100 lbf | insists"
    (one,) = [asdict(session(Truth.draw(WORLD, 3), job_for(WORLD), SLIPS["100 lbf"], True, 3))]
    assert "| dressed + micrometer | 100 lbf | insists | 1 |" in markdown(
        {("slips", row, 3): one}, 9
    )
