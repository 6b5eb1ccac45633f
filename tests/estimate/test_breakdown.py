from dataclasses import replace

import numpy as np
import pytest

from optimizer.estimate.breakdown import LEAST_GAIN, MOST_AGAIN, shares, what_helps
from optimizer.estimate.loads import DISCS, chance, load_uncertainty
from optimizer.model.job import Instrument
from tests.estimate.sets import a_set

CALIPER = Instrument(0.010, 0.010, flat_sd_mm=0.0)
MICROMETER = Instrument(0.002, 0.002, flat_sd_mm=0.0)
TOLERANCE_N = 9.0


def level(one):
    """The set as if it were matched: the believed loads all alike."""
    return np.full(3, one.load_n.mean())


def helps(one, task=None):
    task = task or one.task
    uncertainty = load_uncertainty(task, one.stacks, level(one))
    return what_helps(task, one.stacks, level(one), uncertainty, TOLERANCE_N, one.job)


def test_shares_make_the_whole_and_the_largest_comes_first():
    one = a_set(tool=CALIPER)
    parts = shares(load_uncertainty(one.task, one.stacks, one.load_n))
    assert sum(p.share for p in parts) == pytest.approx(1.0)
    assert [p.share for p in parts] == sorted((p.share for p in parts), reverse=True)
    assert {p.source for p in parts} == set(DISCS)


@pytest.mark.parametrize(
    ("tool", "sharp", "first"),
    [
        (CALIPER, 0.0, "thickness"),
        (MICROMETER, 1.0, "edges"),
        (MICROMETER, 0.0, "stiffness"),
        (replace(MICROMETER, flat_sd_mm=0.03), 0.0, "flats"),
    ],
)
def test_the_largest_source_is_the_one_put_in(tool, sharp, first):
    one = a_set(tool=tool, sharp=sharp)
    assert shares(load_uncertainty(one.task, one.stacks, one.load_n))[0].source == first


def test_without_any_doubt_there_are_no_shares_and_no_help():
    one = a_set(tool=Instrument(0.0, 0.0))
    belief = replace(one.task.belief, covariance=np.zeros((40, 3, 3)), scatter=np.zeros(40))
    sure = replace(one, task=replace(one.task, belief=belief))
    assert all(p.share == 0 for p in shares(load_uncertainty(sure.task, sure.stacks, sure.load_n)))
    assert helps(sure) == ()


def test_help_is_listed_best_first_with_the_chances_now():
    one = a_set(tool=CALIPER, sharp=0.4)
    found = helps(one)
    uncertainty = load_uncertainty(one.task, one.stacks, level(one))
    now = chance(one.task, uncertainty, level(one), TOLERANCE_N).within_tolerance
    assert len(found) == 3
    assert all(h.chance_now == now for h in found)
    assert [h.chance_then for h in found] == sorted((h.chance_then for h in found), reverse=True)
    assert all(h.chance_then >= now + LEAST_GAIN for h in found)
    assert "a micrometer instead of this instrument" in str(found)
    assert " % -> " in str(found[0])


def test_sharp_discs_of_the_set_are_named_and_only_they():
    one = a_set(tool=MICROMETER, sharp=0.4)
    dress = next(h for h in helps(one) if h.action.startswith("dress"))
    used = set(one.stacks[one.stacks >= 0].tolist())
    sharp = {one.task.belief.names[d] for d in used if one.task.belief.scatter[d] == 0.02}
    assert set(dress.discs) == sharp
    assert f"these {len(sharp)} sharp discs" in dress.action


def test_nobody_is_told_to_get_what_he_has_or_to_dress_what_is_dressed():
    actions = " ".join(h.action for h in helps(a_set(tool=MICROMETER, sharp=0.0)))
    assert "micrometer" not in actions
    assert "dress" not in actions


def test_measuring_again_names_few_discs_and_gains_less_than_a_micrometer():
    found = helps(a_set(tool=CALIPER, sharp=0.0))
    again = next(h for h in found if "three times more" in h.action)
    assert len(again.discs) == MOST_AGAIN
    assert found[0].action.startswith("a micrometer")
    assert again.chance_then < found[0].chance_then


def test_the_chances_foretold_for_dressed_discs_are_those_of_a_dressed_bag():
    one = a_set(tool=MICROMETER, sharp=1.0)
    dress = next(h for h in helps(one) if h.action.startswith("dress"))
    scatter = np.full(40, one.job.model.dressed_scatter)
    dressed = replace(one.task, belief=replace(one.task.belief, scatter=scatter))
    uncertainty = load_uncertainty(dressed, one.stacks, level(one))
    assert (
        dress.chance_then == chance(dressed, uncertainty, level(one), TOLERANCE_N).within_tolerance
    )


def test_flats_are_measured_again_where_they_leave_the_most_doubt():
    one = a_set(tool=replace(MICROMETER, flat_sd_mm=0.03), sharp=0.0)
    found = [h for h in helps(one) if "flats" in h.action]
    assert found
    assert "three times more" in found[0].action
    assert found[0].chance_then > found[0].chance_now + LEAST_GAIN


def test_flats_that_were_measured_are_not_told_as_not_measured():
    for flat_sd in (0.01, 0.02, 0.03):
        one = a_set(tool=replace(MICROMETER, flat_sd_mm=flat_sd), sharp=0.0)
        actions = [h.action for h in helps(one) if "flats" in h.action]
        assert all("three times more" in action for action in actions), actions


def test_a_travel_taken_with_a_caliper_is_worth_a_dial_gauge():
    one = a_set(tool=MICROMETER)
    task = replace(one.task, travel_sd_mm=np.full(3, 0.02))
    found = helps(one, task)
    best = max(found, key=lambda h: h.chance_then - h.chance_now)
    assert best.action == "measure the travel of every shoe with a dial gauge"
    assert best.discs == ()
    parts = {p.source: p for p in shares(load_uncertainty(task, one.stacks, one.load_n))}
    assert parts["travel"].share > 0.5
    assert "seat" not in parts
