"""The shipped examples do what README says of them."""

from __future__ import annotations

import json
import runpy
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from optimizer.control import Limits
from optimizer.estimate.loads import load_uncertainty
from optimizer.face.sources import open_job
from optimizer.match.result import Assigned
from optimizer.match.solve import match
from optimizer.units import N_PER_LBF
from tests.browser import needs_browser
from tests.shell import evenstack

EXAMPLES = Path(__file__).parent.parent / "examples"


def matched(capsys: pytest.CaptureFixture[str], name: str) -> dict[str, Any]:
    ran = evenstack(capsys, "match", EXAMPLES / name / "job.toml", "--json")
    assert ran.code == 0, ran.err
    plan: dict[str, Any] = json.loads(ran.out)
    return plan


def test_kart_mm_is_matched_at_three_travels(capsys: pytest.CaptureFixture[str]) -> None:
    """Forty discs, singles and pairs: 0.1 lbf at work and worn, 0.3 lbf at rest."""
    plan = matched(capsys, "kart_mm")
    (one,) = plan["sets"]
    assert one["spread_n"] <= 0.1 * N_PER_LBF
    assert one["worn_spread_n"] <= 1.02 * 0.1 * N_PER_LBF
    assert one["rest_spread_n"] <= 1.02 * 0.3 * N_PER_LBF
    assert one["proven"]
    for stack in one["stacks"]:
        assert stack["working_load_n"] == pytest.approx(890, abs=0.1 * N_PER_LBF)
        assert stack["max_deflection_share"] <= 0.75
        assert {len(packet) for packet in stack["packets"]} == {1, 2}
    discs = [d for stack in one["stacks"] for packet in stack["packets"] for d in packet]
    assert len(discs) == len(set(discs))
    assert len(discs) + len(plan["unused"]) == 40


def test_bench_in_reaches_two_hundred_pounds(capsys: pytest.CaptureFixture[str]) -> None:
    """Common practice, no source: 0.060 in of travel, 6 lbf seating, 200 lbf."""
    plan = matched(capsys, "bench_in")
    assert plan["units"] == "in"
    (one,) = plan["sets"]
    assert one["spread_n"] <= 0.1 * N_PER_LBF
    for stack in one["stacks"]:
        assert stack["working_load_n"] / N_PER_LBF == pytest.approx(200, abs=0.1)
        assert 0.40 <= stack["free_height_mm"] / 25.4 <= 0.60


def test_bench_in_averages_what_was_measured_twice() -> None:
    work = open_job(EXAMPLES / "bench_in" / "job.toml")
    assert len(work.bag.discs) == 36
    assert sum(disc.repeats == 2 for disc in work.bag.discs) == 2


def test_the_less_a_travel_is_known_the_softer_the_pattern() -> None:
    """Travels known to 0.03 mm: stacks that turn them into less load are less uncertain in all."""
    task = open_job(EXAMPLES / "kart_mm" / "job.toml").task
    rough = replace(task, travel_sd_mm=np.full(3, 0.03))

    def uncertainty(answer: Assigned) -> float:
        return float(load_uncertainty(rough, answer.stacks, answer.work_n).sd_n.mean())

    well, roughly = match(task, Limits()).answer, match(rough, Limits()).answer
    assert roughly.spread_n() <= 0.1 * N_PER_LBF
    assert uncertainty(roughly) < 0.99 * uncertainty(well)


@needs_browser
def test_the_picture_of_the_readme_is_made_by_its_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    readme = (EXAMPLES.parent / "README.md").read_text(encoding="utf-8")
    assert "](examples/sheet.png)" in readme
    assert "python examples/sheet_picture.py" in readme
    picture = tmp_path / "sheet.png"
    monkeypatch.setattr("sys.argv", ["sheet_picture.py", str(picture)])
    runpy.run_path(str(EXAMPLES / "sheet_picture.py"), run_name="__main__")
    made, kept = (p.read_bytes() for p in (picture, EXAMPLES / "sheet.png"))
    assert made[:24] == kept[:24]  # a PNG of the same width and height
