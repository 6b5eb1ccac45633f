"""Which load each shoe is asked to carry."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.clutch.engagement import matching_note, speed_rpm, target_loads
from optimizer.clutch.shoes import linings_of, shoes_of
from optimizer.errors import InputError
from tests.io.job.files import SMALL, job_of

MASSES = "\nshoe_mass_g = 210\ncg_radius_mm = 52\ndrum_radius_mm = 60\nfriction = 0.3"
CLUTCH = SMALL.replace("travel_mm = 1.5", f"travel_mm = 1.5{MASSES}")
SHOES = "".join(f"[[clutch.shoe]]\nshoe_mass_g = {mass}\n" for mass in (205, 208, 211))
UNLIKE = CLUTCH.replace("[datum]", f"{SHOES}[datum]")


def test_alike_shoes_get_the_target_load_and_no_remark(tmp_path):
    for text in (SMALL, CLUTCH):
        job = job_of(tmp_path, text)
        assert target_loads(job).tolist() == [890, 890, 890]
        assert matching_note(job) == ()


def test_an_engagement_speed_gives_each_shoe_the_load_it_balances(tmp_path):
    job = job_of(tmp_path, UNLIKE.replace("load_n = 890", "engagement_rpm = 3400"))
    loads = target_loads(job)
    # m r omega^2 by hand: 0.205 kg at 53.5 mm (52 at rest, 1.5 travel), 3400 rpm
    assert loads[0] == pytest.approx(0.205 * 0.0535 * (3400 * np.pi / 30) ** 2)
    assert speed_rpm(shoes_of(job).contact_pull_kgm, loads) == pytest.approx([3400] * 3)


def test_unlike_shoes_get_loads_of_that_mean_and_one_speed(tmp_path):
    job = job_of(tmp_path, UNLIKE)
    loads = target_loads(job)
    assert loads.mean() == pytest.approx(890)
    assert np.ptp(speed_rpm(shoes_of(job).contact_pull_kgm, loads)) < 1e-9
    assert loads[0] < loads[1] < loads[2]


def test_it_says_that_speeds_are_matched_and_why(tmp_path):
    (note,) = matching_note(job_of(tmp_path, UNLIKE))
    assert "engagement speeds are matched, not their loads" in note
    # 3 % of mass is 1.5 % of speed: m r omega^2 = 890 N with 208 g at 53.5 mm is 2700 rpm
    assert "39 rpm apart" in note


def test_unlike_shoes_without_masses_are_matched_by_load_and_it_says_so(tmp_path):
    text = SMALL.replace("[datum]", "[[clutch.shoe]]\ntravel_mm = 1.6\n[datum]")
    job = job_of(tmp_path, text)
    assert target_loads(job).tolist() == [890, 890, 890]
    (note,) = matching_note(job)
    assert "loads are matched" in note
    assert "shoe_mass" in note


def test_missing_masses_name_the_keys_and_the_shoes(tmp_path):
    with pytest.raises(InputError, match=r"no shoe_mass for shoe 1, 2, 3.*Add shoe_mass_g and cg"):
        shoes_of(job_of(tmp_path))
    job = job_of(tmp_path, CLUTCH)
    light = replace(job.shoes[1], mass_g=None)
    with pytest.raises(InputError, match=r"no shoe_mass for shoe 2\. Add"):
        shoes_of(replace(job, shoes=(job.shoes[0], light, job.shoes[2])))


def test_torque_needs_drum_and_friction_of_every_shoe(tmp_path):
    assert linings_of(job_of(tmp_path)) is None
    linings = linings_of(job_of(tmp_path, CLUTCH))
    assert linings.drum_radius_mm.tolist() == [60, 60, 60]
    assert linings.friction.tolist() == [0.3] * 3
