from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from optimizer.bench.questions import next_round
from optimizer.estimate.known import as_built, earlier, record, teach, with_record
from optimizer.mechanics.datum import Installed, Seating
from optimizer.model.readings import Reading, Record
from tests.simulator.setup import job_for, packs_of, rig_for
from tests.simulator.truth import Truth, World

STACKS = packs_of([np.arange(9 * s, 9 * s + 9) for s in range(3)])
OTHERS = packs_of([np.arange(9 * s, 9 * s + 9) for s in (1, 0, 2)])
NO_SHIMS = ((), (), ())


def rows(load_n=800.0, rounds=(1,), shoes=(1, 2, 3), stacks=STACKS):
    return tuple(
        Reading(number, shoe, stacks[shoe - 1], "settled", load_n + shoe)
        for number in rounds
        for shoe in shoes
    )


def session(source, read, stacks=STACKS, shims=NO_SHIMS):
    return record(source, stacks, shims, False, read)


@pytest.fixture(scope="module")
def rig():
    world = World(sharp=True, instrument_sd_mm=0.01)
    return rig_for(Truth.draw(world, 4), job_for(world))


def test_a_file_read_on_is_one_session_and_so_is_one_taken_on_to_the_next_plan():
    first, other = session("a.csv", rows()), session("b.csv", rows(820.0))
    longer = session("a.csv", rows(rounds=(1, 2)))
    assert earlier((first, other), longer) == (other,)
    assert with_record((first,), longer) == (longer,)
    copied = session("next/readings.csv", rows(rounds=(1, 2)))
    assert with_record((first, other), copied) == (other, copied)
    # looked at again it stays where it was
    assert with_record((first, other), first) == (first, other)
    assert earlier((first, other), other) == (first,)


def test_a_reading_keeps_the_shims_it_was_taken_with():
    kept = session("a.csv", rows(), shims=((0.5,), (), (0.2, 0.1)))
    assert [row.shims_mm for row in kept.rows] == pytest.approx([0.5, 0.0, 0.3])
    again = record("a.csv", STACKS, NO_SHIMS, False, kept.rows)
    assert again.rows == kept.rows


def test_sessions_teach_together_what_their_readings_teach_at_once(rig):
    parts = teach(rig, (session("a.csv", rows()), session("b.csv", rows(805.0))))
    at_once = teach(rig, (session("c.csv", rows() + rows(805.0, rounds=(2,))),))
    assert parts.learned.load_factor == pytest.approx(at_once.learned.load_factor)
    assert parts.learned.load_factor_sd == pytest.approx(at_once.learned.load_factor_sd)
    assert [row.round for row in parts.learned.evidence.readings] == [0, 0, 0, 1, 1, 1]


def test_what_stands_is_the_last_plan_and_what_was_read_of_it(rig):
    before = session("a.csv", rows())
    same = teach(rig, (before, session("b.csv", ())))
    assert same.stacks == STACKS
    assert same.unread == ()  # never taken apart
    assert same.last(2) == before.rows[1:2]
    new = teach(rig, (before, session("b.csv", rows(shoes=(3,)), OTHERS)))
    assert new.stacks == OTHERS
    assert new.unread == (1, 2)
    assert new.last(1) == ()
    moved = rows(shoes=(1,), stacks=(STACKS[1],))
    lost = teach(rig, (session("a.csv", moved),))
    assert lost.stacks == (STACKS[1], (), STACKS[2])
    assert not lost.stands


def test_nothing_read_is_what_was_measured(rig):
    known = teach(rig, ())
    assert known.factor_sd is None
    assert not known.stands
    assert known.learned.rig is rig
    assert isinstance(session("a.csv", ()), Record)


def test_a_stack_stiffer_than_its_discs_tell_is_so_at_every_travel_but_when_seated():
    load, work = np.array([20.0, 510.0, 1000.0]), np.array(1000.0)
    # half of what is beyond the seating load, 5 per cent more
    assert as_built(load, work, 1049.0, Seating(20.0)) == pytest.approx([20, 534.5, 1049])
    assert as_built(load, work, 1050.0, Installed(20.0)) == pytest.approx(1.05 * load)


def test_a_stack_rebuilt_on_other_shims_stands_on_them(rig):
    planned = ((0.5,), (0.2, 0.1), (0.3,))
    read = list(rows(rounds=(1, 2)))
    read[3] = replace(read[3], shims_mm=0.7)  # shoe 1, round 2
    read[5] = replace(read[5], shims_mm=0.0)  # shoe 3, round 2
    known = teach(rig, (session("a.csv", tuple(read), shims=planned),))
    assert known.shims_mm == ((0.7,), (0.2, 0.1), ())
    doubted = replace(read[3], trust="doubted")
    known = teach(rig, (session("a.csv", (*read[:3], doubted), shims=planned),))
    assert known.shims_mm == planned


def test_the_next_round_asks_for_the_shims_where_they_are_not_those_of_the_plan(rig):
    planned = ((0.5,), (0.2,), (0.3,))
    known = teach(rig, (session("a.csv", rows(), shims=planned),))
    wanted = SimpleNamespace(
        known=known,
        unread=(),
        advice=SimpleNamespace(kind="rebuild"),
        next=SimpleNamespace(
            sets=(
                SimpleNamespace(
                    stacks=[
                        SimpleNamespace(shoe=s, packets=STACKS[s - 1], shims_mm=shims)
                        for s, shims in ((1, (0.5,)), (2, (0.2, 0.1)), (3, ()))
                    ]
                ),
            )
        ),
    )
    asked = next_round(wanted, 2)
    assert [question.shims_mm for question in asked] == [None, pytest.approx(0.3), 0]
    assert asked[1].reading("settled", 800.0).shims_mm == pytest.approx(0.3)
