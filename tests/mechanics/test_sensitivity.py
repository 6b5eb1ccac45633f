"""First-order sensitivities against differences of the exact stack load."""

from dataclasses import replace

import pytest

from optimizer.mechanics.constant import packet_constant_gradient
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import rate, stack_load
from tests.estimate.sets import a_set

STEP = 1e-6
FIELDS = ("thickness_mm", "cone_height_mm", "factor")


@pytest.mark.parametrize("law", ["en16984", "thick"])
@pytest.mark.parametrize("datum", ["seating", "installed"])
def test_every_disc_moves_the_load_as_foretold(datum, law):
    one = a_set(datum, law)
    task, members = one.task, one.stacks

    def load(discs):
        return stack_load(packets(discs, members, task.model), task.datum, task.travel_mm)

    slope = rate(packets(task.discs, members, task.model), one.load_n)
    # how the nesting height (some 5 um) answers to a disc is left out: 1 % of the rate
    left_out = 0.012 if datum == "installed" else 0.001
    for s in range(3):
        gradient = packet_constant_gradient(
            task.discs, members, task.model, task.datum, float(one.load_n[s])
        )
        for p, packet in enumerate(one.stacks[s]):
            for j, disc in enumerate(packet[packet >= 0]):
                for k, field in enumerate(FIELDS):
                    ends = []
                    for step in (-STEP, STEP):
                        value = getattr(task.discs, field).copy()
                        value[disc] += step  # the factor is 1: a step is one of its logarithm
                        ends.append(load(replace(task.discs, **{field: value}))[s])
                    change = (ends[1] - ends[0]) / (2 * STEP)
                    foretold = -slope[s] * gradient[s, p, j, k]
                    near = pytest.approx(change, rel=1e-3, abs=left_out * slope[s])
                    assert foretold == near, (field, disc)
