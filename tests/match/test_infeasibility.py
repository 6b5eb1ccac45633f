"""A bag that cannot do it is told which limit binds, what is missing, what comes nearest."""

from __future__ import annotations

import pytest

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.match.solve import match
from optimizer.model.job import Job, StackRules
from tests.bags import plain_job, seeded_bag, seeded_task


def refusal(discs: int, job: Job) -> str:
    with pytest.raises(CannotBuildError) as caught:
        match(seeded_task(seeded_bag(discs, 1), job), Limits(20))
    return str(caught.value)


def test_too_few_discs_says_how_many_of_what_kind() -> None:
    text = refusal(15, plain_job())
    assert "15 usable discs" in text
    assert "more like those on hand" in text
    assert "are missing" in text
    assert "Nearest pattern" in text


def test_a_target_beyond_the_deflection_limit_is_named() -> None:
    text = refusal(30, plain_job(target_n=3000.0, rules=StackRules(packet_sizes=(1,))))
    assert "beyond 0.75 h" in text


def test_a_height_window_that_binds_is_named() -> None:
    rules = StackRules(packet_sizes=(1, 2), free_height_mm=(1.0, 3.0))
    assert "the free height window that binds" in refusal(40, plain_job(rules=rules))


def test_a_count_window_that_binds_is_named() -> None:
    rules = StackRules(packet_sizes=(1, 2), discs=(2, 2))
    assert "window of discs per stack that binds" in refusal(40, plain_job(rules=rules))


def test_packet_sizes_that_bind_are_named() -> None:
    rules = StackRules(packet_sizes=(1,))
    text = refusal(40, plain_job(target_n=1000.0, tolerance_n=5.0, rules=rules))
    assert "the allowed packet sizes that binds" in text
