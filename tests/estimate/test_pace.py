"""Minutes learned from the gaps that the page saw, by hand and at their limits."""

from dataclasses import replace
from math import exp, log

import pytest

from optimizer.estimate.pace import PSEUDO, paced
from optimizer.io.minutes import Minutes, minutes_path, read_minutes, write_minutes
from optimizer.model.job import Effort
from tests.simulator.setup import job_for
from tests.simulator.truth import World


@pytest.fixture
def job(tmp_path):
    return replace(job_for(World(True, 0.01)), path=tmp_path / "job.toml")


def seen(job, kind, *minutes):
    now = Minutes()
    for one in minutes:
        now = now.more(kind, one)
    write_minutes(job.path, now)
    return paced(job)


def test_nothing_seen_leaves_the_usual_minutes(job):
    assert paced(job) == job.effort


def test_few_gaps_move_them_a_little_and_many_all_the_way(job):
    """The weighted mean of logarithms: four times the usual 1.5 minutes, twice 0.8."""
    few = seen(job, "reading", 0.8, 0.8)
    assert few.reading == pytest.approx(exp((4 * log(1.5) + 2 * log(0.8)) / 6), rel=1e-3)
    assert dict(few.learned) == {"reading": 2}
    assert PSEUDO == 4
    assert seen(job, "reading", *[0.8] * 80).reading == pytest.approx(0.8, rel=0.05)
    assert few.build == Effort().build


def test_pauses_and_typing_from_paper_do_not_count(job):
    went = seen(job, "reading", 0.8, 45.0, 0.02, 0.9, 30.0)
    assert dict(went.learned) == {"reading": 2}
    assert went.reading < 1.5


def test_what_the_job_writes_wins(job):
    own = replace(job, effort=Effort(reading=2.0, written=("reading",)))
    assert seen(own, "reading", *[0.8] * 20) == own.effort


@pytest.mark.parametrize("spoiled", ["", "[]", '{"schema": "evenstack.minutes/1", "took": 3}', "{"])
def test_a_file_that_is_none_tells_nothing(job, spoiled):
    minutes_path(job.path).write_text(spoiled)
    assert read_minutes(job.path) == Minutes()
    assert paced(job) == job.effort


def test_the_newest_are_kept(job):
    assert len(read_minutes(job.path).took) == 0
    seen(job, "build", *[3.0] * 150)
    assert len(read_minutes(job.path).took["build"]) == 100
