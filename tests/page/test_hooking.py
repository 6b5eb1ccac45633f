"""Hookup on the page says what the commands say."""

import json

import pytest

from optimizer.face.speeds import engagement
from optimizer.hookup import moves
from optimizer.text import percent
from tests.page.visit import Visit
from tests.shell import evenstack

HOOKUP = "/c/this/hookup"


def test_the_speeds_are_those_of_the_command(shop):
    visit, folder = shop
    visit.get(f"{HOOKUP}?plan=match-1")
    assert visit.answer.status_code == 200
    told = engagement(folder / "job.toml", folder / "match-1" / "plan.json").engagement
    for rpm in told.hookup.touch_rpm:
        assert f"touches at {rpm:.0f} rpm" in visit.words
    assert len(told.drifts) == visit.words.count("out of tolerance at")


def asked_for(visit, by):
    visit.post(f"{HOOKUP}/ways", {"plan": "match-1", "by": by})
    assert visit.answer.status_code == 200
    return visit.worked("this/hookup")


def test_a_later_hookup_is_that_of_the_command(shop, capsys, monkeypatch):
    visit, folder = shop
    monkeypatch.setattr(moves, "LOOKS", 40)  # a quarter of the search, for both alike
    run = asked_for(visit, "100")
    told = evenstack(
        capsys, "retarget", folder / "job.toml", "--later", "100", "--json",
        "--plan", folder / "match-1" / "plan.json",
    )  # fmt: skip
    kept = json.loads((folder / run.folder).read_text())
    assert kept["answer"] == json.loads(told.out)
    visit.get(f"{HOOKUP}?plan=match-1&by=100")
    ways = json.loads(told.out)
    assert f"To {ways['target_rpm']:.0f} rpm" in visit.words
    for packet in ways["ways"][0]["stacks"][0]["packets"]:
        assert "+".join(packet) in visit.words
    for one in [*ways["ways"], *ways["workshop"]]:
        if one["chance"] is not None:
            assert f"{percent(one['chance'])} chance that the shoes agree" in visit.words
    assert ways["workshop"], "a spacer or other masses"
    assert visit.words.count("In the workshop: ") == len(ways["workshop"])
    # it outlasts the server, and is what was asked last
    later = Visit(folder)
    assert 'id="ways"' in later.get(HOOKUP).text
    assert 'value="100"' in later.answer.text
    # it was worked out for this plan, this change and this bag, and for no other
    assert 'id="ways"' not in visit.get(f"{HOOKUP}?plan=match-1&by=200").text
    bag = folder / "bag.csv"
    bag.write_text(bag.read_text().replace("A06,20.0,10.2,0.9", "A06,20.0,10.2,0.8"))
    assert 'id="ways"' not in visit.get(f"{HOOKUP}?plan=match-1&by=100").text
    assert "look anew" in visit.words


def test_a_speed_seen_on_the_engine_is_kept(shop):
    visit, folder = shop
    visit.post("/c/this/seen", {"plan": "match-1", "rpm": "3300"})
    assert visit.answer.status_code == 200
    assert json.loads((folder / "job.known.json").read_text())["speed"]["rpm"] == 3300


@pytest.mark.parametrize("by", ["x", "0", "1e9", "nan", "<b>", "9" * 50])
def test_a_change_that_is_none_is_told(shop, by):
    visit, _ = shop
    visit.post(f"{HOOKUP}/ways", {"plan": "match-1", "by": by})
    assert visit.answer.status_code == 422
    assert "<b>" not in visit.answer.text.split("<h1>")[1]
    assert visit.house.works.of("this/hookup") is None


def test_a_change_of_stacks_that_nobody_named_asks_for_them(kart):
    """In the words of the page, and before any work is begun."""
    kart.post(f"{HOOKUP}/ways", {"plan": "", "by": "300"})
    assert "Choose the plan whose stacks are in the clutch first." in kart.words
    assert kart.house.works.of("this/hookup") is None


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
