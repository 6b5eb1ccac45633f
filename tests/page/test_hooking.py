"""Hookup on the page says what the commands say."""

import json

import pytest

from optimizer.face.speeds import engagement, retarget

HOOKUP = "/c/this/hookup"


def test_the_speeds_are_those_of_the_command(shop):
    visit, folder = shop
    visit.get(f"{HOOKUP}?plan=match-1")
    assert visit.answer.status_code == 200
    told = engagement(folder / "job.toml", folder / "match-1" / "plan.json").engagement
    for rpm in told.hookup.touch_rpm:
        assert f"touches at {rpm:.0f} rpm" in visit.words
    assert len(told.drifts) == visit.words.count("out of tolerance at")


def test_a_later_hookup_is_that_of_the_command(shop):
    visit, folder = shop
    visit.get(f"{HOOKUP}?plan=match-1&by=100")
    plan = folder / "match-1" / "plan.json"
    told = retarget(folder / "job.toml", later_rpm=100, plan=plan).found
    assert f"To {told.target_rpm:.0f} rpm" in visit.words
    shown = [*told.ways, *([] if told.reached or told.nearest is None else [told.nearest])]
    assert shown
    for packet in shown[0].stacks[0].packets:
        assert "+".join(packet) in visit.words


def test_a_speed_seen_on_the_engine_is_kept(shop):
    visit, folder = shop
    visit.post("/c/this/seen", {"plan": "match-1", "rpm": "3300"})
    assert visit.answer.status_code == 200
    assert json.loads((folder / "job.known.json").read_text())["speed"]["rpm"] == 3300


@pytest.mark.parametrize("by", ["x", "0", "1e9", "nan", "<b>", "9" * 50])
def test_a_change_that_is_none_is_told(shop, by):
    visit, _ = shop
    assert visit.get(f"{HOOKUP}?plan=match-1&by={by}").status_code == 422
    assert "<b>" not in visit.answer.text.split('id="said"')[1][:200]


@pytest.mark.parametrize("rpm", ["", "x", "5", "1e9"])
def test_a_speed_that_is_none_is_not_kept(shop, rpm):
    visit, folder = shop
    visit.post("/c/this/seen", {"plan": "match-1", "rpm": rpm})
    assert visit.answer.status_code == 422
    assert not (folder / "job.known.json").exists()


def test_a_job_without_masses_says_what_lacks(shop):
    visit, folder = shop
    job = folder / "job.toml"
    job.write_text(job.read_text().replace("shoe_mass_g = 210\n", ""))
    assert visit.get(HOOKUP).status_code == 422
    assert "shoe_mass" in visit.words
