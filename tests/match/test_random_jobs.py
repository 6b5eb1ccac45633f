"""A sample of the random jobs; `python -m tests.match.random_jobs 200` plays more."""

import pytest

from tests.match.random_jobs import play, random_job

#: one or more shoes, like and unlike, both datums and laws, shims, windows, lists
SAMPLE = [0, 2, 4, 8, 10, 14]


@pytest.mark.parametrize("number", SAMPLE)
def test_no_answer_breaks_a_limit_and_no_set_by_chance_was_refused(number):
    found = play(random_job(number), twice=False)
    assert not found.broken
    assert not found.by_chance


@pytest.mark.parametrize("number", [3, 13])
def test_the_same_seed_gives_the_same_answer(number):
    assert not play(random_job(number), search=False).differs
