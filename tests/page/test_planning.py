"""The ways by minutes on the page."""

import pytest

from optimizer.io.minutes import Minutes, write_minutes
from optimizer.page import planning
from tests.page.visit import Visit
from tests.simulator.truth import World
from tests.ways.small import small_job

WAYS = "/c/this/ways"


@pytest.fixture(scope="module")
def compared_once(tmp_path_factory):
    """A visit to a small clutch whose ways were compared once, with minutes the page had seen."""
    folder = tmp_path_factory.mktemp("ways")
    job = small_job(folder, World(False, 0.0001, stiffness_sd=0.0, dressed_scatter=0.0))
    seen = Minutes()
    for minutes in (0.7, 0.8, 0.9):
        seen = seen.more("reading", minutes)
    write_minutes(job, seen)
    visit = Visit(folder)
    visit.get("/c/this")
    assert "fewest minutes from here" in visit.words
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planning, "DRAWS", 1)
        visit.post(f"{WAYS}/start")
    assert visit.answer.status_code == 200
    run = visit.worked("this/ways")
    assert not run.problems, run.problems
    visit.get(WAYS)
    return visit, folder


def test_the_best_is_said_first_then_all_by_minutes(compared_once):
    visit, _ = compared_once
    assert "Fewest minutes:" in visit.words
    assert "match as measured" in visit.words
    assert "a reading 1.1 (learned from 3 readings)" in visit.words
    assert "Worth a second look" in visit.words or "What was measured is enough" in visit.words


def test_the_answer_outlasts_the_server(compared_once):
    _, folder = compared_once
    later = Visit(folder)
    later.get(WAYS)
    assert "Fewest minutes:" in later.words
    assert "compare anew" not in later.words


def test_a_bag_that_changed_since_is_told(compared_once):
    visit, folder = compared_once
    visit.get(WAYS)
    assert "compare anew" not in visit.words
    bag = folder / "bag.csv"
    bag.write_text(bag.read_text() + "\n")
    visit.get(WAYS)
    assert "compare anew" in visit.words
    bag.write_text(bag.read_text()[:-1])
