"""Which stacks a move changed, and so which must be read after it: one rule for all who ask."""

from types import SimpleNamespace

import pytest

from optimizer.bench.questions import changed, missing, next_round, to_read
from optimizer.model.plan import PlanStack
from optimizer.model.readings import Reading

STANDS = ((("A",), ("B",)), (("C",), ("D",)), (("E",), ("F",)))
PLANNED_MM = ((0.1,), (), ())


def planned(shoe, packets, shims_mm):
    return PlanStack(shoe, "2 singles", packets, shims_mm, *(1.0,) * 8)


def advised(after, shims_mm, stands_mm, kind="swap"):
    """Advice after a round whose first stack was planned on 0.1 mm and stands on `stands_mm`."""
    stacks = tuple(
        planned(k, a, s) for k, (a, s) in enumerate(zip(after, shims_mm, strict=True), 1)
    )
    return SimpleNamespace(
        stacks=STANDS,
        known=SimpleNamespace(shims_mm=stands_mm, records=(SimpleNamespace(shims_mm=PLANNED_MM),)),
        advice=SimpleNamespace(kind=kind),
        unread=(),
        next=SimpleNamespace(sets=(SimpleNamespace(stacks=stacks),)),
    )


def read(number, shoe, packs):
    return Reading(number, shoe, packs, "settled", 100.0)


SWAPPED = (STANDS[0], (("C",), ("X",)), STANDS[2])


@pytest.mark.parametrize(
    ("after", "shims_mm", "stands_mm", "shoes"),
    [
        # the stack that stands on 0.3 mm stays there
        (SWAPPED, ((0.3,), (), ()), ((0.3,), (), ()), [2]),
        # it is to stand on the plan's shims again
        (SWAPPED, PLANNED_MM, ((0.3,), (), ()), [1, 2]),
        # other shims of the same thickness in all: nothing is to be done under shoe 1
        (SWAPPED, ((0.1, 0.2), (), ()), ((0.3,), (), ()), [2]),
        # packets of one stack in another order are the same stack
        ((STANDS[0][::-1], *SWAPPED[1:]), PLANNED_MM, PLANNED_MM, [2]),
    ],
)
def test_all_who_ask_agree_on_what_a_move_changed(after, shims_mm, stands_mm, shoes):
    done = advised(after, shims_mm, stands_mm)
    assert [q.shoe for q in next_round(done, 2) if changed(q, done)] == shoes
    assert [q.shoe for q in to_read(done, 2)] == shoes
    first = tuple(read(1, k, packs) for k, packs in enumerate(STANDS, 1))
    begun = (*first, read(2, 3, STANDS[2]))
    session = SimpleNamespace(size=0, planned=dict(enumerate(STANDS, 1)))
    assert [q.shoe for q in missing(session, begun, lambda _rows: done, None)] == shoes


def test_a_stack_that_was_never_read_is_asked_for_beside_what_a_move_changed():
    """No set stops while one is unread."""
    done = advised(SWAPPED, PLANNED_MM, PLANNED_MM)
    done.unread = (3,)
    assert [q.shoe for q in to_read(done, 2)] == [2, 3]
