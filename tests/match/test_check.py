"""Every limit of a job that a set may break is seen before the set is shown."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.match.check import broken
from optimizer.match.solve import match
from optimizer.model.job import StackRules
from optimizer.model.pattern import Pattern
from tests.bags import plain_job, seeded_bag, seeded_task


@pytest.fixture(scope="module")
def whole():
    task = seeded_task(seeded_bag(30, 4), plain_job(rules=StackRules(packet_sizes=(1, 2))))
    return task, match(task, Limits()).answer


def ruled(task, **rules):
    return replace(task, rules=replace(task.rules, **rules))


def test_a_set_that_was_matched_breaks_nothing(whole):
    assert broken(*whole) == ()


def test_a_broken_limit_of_the_discs_is_named(whole):
    task, answer = whole
    first, second = (int(stack[stack >= 0][0]) for stack in answer.stacks[:2])
    twice = answer.stacks.copy()
    twice[0][twice[0] == first] = second
    spare = np.setdiff1d(task.usable, sorted(answer.discs))[:1]
    apart = (np.array([first, second]),)
    for said, of, one in (
        ("a disc is used twice", task, replace(answer, stacks=twice)),
        ("is to be left", replace(task, usable=task.usable[task.usable != first]), answer),
        ("a disc is left that must be used", replace(task, use=spare), answer),
        ("under different shoes", replace(task, together=apart), answer),
        ("no shim of 0.100 mm left", task, replace(answer, shims=((0.1,), (), ()))),
    ):
        assert [said in words for words in broken(of, one)] == [True], said


def test_a_broken_limit_of_the_stacks_is_named(whole):
    task, answer = whole
    most = max(pattern.discs for pattern in answer.patterns)
    unlike = (Pattern(most), *answer.patterns[1:])
    assert answer.patterns[0] != unlike[0]
    for said, of, one in (
        ("more or fewer discs", ruled(task, discs=(1, most - 1)), answer),
        ("a size that is not allowed", ruled(task, packet_sizes=(3,)), answer),
        ("different patterns", task, replace(answer, patterns=unlike)),
        ("outside its window", ruled(task, free_height_mm=(0.1, 0.2)), answer),
        ("further from its target", replace(task, target_n=task.target_n + 30.0), answer),
        ("a packet is pressed to", ruled(task, deflection_limit=0.1), answer),
    ):
        assert [said in words for words in broken(of, one)] == [True], said
