"""The doubt of a reading on the sheet: of the discs, of what all stacks share, of the gauge."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.estimate.gauge import reading_variance
from optimizer.estimate.prior import LEVEL_SD
from optimizer.model.plan import AFTER
from optimizer.report.facts import set_facts, states_sd_n
from tests.report.plans import dealt


def test_before_readings_the_steel_of_the_lot_comes_on_top():
    plan, work = dealt()
    one = plan.sets[0]
    reading = set_facts(one, work).reading_sd_n
    load = np.array([stack.working_load_n for stack in one.stacks])
    alone = np.array([stack.working_load_sd_n for stack in one.stacks])
    rate = np.array([stack.rate_n_per_mm for stack in one.stacks])
    gauge = reading_variance(work.job.gauge, rate)
    # nearly: a load rises by somewhat less than its share of the stiffness, the seating load
    # being given
    steel = LEVEL_SD["en16984"] * load
    assert reading == pytest.approx(np.sqrt(alone**2 + steel**2 + gauge), rel=0.05)
    half = replace(one, common_sd=LEVEL_SD["en16984"] / 2)
    assert np.all(set_facts(half, work).reading_sd_n < 0.8 * reading)


def test_a_plan_file_that_does_not_say_it_is_taken_to_assume_the_lot():
    plan, work = dealt()
    older = replace(plan.sets[0], common_sd=None)
    told = set_facts(older, work).reading_sd_n
    assert told == pytest.approx(set_facts(plan.sets[0], work).reading_sd_n)


def test_after_readings_the_doubt_of_a_stack_holds_all_but_the_gauge():
    plan, work = dealt()
    stacks = tuple(replace(stack, working_load_sd_n=3.0) for stack in plan.sets[0].stacks)
    known = replace(plan.sets[0], stacks=stacks, chance_known=AFTER, common_sd=0.004)
    facts = set_facts(known, work)
    rate = np.array([stack.rate_n_per_mm for stack in stacks])
    assert states_sd_n(known, facts, work.task)[1] == pytest.approx(3.0)
    assert facts.reading_sd_n == pytest.approx(
        np.sqrt(3.0**2 + reading_variance(work.job.gauge, rate))
    )
