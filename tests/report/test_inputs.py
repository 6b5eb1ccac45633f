from dataclasses import replace

from optimizer.io.job.reader import read_job
from optimizer.io.job.templates import job_template
from optimizer.model.job import StackRules
from optimizer.model.shoe import Shoe
from optimizer.report.inputs import inputs
from tests.bags import plain_job


def test_a_job_is_listed_as_its_file_spells_it(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(job_template("in"))
    listed = {section: dict(rows) for section, rows in inputs(read_job(path))}
    assert listed["bag"] == {"file": "bag.csv"}
    assert listed["clutch"]["travel_in"] == "0.06"
    assert listed["datum"] == {"seating_load_lbf": "6"}
    assert listed["target"]["load_lbf"] == "200"
    assert listed["instrument"]["thickness_sd_in"] == "0.0001"
    assert listed["model"]["law"] == "en16984"
    assert listed["gauge"]["travel_stop_in"] == "0.000079"


def test_shoes_that_differ_are_listed_one_by_one():
    job = replace(plain_job(), shoes=(Shoe(1.5, 1.7), Shoe(1.6, 1.7, mass_g=200.0)))
    clutch = dict(dict(inputs(job))["clutch"])
    assert clutch["travel_mm"] == "1.5 / 1.6"
    assert clutch["worn_travel_mm"] == "1.7"
    assert clutch["shoe_mass_g"] == "– / 200"
    assert "friction" not in clutch


def test_lists_windows_and_groups_are_readable():
    rules = StackRules(
        discs=(7, 9), free_height_mm=(10.0, 14.5), together=(("A", "B"), ("C", "D")), use=("A",)
    )
    stack = dict(dict(inputs(plain_job(rules=rules)))["stack"])
    assert stack["discs"] == "7, 9"
    assert stack["free_height_mm"] == "10, 14.5"
    assert stack["together"] == "A+B, C+D"
    assert stack["same_pattern"] == "yes"
    assert "leave" not in stack
