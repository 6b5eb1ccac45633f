"""Building: the drawing is the list, ticks stay, and nothing of another folder is opened."""

import json
import re

import pytest

from optimizer.io.documents import read_plan
from tests.page.visit import Visit

BUILD, TICK = "/c/this/p/match-1/1/build", "/c/this/p/match-1/1/tick"


def parts(html, shoe=1):
    return re.findall(rf'id="part-{shoe}-[^>]*data-part="([^"]+)" data-on="([01])"', html)


def test_the_rows_are_the_stack_from_the_bottom_up(shop):
    visit, folder = shop
    plan = read_plan(folder / "match-1" / "plan.json")
    for stack in plan.sets[0].stacks:
        shown = [part for part, _ in parts(visit.get(BUILD).text, stack.shoe)]
        discs = [disc for packet in stack.packets for disc in packet]
        assert shown[-len(discs) :] == discs
        assert len(shown) == len(discs) + len(stack.shims_mm)


def test_packets_face_alternately(shop):
    visit, folder = shop
    stack = read_plan(folder / "match-1" / "plan.json").sets[0].stacks[0]
    first = visit.get(BUILD).text.split('id="shoe-2"')[0]
    facing = re.findall(r"</span>\s*(down|up|flat)</span></button>", first)
    wanted = ["flat"] * len(stack.shims_mm)
    wanted += ["up" if k % 2 else "down" for k, packet in enumerate(stack.packets) for _ in packet]
    assert facing == wanted


def test_what_the_plan_warns_of_is_said_before_the_first_disc_is_laid(shop):
    """Invented words, as those of stacks that are pressed too far on a worn drum."""
    visit, folder = shop
    path = folder / "match-1" / "plan.json"
    plan = json.loads(path.read_text())
    path.write_text(json.dumps({**plan, "warnings": ["They may set or crack."]}))
    visit.get(BUILD)
    assert "They may set or crack." in visit.words
    assert "<details open><summary>1 to look at" in visit.answer.text
    visit.post(TICK, {"shoe": "1", "part": parts(visit.answer.text)[0][0], "on": "1"})
    assert "<details><summary>1 to look at" in visit.answer.text


def test_ticks_stay_for_another_device_and_another_start(shop):
    visit, folder = shop
    first = parts(visit.get(BUILD).text)[0][0]
    visit.post(TICK, {"shoe": "1", "part": first, "on": "1"})
    assert f"1 of {len(parts(visit.answer.text))} placed" in visit.words
    other = Visit(folder)
    assert parts(other.get(BUILD).text)[0] == (first, "0")
    other.post(TICK, {"shoe": "1", "part": first, "on": "0"})
    assert parts(visit.get(BUILD).text)[0] == (first, "1")


def test_without_the_script_a_tap_turns_the_tick(shop):
    visit, _ = shop
    first = parts(visit.get(BUILD).text)[0][0]
    visit.post(TICK, {"shoe": "1", "tick": first})
    assert parts(visit.answer.text)[0] == (first, "0")
    visit.post(TICK, {"shoe": "1", "tick": first})
    assert parts(visit.answer.text)[0] == (first, "1")


def test_two_devices_tick_at_once_and_both_ticks_stay(shop):
    visit, folder = shop
    other = Visit(folder)
    names = [part for part, _ in parts(visit.get(BUILD).text)][:4]
    for one, name in zip((visit, other, visit, other), names, strict=True):
        one.post(TICK, {"shoe": "1", "part": name, "on": "1"})
    assert f"4 of {len(parts(visit.get(BUILD).text))} placed" in visit.words


def test_all_ticks_of_a_shoe_can_be_taken_away(shop):
    visit, _ = shop
    for part, _on in parts(visit.get(BUILD).text):
        visit.post(TICK, {"shoe": "1", "part": part, "on": "1"})
    first = visit.get(BUILD).text.split('id="shoe-2"')[0]
    assert not re.findall(r'class="part[^"]* next', first)
    visit.post(TICK, {"shoe": "1", "clear": "1"})
    assert "0 of" in visit.words


def test_only_what_is_in_the_stack_can_be_ticked(shop):
    visit, folder = shop
    for data in (
        {"shoe": "1", "part": "nobody", "on": "1"},
        {"shoe": "9", "part": "A01", "on": "1"},
        {"shoe": "x", "part": "A01", "on": "1"},
        {},
    ):
        visit.post(TICK, data)
        assert visit.answer.status_code == 422
    assert not (folder / "match-1" / "page.json").exists()


@pytest.mark.parametrize("content", ["", "{", "[]", '{"schema": "evenstack.page/1", "ticks": 3}'])
def test_a_damaged_file_of_ticks_is_none(shop, content):
    visit, folder = shop
    (folder / "match-1" / "page.json").write_text(content)
    assert visit.get(BUILD).status_code == 200


def test_the_free_height_names_a_band_that_finds_a_turned_disc(shop):
    visit, _ = shop
    visit.get(BUILD)
    low, high = map(float, re.findall(r"Below ([\d.]+) mm or above ([\d.]+) mm", visit.words)[0])
    assert 0.3 < high - low < 0.6


@pytest.mark.parametrize(
    "path",
    [
        "/c/this/p/..%2f..%2fetc/1/build",
        "/c/this/p/../1/build",
        "/c/..%2fother/bag",
        "/c/%2fetc/bag",
        "/c/this/p/%00/1/build",
        "/c/this/p/outside/1/build",
        "/c/this/p/match-1/0/build",
        "/c/this/p/match-1/-1/build",
        "/c/this/p/match-1/99999999999/build",
        "/static/../app.py",
        "/static/%2e%2e%2fapp.py",
        "/static/..%2f..%2f..%2fpyproject.toml",
        "/news/..%2fother",
    ],
)
def test_no_address_opens_a_file_outside(shop, path):
    visit, folder = shop
    outside = folder.parent / "secret"
    outside.mkdir()
    plan = json.loads((folder / "match-1" / "plan.json").read_text())
    plan["warnings"] = ["secret words"]
    (outside / "plan.json").write_text(json.dumps(plan))
    (folder / "outside").symlink_to(outside)
    if path.startswith("/news"):
        visit.house.closing = True
    visit.get(path)
    assert visit.answer.status_code in (200, 404, 405, 422)
    assert "secret words" not in visit.answer.text
    assert "dependencies" not in visit.answer.text
    if not path.startswith("/news"):
        assert visit.answer.status_code != 200


def test_a_clutch_that_is_a_link_out_of_the_folder_is_none(planned, tmp_path):
    root = tmp_path / "root"
    root.mkdir()
    (root / "kart").symlink_to(planned)
    visit = Visit(root)
    assert "kart" not in visit.get("/").text
    assert visit.get("/c/kart/bag").status_code == 422


def test_a_plan_of_another_bag_is_told(shop):
    visit, folder = shop
    bag = folder / "bag.csv"
    bag.write_text(bag.read_text().replace("A0", "Q0"))
    assert visit.get(BUILD).status_code == 422
    assert "match again" in visit.words
