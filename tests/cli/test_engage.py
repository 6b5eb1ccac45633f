"""`evenstack engage` as a user's shell sees it."""

import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from optimizer.face.sources import open_job
from tests.hookup.hookups import JOB, found, write_plan
from tests.io.job.files import SMALL
from tests.shell import evenstack

EXAMPLE = Path(__file__).parents[2] / "examples" / "kart_mm" / "job.toml"
INCHES = """\
[bag]
file = "bag.csv"
[clutch]
travel_in = 0.060
shoe_mass_g = 210
cg_radius_in = 2.05
[datum]
seating_load_lbf = 6
[target]
load_lbf = 200
"""
BAG = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge\n" + "".join(
    f"A{i},20,10.2,0.9,0.48,sharp\n" for i in range(1, 7)
)


def job(folder, text):
    (folder / "bag.csv").write_text(BAG)
    path = folder / "job.toml"
    path.write_text(text)
    return path


def numbers(capsys, *words):
    ran = evenstack(capsys, "engage", *words, "--json")
    assert ran.code == 0, ran.err
    return json.loads(ran.out)


def test_a_plan_gives_speeds_band_torque_and_wear(capsys, tmp_path):
    said = numbers(capsys, JOB, "--plan", write_plan(tmp_path))
    how = said["hookup"]
    assert how["touch_rpm"] == pytest.approx([3000] * 3, abs=1)
    assert how["band_rpm"] < 1 < how["band_median_rpm"] < how["band_ninety_rpm"]
    assert len(said["moves_rpm"]) == 3
    assert max(said["moves_rpm"]) < 3000
    torque = said["torque"]
    assert torque["total_nm"][0] == 0
    for rpm, total, each in zip(torque["rpm"], torque["total_nm"], torque["shoe_nm"], strict=True):
        assert total == pytest.approx(sum(each), abs=1e-3)
        assert (total > 0.1) == (rpm > 3010)
    drift = {one["name"]: one for one in said["drifts"]}
    assert drift["drum"]["amount_mm"] == [0.1, 0.2, 0.3, 0.4, 0.5]
    assert drift["drum"]["mean_rpm"] == sorted(drift["drum"]["mean_rpm"])
    assert drift["seats"]["mean_rpm"] == sorted(drift["seats"]["mean_rpm"], reverse=True)
    assert drift["linings"]["mean_rpm"][0] > drift["drum"]["mean_rpm"][0]
    assert 0 < drift["drum"]["limit_mm"] < 0.2


def test_the_card_is_narrow_and_carries_the_cautions(capsys, tmp_path):
    ran = evenstack(capsys, "engage", JOB, "--plan", write_plan(tmp_path))
    assert ran.code == 0
    lines = ran.out.splitlines()
    assert re.match(r"ENGAGEMENT at \d{4} rpm, all shoes together known to \+- \d+$", lines[0])
    assert "the stacks by a plan" not in ran.out  # they were given
    assert f"of {tmp_path / 'plan.json'}" in re.sub(r"\n +", "", ran.out)
    assert max(map(len, lines)) <= 80
    for words in ("Hookup band", "TORQUE in N m", "WEAR", "speed limits", "burst", "idle", "heats",
                  "not their loads"):  # fmt: skip
        assert words in " ".join(ran.out.split())


def test_loads_given_by_hand_in_the_units_of_the_job(capsys, tmp_path):
    said = numbers(capsys, job(tmp_path, INCHES), "--loads", "198,201,205")
    how = said["hookup"]
    assert how["touch_rpm"] == sorted(how["touch_rpm"])
    # 7 lbf on 201.3 are 1.74 % in speed (square root)
    assert how["band_rpm"] / said["mean_rpm"] == pytest.approx(0.0174, abs=1e-4)
    per_lbf = said["rpm_per_newton"] * 4.4482216
    assert per_lbf == pytest.approx(said["mean_rpm"] / 2 / 201.33, rel=1e-3)
    assert said["torque"] is None
    assert said["drifts"] == []
    text = evenstack(capsys, "engage", tmp_path / "job.toml", "--loads", "198,201,205").out
    assert f"One lbf of spread is {per_lbf:.2f} rpm" in text
    assert "add drum_radius_mm" in text
    assert "--plan" in text


def test_loads_on_a_plan_scale_its_curve(capsys, tmp_path):
    path = write_plan(tmp_path)
    plain = numbers(capsys, JOB, "--plan", path)
    loads = [2 * load for load in plain["hookup"]["work_n"]]
    said = numbers(capsys, JOB, "--plan", path, "--loads", ",".join(map(str, loads)))
    assert said["mean_rpm"] == pytest.approx(plain["mean_rpm"] * 2**0.5, rel=1e-4)
    for twice, once in zip(said["drifts"], plain["drifts"], strict=True):
        assert twice["mean_rpm"] == pytest.approx([m * 2**0.5 for m in once["mean_rpm"]], rel=1e-3)


def test_without_plan_or_loads_the_target_is_shown(capsys):
    said = numbers(capsys, JOB)
    assert said["hookup"]["touch_rpm"] == pytest.approx([3000] * 3)
    assert "target" in said["source"]


def test_readings_count_settled_ones_of_the_last_round(capsys, tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text(
        "round,shoe,discs,kind,load_n\n"
        "1,1,,settled,600\n1,2,,settled,600\n1,3,,settled,600\n"
        "2,1,,first,900\n2,1,,settled,700\n2,1,,settled,704\n"
        "2,2,,settled,714\n2,3,,settled,726\n"
    )
    said = numbers(capsys, JOB, "--plan", write_plan(tmp_path), "--readings", path)
    assert said["hookup"]["work_n"] == [702, 714, 726]
    path.write_text("round,shoe,discs,kind,load_n\n1,1,,settled,700\n1,2,,first,700\n")
    ran = evenstack(capsys, "engage", JOB, "--plan", tmp_path / "plan.json", "--readings", path)
    assert ran.code == 2
    assert "settled reading of shoe 2" in ran.err
    assert "settled reading of shoe 3" in ran.err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--loads", "198,201"], "Expected 3 loads, one a shoe, got 2"),
        (["--loads", "198,201,x"], "got 'x'"),
        (["--loads", "198,-3,200"], "got '-3'"),
        (["--loads", "1,2,3", "--readings", "r.csv"], "got both"),
        (["--plan", "missing.json"], "missing.json"),
    ],
)
def test_slips_are_told_in_words(capsys, words, says):
    ran = evenstack(capsys, "engage", JOB, *words)
    assert ran.code == 2
    assert says in ran.err
    assert ran.out == ""


def test_missing_masses_name_the_keys_to_add(capsys, tmp_path):
    ran = evenstack(capsys, "engage", job(tmp_path, SMALL))
    assert ran.code == 2
    assert "Add shoe_mass_g and cg_radius_mm" in ran.err


def test_a_plan_of_another_job_is_refused(capsys, tmp_path):
    other = job(tmp_path, INCHES)
    ran = evenstack(capsys, "engage", other, "--plan", write_plan(tmp_path))
    assert ran.code == 2
    assert "not in the bag" in ran.err
    ran = evenstack(capsys, "engage", JOB, "--plan", tmp_path / "plan.json", "--set", "2")
    assert ran.code == 2
    assert "Expected a set from 1 to 1, got 2" in ran.err


@pytest.fixture
def unequal(tmp_path):
    """The clutch of unequal shoes in a folder of its own, with its plan."""
    folder = tmp_path / "clutch"
    shutil.copytree(JOB.parent, folder)
    return folder / "job.toml", write_plan(tmp_path)


@pytest.fixture
def targets(monkeypatch):
    """Speeds that retarget looks for; what it finds is known."""
    asked = []

    def search(task, spread_n, now, target_rpm, *_):
        asked.append(target_rpm)
        return found(300.0)

    monkeypatch.setattr("optimizer.face.speeds.search", search)
    return asked


def test_a_speed_seen_on_the_engine_is_kept_and_all_commands_go_by_it(capsys, unequal, targets):
    job, plan = unequal
    told = evenstack(capsys, "engage", job, "--plan", plan, "--rpm-seen", "3120", "--json")
    assert told.code == 0, told.err
    assert "kept in" in told.err
    assert any("3120 rpm, seen on the engine" in w for w in json.loads(told.out)["warnings"])
    how = json.loads(told.out)["hookup"]
    assert np.mean(how["touch_rpm"]) == pytest.approx(3120)
    assert numbers(capsys, job, "--plan", plan)["hookup"] == how  # the next command, without it
    assert np.mean(numbers(capsys, job, "--plan", plan, "--fresh")["hookup"]["touch_rpm"]) == (
        pytest.approx(3000, abs=1)
    )
    assert evenstack(capsys, "retarget", job, "--plan", plan, "--later", "300").code == 0
    assert targets == [pytest.approx(3420)]
    # the job asks for 3000 rpm, which now takes less load
    asked = open_job(job).task.target_n / open_job(job, fresh=True).task.target_n
    assert asked == pytest.approx([(3000 / 3120) ** 2] * 3, rel=1e-3)
    assert "3120 rpm" in evenstack(capsys, "inspect", job).out


def test_a_speed_far_from_what_the_masses_tell_is_refused_and_not_kept(capsys, unequal):
    job, plan = unequal
    told = evenstack(capsys, "engage", job, "--plan", plan, "--rpm-seen", "312")
    assert told.code == 2
    assert "Expected about 3000 rpm" in told.err
    assert not (job.parent / "job.known.json").exists()


def test_a_speed_without_the_loads_it_was_seen_with_is_refused(capsys, unequal):
    told = evenstack(capsys, "engage", unequal[0], "--rpm-seen", "3100")
    assert told.code == 2
    assert "Add --plan" in told.err


def test_without_masses_a_speed_that_was_kept_tells_where_a_retarget_starts(
    capsys, unequal, targets
):
    job, plan = unequal
    evenstack(capsys, "engage", job, "--plan", plan, "--rpm-seen", "3120")
    text = job.read_text()
    bare = re.sub(r"(?m)^(shoe_mass|cg_radius|engagement)\w* *=.*$", "", text)
    job.write_text(bare.replace("[target]", "[target]\nload_n = 700"))
    told = evenstack(capsys, "retarget", job, "--plan", plan, "--later", "200")
    assert told.code == 0, told.err
    assert targets == [pytest.approx(3320, abs=25)]


def test_what_the_bench_does_not_see_is_told_with_its_speeds(capsys, tmp_path):
    """The springs' own mass is counted once its place is given, heat and the way back beside."""
    path = tmp_path / "job.toml"
    shutil.copy(EXAMPLE.with_name("bag.csv"), tmp_path)
    text = EXAMPLE.read_text()
    path.write_text(text)
    made = evenstack(capsys, "match", path, "--out", tmp_path / "first")
    assert made.code == 0, made.err
    plan = ("--plan", tmp_path / "first" / "plan.json")
    bare = numbers(capsys, path, *plan)
    assert bare["mean_rpm"] == bare["bare_rpm"]
    assert bare["hot_rpm"] is bare["release_rpm"] is None
    more = text.replace("[target]", "[friction]\nedge = 0.02\n[disc]\nhot_c = 149\n[target]")
    path.write_text(more.replace("friction = 0.3", "friction = 0.3\nstack_radius_mm = 40"))
    told = numbers(capsys, path, *plan)
    mass, lever = told["running"]["stack_mass_g"][0], 26 / 40
    shoe = lever * 210 * (52 + lever * 1.5)
    length = 9 * 0.9  # about; a twelfth of it is a fiftieth of the radius
    ratio = shoe / (shoe + mass * (20 + length / 12))
    assert (told["mean_rpm"] / told["bare_rpm"]) ** 2 == pytest.approx(ratio, abs=1e-3)
    assert -80 < told["mean_rpm"] - told["bare_rpm"] < -40
    assert told["hot_rpm"] / told["mean_rpm"] == pytest.approx(np.sqrt(0.959), abs=1e-5)
    assert told["release_rpm"] / told["mean_rpm"] == pytest.approx(np.sqrt(0.98 / 1.02), abs=1e-4)
    card = evenstack(capsys, "engage", path, *plan).out
    for words in ("thrown outwards", "hot, at 149 C", "release, shoes leaving the drum"):
        assert words in card


def test_a_speed_stands_once_in_the_torque_table(capsys, tmp_path):
    """Shoes that touch within one rpm made three rows of 3350 rpm, each with another doubt."""
    said = evenstack(capsys, "engage", EXAMPLE, "--loads", "889.8,890.0,890.1").out
    table = said.partition("TORQUE")[2].partition("+-:")[0].splitlines()[2:]
    speeds = [line.split()[0] for line in table if line.strip()]
    assert len(speeds) > 10
    assert len(speeds) == len(set(speeds))
