"""`evenstack retarget` as a user's shell sees it."""

import json
import re
import shutil
from dataclasses import replace

import pytest

from optimizer.report.hookup_card import retarget_card
from optimizer.report.hookup_json import retarget_json
from tests.hookup.hookups import JOB, found, work, write_plan
from tests.shell import evenstack


def test_later_by_three_hundred_is_reached_ranked_and_sold_at_the_prices_of_a_catalog(
    capsys, tmp_path
):
    """A catalog of sizes in several packs was taken for a fault of the program."""
    catalog = JOB.parents[3] / "catalogs" / "invented_supplier.csv"
    words = ("--plan", write_plan(tmp_path), "--later", "300", "--catalog", catalog, "--json")
    ran = evenstack(capsys, "retarget", JOB, *words)
    assert ran.code == 0, ran.err
    said = json.loads(ran.out)
    assert said["reached"]
    assert said["target_rpm"] == pytest.approx(3300, abs=1)
    assert said["target_n"] == pytest.approx([n * 1.1**2 for n in said["now"]["work_n"]], rel=1e-3)
    for one in said["ways"]:
        assert abs(one["off_rpm"]) <= 25
        assert {"share", "tension_mpa", "height_change_mm", "moved", "stacks"} <= one.keys()
        assert one["stacks"][0]["packets"]
    again = json.loads(retarget_json(found(300.0), work().warnings))
    assert [one["stacks"] for one in said["ways"]] == [one["stacks"] for one in again["ways"]]
    assert {one["kind"] for one in said["workshop"]} == {"mass", "spacer"}
    assert said["sold"]
    prices = {("V20-090", 50): 21.0, ("V20-110", 50): 24.0, ("V20-090 close", 25): 29.0}
    for one in said["sold"]:
        price = prices[one["size"], one["pack"]]
        assert one["packs"] * one["pack"] + one["have"] >= one["discs"]
        assert one["cost"] == pytest.approx(one["packs"] * price)


def test_the_card_is_narrow_and_carries_the_cautions(capsys, tmp_path, monkeypatch):
    # the search itself is run above
    monkeypatch.setattr("optimizer.face.speeds.search", lambda *_: found(300.0))
    plan, drawn = write_plan(tmp_path), tmp_path / "ways.svg"
    ran = evenstack(capsys, "retarget", JOB, "--plan", plan, "--engage", "3300", "--plot", drawn)
    assert ran.code == 0
    assert drawn.stat().st_size > 5000
    assert max(map(len, ran.out.splitlines())) <= 80
    words = " ".join(ran.out.split())
    assert "1. Other shims, stacks as they are" in words
    assert re.search(r"stack and shims [\d.]+ mm high, [\d.]+ mm higher than today, 0 discs", words)
    assert re.search(r"mm high, as today, 0 discs moved", words)
    assert "+0.000" not in words
    for caution in ("speed limits", "burst", "idle", "heats"):
        assert caution in words


def test_masses_that_change_alike_are_said_once():
    answer = found(300.0)
    (one,) = answer.workshop
    lighter = replace(one, kind="mass", spacer_mm=None, mass_change_g=(-30.0,) * 3)
    said = retarget_card(replace(answer, workshop=(lighter,)), "mm", ())
    assert "every shoe -30.0 g, at the centre of gravity" in said
    assert "shoe by shoe" not in said


def test_todays_load_and_speed_need_no_plan_and_no_masses(capsys, tmp_path):
    text = JOB.read_text().replace("engagement_rpm = 3000", "load_n = 714")
    bare = [line for line in text.splitlines() if "shoe" not in line or "shoes =" in line]
    bare = [line for line in bare if not line.startswith("cg_radius")]
    (tmp_path / "bag.csv").write_text((JOB.parent / "bag.csv").read_text())
    (tmp_path / "job.toml").write_text("\n".join(bare))
    now = ("--load-now", "700", "--rpm-now", "3000")
    ran = evenstack(capsys, "retarget", tmp_path / "job.toml", "--later", "300", "--json", *now)
    assert ran.code == 0, ran.err
    said = json.loads(ran.out)
    assert said["target_n"] == pytest.approx([847.0] * 3, abs=0.01)  # 700 x 1.1^2
    assert said["reached"]
    assert said["ways"][0]["moved"] is None


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "either --later RPM or --engage RPM"),
        (["--later", "300", "--engage", "3000"], "exactly one"),
        (["--later", "300"], "Give --plan plan.json, or --load-now and --rpm-now"),
        (["--later", "-4000", "--rpm-now", "3000"], "today's is 3000 rpm. Correct --later"),
        (["--later", "nan", "--rpm-now", "3000"], "got nan"),
        (["--engage", "1e300", "--rpm-now", "3000"], "50000"),
        (["--later", "300", "--load-now", "lots"], "got 'lots'"),
    ],
)
def test_slips_are_told_in_words(capsys, words, says):
    ran = evenstack(capsys, "retarget", JOB, *words)
    assert ran.code == 2
    assert says in ran.err
    assert ran.out == ""


def test_a_way_is_written_with_a_job_plan_and_sheet_to_go_on_with(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("optimizer.face.speeds.search", lambda *_: found(300.0))
    folder = tmp_path / "clutch"
    shutil.copytree(JOB.parent, folder)
    job, plan, out = folder / "job.toml", write_plan(tmp_path), tmp_path / "later"
    words = ("--plan", plan, "--engage", "3300", "--json")
    ran = evenstack(capsys, "retarget", job, *words, "--out", out, "--way", "1")
    assert ran.code == 0, ran.err
    assert {path.name for path in out.iterdir()} == {"job.toml", "plan.json", "sheet.html"}
    said = json.loads(ran.out)["ways"][0]
    told = evenstack(capsys, "engage", out / "job.toml", "--plan", out / "plan.json", "--json")
    assert told.code == 0, told.err
    assert json.loads(told.out)["mean_rpm"] == pytest.approx(said["mean_rpm"], abs=1)
    assert json.loads(told.out)["tolerance"]["rpm"] == pytest.approx(3300, abs=0.1)
    spacer = next(one for one in json.loads(ran.out)["workshop"] if one["kind"] == "spacer")
    other = tmp_path / "spacer"
    words = (*words, "--out", other, "--way", spacer["number"])
    assert evenstack(capsys, "retarget", job, *words).code == 0
    told = evenstack(capsys, "engage", other / "job.toml", "--plan", other / "plan.json", "--json")
    assert json.loads(told.out)["mean_rpm"] == pytest.approx(spacer["mean_rpm"], abs=1)
    far = evenstack(capsys, "retarget", job, "--plan", plan, "--engage", "3300", "--out",
                    tmp_path / "none", "--way", "99")  # fmt: skip
    assert far.code == 2
    assert "Expected a way from 1 to" in far.err
    assert not (tmp_path / "none").exists()
