"""Stacks that do not fill their room at rest are told of."""

import pytest

from optimizer import text
from optimizer.match.extremes import loose_note
from optimizer.match.one_stack import one_stack, read_stack
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import free_height
from tests.report.plans import dealt

ROOM_MM = 11.6


def test_a_loose_set_is_told_once_with_its_gap_and_the_remedy():
    plan, _ = dealt(installed_mm=ROOM_MM)
    stacks = plan.sets[0].stacks
    assert all(stack.rest_load_n == 0 for stack in stacks)
    (note,) = plan.warnings
    gaps = sorted(ROOM_MM - stack.free_height_mm for stack in stacks)
    assert f"{text.length(gaps[0], 'mm')} to {text.length(gaps[-1], 'mm')} is left" in note
    assert "shoe 1, shoe 2, shoe 3" in note
    assert "shims" in note


def test_shims_that_fill_the_room_or_a_seating_load_leave_nothing_loose():
    (hardly,) = dealt(installed_mm=ROOM_MM, shims_mm=(0.5, 0.5))[0].warnings
    assert hardly.startswith("at rest discs of 3 of 3 stacks are pressed to 0.03 h only")
    assert dealt()[0].warnings == ()


def test_load_tells_it_of_one_stack_as_the_mechanics_see_it():
    _, work = dealt(installed_mm=ROOM_MM)
    stack = read_stack(" ".join(work.belief.names[:7]), work.belief.names)
    told = one_stack(work, stack, (), 2)
    height = free_height(packets(work.task.discs, work.task.members((stack,)), work.task.model))[0]
    assert told.rest_load_n == 0
    assert f"shoe 2. {ROOM_MM - height:.3f} mm is left" in told.warnings[-1]


@pytest.mark.parametrize(("count", "says"), [(6, "set 1 shoe 6."), (7, "7 of 8 stacks.")])
def test_many_loose_stacks_are_counted(count, says):
    gaps = {f"set 1 shoe {i + 1}": 0.1 if i < count else -0.1 for i in range(8)}
    (note,) = loose_note(gaps, "mm")
    assert says in note
