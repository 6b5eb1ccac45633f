"""A bag that cannot do it is told which limit binds, what is missing, what comes nearest."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.match.infeasibility import reached
from optimizer.match.solve import match
from optimizer.model.job import Job, StackRules
from tests.bags import exact_shoe, plain_job, seeded_bag, seeded_task


@cache
def refusal(discs: int, job: Job) -> str:
    with pytest.raises(CannotBuildError) as caught:
        match(seeded_task(seeded_bag(discs, 1), job), Limits())
    return str(caught.value)


def test_too_few_discs_says_how_many_of_what_kind() -> None:
    text = refusal(15, plain_job())
    assert "15 usable discs" in text
    assert "more like those on hand" in text
    assert "are missing" in text
    assert "Nearest pattern" in text


def test_a_bag_just_begun_is_too_small_and_not_too_weak() -> None:
    text = refusal(3, plain_job())
    assert "The bag is too small" in text


def test_a_target_beyond_the_deflection_limit_is_named() -> None:
    text = refusal(30, plain_job(target_n=3000.0, rules=StackRules(packet_sizes=(1,))))
    assert "beyond 0.75 h" in text


def test_a_height_window_that_binds_is_named() -> None:
    rules = StackRules(packet_sizes=(1, 2), free_height_mm=(1.0, 3.0))
    assert "the free height window that binds" in refusal(28, plain_job(rules=rules))


def test_a_count_window_that_binds_is_named() -> None:
    rules = StackRules(packet_sizes=(1, 2), discs=(2, 2))
    assert "window of discs per stack that binds" in refusal(28, plain_job(rules=rules))


def test_packet_sizes_that_bind_are_named() -> None:
    rules = StackRules(packet_sizes=(1,))
    text = refusal(40, plain_job(tolerance_n=5.0, rules=rules))
    assert "the allowed packet sizes that binds: without it a set was found" in text


def test_what_would_not_help_alone_is_not_said_to_bind() -> None:
    rules = StackRules(packet_sizes=(1,))
    text = refusal(40, plain_job(target_n=1000.0, tolerance_n=5.0, rules=rules))
    assert "packet sizes that binds" not in text
    freed = plain_job(target_n=1000.0, tolerance_n=5.0, rules=StackRules(packet_sizes=(1, 2, 3)))
    assert "was found" in refusal(34, freed)


def test_a_refusal_says_what_proves_it_or_that_nothing_does() -> None:
    few = StackRules(packet_sizes=(1,), discs=(2, 2))
    proven = refusal(12, plain_job(tolerance_n=1.0, rules=few))
    assert "can be built" in proven
    assert "of this bag add up to such a load" in proven
    freed = plain_job(target_n=1000.0, tolerance_n=5.0, rules=StackRules(packet_sizes=(1, 2, 3)))
    assert "It is not proven that there is none" in refusal(34, freed)


def test_a_travel_ten_times_too_long_and_a_target_far_off_are_told_as_slips() -> None:
    text = refusal(30, plain_job(travel_mm=15.24, worn_mm=17.0))
    assert "No stack of these discs bears a travel of 15.240 mm" in text
    assert "check the travel under [clutch]" in text
    assert "With 1.524 mm of travel" in text
    text = refusal(30, plain_job(target_n=89.0, tolerance_n=5.0))
    assert "At this travel stacks of such discs carry from about" in text
    assert "The target of 89.0 N looks wrong" in text


def test_one_pattern_alone_is_no_range() -> None:
    """It said "from about 1352.6 N (5 singles) to 1352.6 N (5 singles)"."""
    rules = StackRules(packet_sizes=(1,), discs=(5, 5))
    text = refusal(15, plain_job(tolerance_n=5.0, rules=rules))
    (line,) = [s for s in text.splitlines() if s.startswith("At this travel")]
    assert line.startswith("At this travel stacks of such discs carry about ")
    assert line.count("5 singles") == 1


def test_loads_of_unlike_shoes_are_named_shoe_by_shoe() -> None:
    job = plain_job(target_n=2000.0)
    job = replace(job, shoes=(exact_shoe(1.524, 1.7), exact_shoe(1.6, 1.8), exact_shoe(1.524, 1.7)))
    (line,) = [s for s in refusal(20, job).splitlines() if s.startswith("At this travel")]
    assert "shoe by shoe" in line


def test_what_the_bag_can_reach_is_told_over_patterns_of_any_number_of_packets() -> None:
    """Only those of the most packets were looked at: "from 362.7 N (13 singles) to 362.7 N"."""
    job = plain_job(worn_mm=1.53, installed_mm=13.6)
    found = reached(seeded_task(seeded_bag(30, 1), job))
    assert len({one.pattern.packets for one in found}) > 2
    text = refusal(30, job)
    (line,) = [s for s in text.splitlines() if s.startswith("At this travel")]
    low, high = (float(part.split(" N")[0]) for part in line.split("about ")[1].split(" to "))
    assert low < 500 < high
    assert "check the travel" not in text
