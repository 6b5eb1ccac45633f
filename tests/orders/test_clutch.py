from pathlib import Path

import pytest

from optimizer.clutch.engagement import target_loads
from optimizer.io.job.reader import read_job
from optimizer.orders.clutch import clutch_of

JOB = """
[bag]
file = "bag.csv"
[clutch]
shoes = 3
travel_mm = 1.5
worn_travel_mm = 1.7
[datum]
installed_length_mm = 11.4
[target]
load_n = 890
[stack]
shims_mm = {shims}
"""


def of(tmp_path: Path, shims):
    path = tmp_path / "job.toml"
    path.write_text(JOB.format(shims=shims), encoding="utf-8")
    job = read_job(path)
    return clutch_of(job, target_loads(job), 4, 0.0)


@pytest.mark.parametrize(
    ("shims", "alike"),
    [
        ([], (0.0,)),
        ([0.1, 0.1], (0.0,)),  # not enough for three shoes
        ([0.1, 0.1, 0.1], (0.0, 0.1)),
        ([0.1, 0.1, 0.1, 0.2, 0.2], (0.0, 0.1, 0.2)),
        ([0.1] * 6 + [0.3] * 3, (0.0, 0.1, 0.2, 0.3, 0.4, 0.5)),
        ([0.1, 0.1, 0.2], (0.0,)),
    ],
)
def test_shims_that_can_go_under_every_shoe_alike(tmp_path, shims, alike):
    clutch, remarks = of(tmp_path, shims)
    assert clutch.shims_mm == pytest.approx(alike)
    assert clutch.rooms_mm == pytest.approx([1.5 - 11.4 + s for s in clutch.shims_mm])
    assert any("each of the 4 sets wants as many" in r for r in remarks) == bool(shims)


def test_shoes_that_differ_are_planned_for_their_mean_and_it_is_said(tmp_path):
    text = JOB.format(shims="[]") + "[[clutch.shoe]]\ntravel_mm = 1.2\nseat_depth_mm = 0.3\n"
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    job = read_job(path)
    clutch, remarks = clutch_of(job, target_loads(job), 4, 0.0)
    assert clutch.travel_mm == pytest.approx(1.4)
    assert clutch.datum.lengths_mm(1) == pytest.approx([11.5])
    assert remarks == ["job.toml: its shoes differ; the order is planned for their mean."]
