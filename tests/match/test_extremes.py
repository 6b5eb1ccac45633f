"""Stacks that are sound at the travel may not be on a worn drum, or at rest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.control import Limits
from optimizer.match.extremes import extremes_note
from optimizer.match.solve import match
from optimizer.mechanics.datum import Seating
from optimizer.mechanics.packet import packets, residual_cone_height
from tests.bags import plain_job, seeded_bag, seeded_task
from tests.hookup.hookups import matched, work


def test_a_stack_beyond_its_limit_on_a_worn_drum_is_told_with_how_far() -> None:
    task = seeded_task(seeded_bag(30, 1), plain_job(worn_mm=2.6))
    answer = match(task, Limits()).answer
    (note,) = extremes_note(task, [answer])
    p = packets(task.discs, answer.stacks, task.model)
    share = 1 - residual_cone_height(p, answer.worn_n[:, None]) / np.where(
        p.free_mm > 0, p.free_mm, 1.0
    )
    worst = share[p.free_mm > 0].max()
    assert worst > task.rules.deflection_limit
    assert f"to {worst:.2f} h" in note
    assert "worn drum" in note


def test_nothing_is_said_of_stacks_that_keep_the_limits() -> None:
    task = seeded_task(seeded_bag(30, 1), plain_job(worn_mm=1.53))
    assert not list(extremes_note(task, [match(task, Limits()).answer]))


def test_a_stack_hardly_pressed_at_rest_is_told_where_its_place_is_known() -> None:
    task = work().task  # the shipped clutch of unequal shoes
    answer = matched().answer
    p = packets(task.discs, answer.stacks, task.model)
    share = 1 - residual_cone_height(p, answer.rest_n[:, None]) / np.where(
        p.free_mm > 0, p.free_mm, 1.0
    )
    least = share[p.free_mm > 0].min()
    assert least < 0.15
    (note,) = extremes_note(task, [answer])
    assert f"are pressed to {least:.2f} h only" in note
    seated = replace(task, datum=Seating(27.0))
    assert not [n for n in extremes_note(seated, [answer]) if "at rest" in n]
