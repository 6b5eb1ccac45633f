"""`evenstack engage` of a clutch on its engine: holding, start, setups side by side."""

import json
import re
import shutil

import pytest

from tests.hookup.hookups import JOB, write_plan
from tests.shell import evenstack

CURVE = "rpm,torque_nm\n2000,7.5\n4000,12\n6000,15.5\n8000,17.2\n10000,16.2\n13000,10.6\n"
ENGINE = """
[engine]
torque_file = "engine.csv"
inertia_kgcm2 = 45
idle_rpm = 1800
gear_ratio = 7
wheel_radius_mm = 136
vehicle_mass_kg = 165
rolling_drag_n = 40
drag_area_m2 = 0.5
drum_mass_g = 900
"""


@pytest.fixture
def powered(tmp_path):
    """The clutch of unequal shoes on an invented engine, and its plan."""
    folder = tmp_path / "clutch"
    shutil.copytree(JOB.parent, folder)
    (folder / "engine.csv").write_text(CURVE)
    job = folder / "job.toml"
    job.write_text(job.read_text() + ENGINE)
    return job, write_plan(tmp_path)


def test_holding_and_start_are_told(capsys, powered):
    job, plan = powered
    said = json.loads(evenstack(capsys, "engage", job, "--plan", plan, "--json").out)["powered"]
    assert 3000 < said["holding"]["rpm"] < 3600
    assert said["holding"]["margin"] > 1
    start = said["start"]
    assert start["unbalanced"] < 1e-4
    assert start["lock"]["engine_rpm"] >= said["holding"]["rpm"] - 1
    assert said["drum_rise_k"] == pytest.approx(start["slip_j"] / (0.9 * 470), rel=1e-3)
    card = " ".join(evenstack(capsys, "engage", job, "--plan", plan).out.split())
    for words in ("holds full throttle from", "locks up", "kJ", "does not predict lap times",
                  "the drum warms by at most"):  # fmt: skip
        assert words in card


def test_what_a_start_lacks_is_named(capsys, powered):
    job, plan = powered
    job.write_text(job.read_text().replace("gear_ratio = 7", "").replace("inertia_kgcm2 = 45", ""))
    card = " ".join(evenstack(capsys, "engage", job, "--plan", plan).out.split())
    assert "No start: add inertia_kgcm2, gear_ratio under [engine]" in card
    assert "holds full throttle from" in card
    ran = evenstack(capsys, "engage", job, "--compare", plan, plan)
    assert ran.code == 2
    assert "Expected inertia_kgcm2, gear_ratio for a start of" in ran.err


def test_a_torque_file_that_is_not_there_is_told(capsys, powered):
    job, plan = powered
    (job.parent / "engine.csv").unlink()
    ran = evenstack(capsys, "engage", job, "--plan", plan)
    assert ran.code == 2
    assert "engine.csv" in ran.err
    assert ran.out == ""


def test_setups_side_by_side_a_plan_and_another_job(capsys, powered):
    job, plan = powered
    heavy = job.with_name("heavy.toml")
    text = re.sub(
        r"shoe_mass_g = ([\d.]+)", lambda at: f"shoe_mass_g = {float(at[1]) + 15}", job.read_text()
    )
    heavy.write_text(text.replace("engagement_rpm = 3000", "engagement_rpm = 2900"))
    out = job.parent / "both"
    ran = evenstack(capsys, "engage", job, "--compare", plan, heavy, "--out", out)
    assert ran.code == 0, ran.err
    assert {path.name for path in out.iterdir()} == {"compare.json", "compare.txt", "compare.svg"}
    words = " ".join(ran.out.split())
    assert "at 10 m than plan" in words
    assert "at 30 m than plan" in words
    assert "does not predict lap times" in words
    assert max(map(len, ran.out.splitlines())) <= 80
    one, two = json.loads((out / "compare.json").read_text())["setups"]
    assert two["touch_rpm"] == pytest.approx(2900, abs=1)
    assert one["slip_kj"] > two["slip_kj"]
    picture = (out / "compare.svg").read_text()
    assert "heavy engine" in picture
    assert "lap times" in picture


def test_a_setup_differs_by_nothing_from_itself(capsys, powered):
    job, plan = powered
    ran = evenstack(capsys, "engage", job, "--compare", plan, plan, "--json")
    one, two = json.loads(ran.out)["setups"]
    assert one["to_30_m_s"] == two["to_30_m_s"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--compare"], "Expected 2 to 4 setups to compare, got 0"),
        (["a.json"], "Expected --plan or --compare with a.json"),
        (["--compare", *["a.json"] * 5], "got 5"),
        (["--compare", "a.json", "b.json", "--loads", "1,2,3"], "got both"),
        (["--compare", "a.json", "b.json"], "a.json"),
    ],
)
def test_slips_are_told_in_words(capsys, powered, words, says):
    ran = evenstack(capsys, "engage", powered[0], *words)
    assert ran.code == 2
    assert says in ran.err


def test_out_keeps_card_document_and_pictures(capsys, powered):
    job, plan = powered
    out = job.parent / "kept"
    ran = evenstack(capsys, "engage", job, "--plan", plan, "--out", out)
    assert ran.code == 0, ran.err
    names = {path.name for path in out.iterdir()}
    assert names == {"engagement.json", "engagement.txt", "shoes.svg", "torque.svg", "start.svg"}
    assert "95 % doubt" in (out / "torque.svg").read_text()
    assert (
        "all shoes" in (out / "shoes.svg").read_text()
        or "shoe 1" in (out / "shoes.svg").read_text()
    )
    again = evenstack(capsys, "engage", job, "--plan", plan, "--out", out)
    assert again.code == 2  # nothing written is overwritten


def test_speeds_seen_teach_friction_and_are_kept(capsys, powered):
    job, plan = powered
    before = json.loads(evenstack(capsys, "engage", job, "--plan", plan, "--json").out)
    seen = ("--rpm-seen", "3060", "--rpm-hold", "3500", "--rpm-sd", "15")
    told = evenstack(capsys, "engage", job, "--plan", plan, *seen, "--json")
    assert told.code == 0, told.err
    after = json.loads(told.out)
    assert sum(after["hookup"]["touch_rpm"]) / 3 == pytest.approx(3060, abs=15)
    assert after["powered"]["holding"]["rpm"] == pytest.approx(3500, abs=25)
    assert after["powered"]["holding"]["sd_rpm"] < before["powered"]["holding"]["sd_rpm"]
    assert after["linings"]["friction"][0] < before["linings"]["friction"][0]
    assert any("friction 0." in w for w in after["warnings"])
    assert json.loads(evenstack(capsys, "engage", job, "--plan", plan, "--json").out) == after


def test_the_bench_takes_speeds_with_its_readings(capsys, powered):
    job, plan = powered
    stacks = json.loads(plan.read_text())["sets"][0]["stacks"]
    log = plan.with_name("readings.csv")
    rows = [f"1,{s['shoe']},,settled,{s['working_load_n']:.0f}" for s in stacks]
    log.write_text("\n".join(["round,shoe,discs,kind,load_n", *rows]) + "\n")
    words = ("--plan", plan, "--readings", log, "--stop-at", "0.5")
    told = evenstack(capsys, "bench", job, *words, "--rpm-seen", "3080", "--rpm-sd", "10")
    assert told.code == 0, told.err
    assert "speeds seen are kept" in told.err
    said = json.loads(evenstack(capsys, "engage", job, "--json").out)
    assert said["mean_rpm"] == pytest.approx(3080, abs=0.5)
    assert said["source"].startswith("what stands")
    shared = said["shared_n"][0] / said["hookup"]["work_n"][0]
    assert shared == pytest.approx(2 * 10 / 3080, rel=1e-3)


def test_how_long_it_lasts_is_told_as_far_as_the_job_says(capsys, powered):
    job, plan = powered
    card = " ".join(evenstack(capsys, "engage", job, "--plan", plan).out.split())
    assert "no open table is at hand" in card
    assert "give drum_wear and lining_wear" in card
    text = job.read_text() + "\n[life]\ndrum_wear_mm = 0.01\nlining_wear_mm = 0.01\n"
    job.write_text(text + "relaxation = 0.03\nfatigue_range_mpa = 50\n")
    said = json.loads(evenstack(capsys, "engage", job, "--plan", plan, "--json").out)
    assert said["lasting"]["relaxed_rpm"] == pytest.approx(said["mean_rpm"] * 0.97**0.5, abs=0.1)
    assert said["lasting"]["upper_mpa"] > said["lasting"]["lower_mpa"] >= 0
    card = " ".join(evenstack(capsys, "engage", job, "--plan", plan).out.split())
    assert "rpm later after about" in card
    assert "MORE than the 50 MPa" in card
