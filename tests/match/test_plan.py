"""Chances, uncertainty and help of a set in the plan, its JSON and its card."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.estimate.loads import chance, load_uncertainty
from optimizer.estimate.prior import LEVEL_SD
from optimizer.face.sources import open_job
from optimizer.io.documents import read_plan, to_json
from optimizer.match.plan import plan
from optimizer.match.result import exact
from optimizer.match.solve import Matched, match
from optimizer.model.job import Instrument
from optimizer.report.plan_card import statistics
from optimizer.units import N_PER_LBF
from tests.estimate.sets import a_set

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture
def one():
    """Return a set that is just what every shoe asks for, measured with a caliper."""
    dealt = a_set(tool=Instrument(0.010, 0.010))
    return replace(dealt, task=replace(dealt.task, target_n=dealt.load_n))


def planned(one, **more):
    answer = exact(one.task, one.stacks, ((),) * 3, 1.0)
    return plan(one.job, one.task, (Matched(answer, False, 0.0, None, ()),), (), 0, None, **more)


def test_a_plan_carries_the_chances_of_its_sets(one):
    told = planned(one).sets[0]
    uncertainty = load_uncertainty(one.task, one.stacks, one.load_n)
    said = chance(one.task, uncertainty, one.load_n, one.job.target.spread_tolerance_n)
    assert told.chance_within_tolerance == said.within_tolerance
    assert told.chance_on_target == said.on_target
    assert sum(part["share"] for part in told.doubt) == pytest.approx(1.0)
    assert told.helps
    for help in told.helps:
        assert help["chance_then"] > help["chance_now"] == told.chance_within_tolerance


def test_once_readings_taught_the_factor_the_mean_is_better_known(one):
    before, after = planned(one).sets[0], planned(one, factor_sd=0.002).sets[0]
    assert after.chance_on_target > before.chance_on_target
    assert after.chance_within_tolerance == pytest.approx(before.chance_within_tolerance, abs=1e-3)
    assert (before.chance_known, after.chance_known) == ("before any reading", "after readings")


def test_json_and_back(one, tmp_path: Path):
    written = planned(one)
    path = tmp_path / "plan.json"
    path.write_text(to_json(written))
    assert to_json(read_plan(path)) == to_json(written)
    told = json.loads(path.read_text())["sets"][0]
    assert 0 < told["chance_within_tolerance"] < 1
    assert set(told["doubt"][0]) == {"source", "share", "sd_n"}
    assert set(told["helps"][0]) == {"action", "discs", "chance_now", "chance_then"}


def test_the_doubt_that_all_loads_share_is_kept_and_older_files_read_without(one, tmp_path: Path):
    path = tmp_path / "plan.json"
    for factor_sd, kept in ((None, LEVEL_SD["en16984"]), (0.002, 0.002)):
        path.write_text(to_json(planned(one, factor_sd=factor_sd)))
        assert read_plan(path).sets[0].common_sd == kept
    older = json.loads(path.read_text())
    del older["sets"][0]["common_sd"]
    path.write_text(json.dumps(older))
    assert read_plan(path).sets[0].common_sd is None


def test_the_card_says_them_with_what_they_rest_on(one):
    said = statistics(planned(one), one.job)
    words = " ".join(said.split())
    assert "% likely truly within 9.0 N of each other" in words
    assert "before any reading, resting on assumed scatter" in words
    assert "Where the doubt between shoes comes from: " in words
    assert "Would help: a micrometer instead of this instrument: " in words
    assert "resting on assumed scatter" not in statistics(planned(one, factor_sd=0.002), one.job)
    assert all(len(line) <= 88 for line in said.splitlines())


def test_what_nested_cones_take_from_the_loads_is_told_where_it_differs_between_shoes(
    tmp_path,
) -> None:
    """The inch example: pairs may not touch at the seating load; the shift is that of its draws.

    Each disc is measured once: repeats tell that this caliper errs less than is declared.
    """
    for name in ("job.toml", "bag.csv"):
        lines = (EXAMPLES / "bench_in" / name).read_text(encoding="utf-8").splitlines()
        once = {line.split(",")[0]: line for line in reversed(lines)}.values()
        text = "\n".join(lines if name == "job.toml" else reversed(once))
        (tmp_path / name).write_text(text, encoding="utf-8")
    work = open_job(tmp_path / "job.toml")
    found = match(work.task, Limits())
    made = plan(work.job, work.task, (found,), (), 0, None)
    told = [note for note in made.warnings if "may or may not touch" in note]
    shift = load_uncertainty(work.task, found.answer.stacks, found.answer.work_n).shift_n
    assert np.ptp(shift) > work.task.resolution_n
    assert len(told) == 1
    for newtons in (-shift.max(), -shift.min(), np.ptp(shift)):
        assert f"{newtons / N_PER_LBF:.1f} lbf" in told[0]
    kart = open_job(EXAMPLES / "kart_mm" / "job.toml")
    alone = plan(kart.job, kart.task, (match(kart.task, Limits()),), (), 0, None)
    assert not any("may or may not touch" in note for note in alone.warnings)
