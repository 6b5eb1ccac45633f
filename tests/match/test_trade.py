"""Sets of a lot against their spread: counted as measured, likely truly by their chances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.estimate.loads import load_uncertainty
from optimizer.face.matching import match
from optimizer.match import plan as trade
from optimizer.match.lots import match_lots
from optimizer.match.plan import SHARES, sets_within
from optimizer.match.workspace import posed
from optimizer.report.trade import trade_chart, trade_words
from tests.bags import plain_job, seeded_bag, seeded_task
from tests.shell import evenstack
from tests.speed.lots import write_lot


@pytest.fixture(scope="module")
def lot():
    task = seeded_task(seeded_bag(240, 1), plain_job())
    lots = match_lots(task, None, 9.0, Limits())
    doubts = [load_uncertainty(task, m.answer.stacks, m.answer.work_n) for m in lots.sets]
    return task, lots.sets, doubts


def test_the_sets_truly_within_are_as_many_as_drawn_loads_give(lot):
    """10,000 normal draws of the loads of every set; bound of four standard errors a set."""
    task, sets, doubts = lot
    told = sets_within(task, sets, doubts, (), 20.0, task.level_sd)
    assert [one.spread_n for one in told] == [20.0 * share for share in SHARES]
    rng = np.random.default_rng(0)
    good = np.zeros(len(SHARES))
    for one, doubt in zip(sets, doubts, strict=True):
        mean = one.answer.work_n + doubt.shift_n
        loads = rng.multivariate_normal(mean, doubt.covariance_n2(task.level_sd), 10_000)
        good += [(np.ptp(loads, axis=1) <= width.spread_n).mean() for width in told]
    likely = np.array([one.likely for one in told])
    np.testing.assert_allclose(likely, good, atol=4 * 0.005 * len(sets))
    assert (np.diff(likely) > 0).all()


def test_sets_that_are_left_out_for_their_spread_are_counted_where_it_is_wider(lot):
    task, sets, doubts = lot
    told = sets_within(task, sets, doubts, (10.5, 13.0, 17.9), 9.0, task.level_sd)
    assert [one.sets - len(sets) for one in told] == [0, 0, 0, 0, 2, 3]


def test_some_sets_stand_for_many(lot, monkeypatch):
    task, sets, doubts = lot
    every = sets_within(task, sets, doubts, (), 9.0, task.level_sd)
    monkeypatch.setattr(trade, "ASKED", 5)
    some = sets_within(task, sets, doubts, (), 9.0, task.level_sd)
    for one, other in zip(every, some, strict=True):
        assert other.likely == pytest.approx(one.likely, rel=0.1)


def test_a_set_that_does_not_match_is_told_and_not_in_the_plan(lot):
    """The tolerance of the spread is made less than what dealing evens out to."""
    task, sets, _ = lot
    width = float(np.median([one.answer.spread_n() for one in sets]))
    few = match_lots(task, None, width, Limits())
    assert all(one.answer.spread_n() <= width for one in few.sets)
    assert few.beyond_n
    assert all(width < beyond <= 2 * width for beyond in few.beyond_n)


def test_the_card_and_the_picture_tell_the_same(lot):
    plan = match(posed(plain_job(), seeded_bag(90, 1)), sets=2).plan
    words = trade_words(plan)
    assert f"all {len(plan.sets)} within 2.2 N" in words
    assert f"likely {plan.within[1].likely:.0f} within 4.4 N" in words
    drawn = trade_chart(plan)
    assert [line.name for line in drawn.lines] == ["dealt", "truly"]
    assert drawn.lines[0].end_y < drawn.lines[1].end_y  # down the page is less
    uneven = replace(plan.within[-1], sets=99)
    more = trade_words(replace(plan, within=(*plan.within[:-1], uneven)))
    assert "99 within 17.8 N. Truly" in more
    assert trade_words(replace(plan, within=())) == ""


def test_the_command_draws_it(capsys, tmp_path):
    job, file = write_lot(tmp_path, 60), tmp_path / "sets.svg"
    ran = evenstack(capsys, "match", job, "--sets", 2, "--plot", file, "--out", tmp_path / "out")
    assert ran.code == 0, ran.err
    assert "Spread of a set, N" in file.read_text()
    assert "Sets against spread, as measured" in ran.out
    ran = evenstack(capsys, "match", job, "--plot", tmp_path / "one.svg")
    assert (ran.code, "Expected several sets to draw" in ran.err) == (2, True)
    assert not (tmp_path / "one.svg").exists()
