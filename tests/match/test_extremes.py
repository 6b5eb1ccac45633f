"""Stacks that are sound at the travel may not be on a worn drum, or at rest."""

from __future__ import annotations

import numpy as np

from optimizer.control import Limits
from optimizer.estimate.problem import members_of
from optimizer.match.extremes import extremes_note
from optimizer.match.solve import match
from optimizer.mechanics.packet import cone_left, packets
from tests.bags import plain_job, seeded_bag, seeded_task


def test_a_stack_beyond_its_limit_on_a_worn_drum_is_told_with_how_far() -> None:
    task = seeded_task(seeded_bag(40, 1), plain_job(worn_mm=2.6))
    answer = match(task, Limits()).answer
    (note,) = extremes_note(task, [answer])
    p = packets(task.discs, members_of(answer.stacks), task.model)
    share = 1 - cone_left(p, answer.worn_n[:, None]) / np.where(p.free_mm > 0, p.free_mm, 1.0)
    worst = share[p.free_mm > 0].max()
    assert worst > task.rules.deflection_limit
    assert f"to {worst:.2f} h" in note
    assert "worn drum" in note


def test_nothing_is_said_of_stacks_that_keep_the_limits() -> None:
    task = seeded_task(seeded_bag(40, 1), plain_job(worn_mm=1.53))
    assert not list(extremes_note(task, [match(task, Limits()).answer]))


def test_a_stack_hardly_pressed_at_rest_is_told_where_its_place_is_known() -> None:
    task = seeded_task(seeded_bag(40, 1), plain_job(worn_mm=1.53, installed_mm=13.45))
    answer = match(task, Limits()).answer
    p = packets(task.discs, members_of(answer.stacks), task.model)
    share = 1 - cone_left(p, answer.rest_n[:, None]) / np.where(p.free_mm > 0, p.free_mm, 1.0)
    least = share[p.free_mm > 0].min()
    notes = list(extremes_note(task, [answer]))
    assert bool([n for n in notes if "at rest" in n]) == (least < 0.15)
    assert least < 0.15
