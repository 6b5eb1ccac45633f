import re

import pytest

from optimizer.io.job.keys import KEYS
from optimizer.io.job.templates import bag_template, job_template, readings_template
from optimizer.units import MM_PER_IN, N_PER_LBF
from tests.io.job.files import job_of

UNITS = ("mm", "in")
#: of these the template shows both, and a job takes one
EXCLUSIVE = ("installed_length", "engagement_rpm", "shims", "leave")


@pytest.mark.parametrize("units", UNITS)
def test_every_key_is_shown_with_its_meaning(units):
    text = job_template(units)
    shown = {line.lstrip("# ").split(" = ")[0] for line in text.splitlines() if " = " in line}
    for key in KEYS:
        assert any(spelling in shown for spelling in key.spellings()), key.name
        assert " ".join(key.meaning.split()) in " ".join(text.replace("#", " ").split())


@pytest.mark.parametrize("units", UNITS)
def test_templates_read_back(tmp_path, units):
    job = job_of(tmp_path, job_template(units))
    assert job.units == units
    assert len(job.shoes) == 3


@pytest.mark.parametrize("units", UNITS)
def test_every_key_that_is_shown_but_not_set_can_be_set(tmp_path, units):
    text = re.sub(r"^# (\[\[clutch\.shoe\]\])$", r"\1", job_template(units), flags=re.MULTILINE)
    for spelling in (s for key in KEYS if key.name not in EXCLUSIVE for s in key.spellings()):
        text = re.sub(rf"^# ({spelling} = )", r"\1", text, flags=re.MULTILINE)
    job = job_of(tmp_path, text)
    assert job.stack.use == ("A01",)
    assert job.shoes[0].travel_mm != job.shoes[1].travel_mm


def test_inch_template_has_the_usual_numbers_of_the_trade(tmp_path):
    job = job_of(tmp_path, job_template("in"))  # common practice, no source
    assert job.shoes[0].travel_mm == pytest.approx(0.060 * MM_PER_IN)
    assert job.datum.seating_load_n == pytest.approx(6 * N_PER_LBF)
    assert job.target.load_n == pytest.approx(200 * N_PER_LBF)


@pytest.mark.parametrize("units", UNITS)
def test_invented_discs_say_so(units):
    rows = bag_template(units).splitlines()[1:]
    assert len(rows) >= 24
    assert all(row.endswith(",invented") for row in rows)


def test_readings_have_a_header_in_the_users_unit():
    assert readings_template("mm") == "round,shoe,discs,kind,load_n\n"
    assert readings_template("in") == "round,shoe,discs,kind,load_lbf\n"
