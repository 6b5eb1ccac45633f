"""Matching on the page makes the files that the command makes, and can be stopped."""

import shutil

import pytest

from optimizer.io.documents import read_plan
from tests.page.conftest import EXAMPLES
from tests.page.visit import Visit
from tests.shell import evenstack


def test_the_plan_is_that_of_the_command_byte_for_byte(planned, tmp_path, capsys):
    shutil.copytree(EXAMPLES / "kart_mm", tmp_path / "kart")
    done = evenstack(capsys, "match", tmp_path / "kart" / "job.toml")
    assert done.code == 0
    ours, theirs = planned / "match-1", tmp_path / "kart" / "match-1"
    assert {p.name for p in ours.iterdir()} == {p.name for p in theirs.iterdir()}
    assert (ours / "plan.json").read_bytes() == (theirs / "plan.json").read_bytes()
    assert (ours / "sheet.html").read_bytes() == (theirs / "sheet.html").read_bytes()


def test_a_plan_of_the_command_is_seen_on_the_page(shop):
    visit, folder = shop
    (folder / "match-1").rename(folder / "by-hand")
    assert "by-hand" in visit.get("/c/this/match").text


def test_what_cannot_be_built_is_told(kart):
    job = kart.house.folder.root / "job.toml"
    job.write_text(job.read_text().replace("load_n = 890", "load_n = 89000"))
    with pytest.raises(AssertionError):
        kart.matched()
    kart.get("/c/this/match")
    assert "problems" in kart.answer.text
    assert not list(job.parent.glob("match-*"))


def test_a_second_match_waits_and_a_stop_ends_the_first(kart):
    lot = kart.house.folder.root / "bag.csv"
    rows = lot.read_text().splitlines()
    many = [rows[0]] + [
        f"{row.split(',')[0]}x{k},{row.split(',', 1)[1]}" for k in range(60) for row in rows[1:]
    ]
    lot.write_text("\n".join(many) + "\n")
    kart.post("/c/this/match/start", {"sets": "max"})
    kart.post("/c/this/match/start", {"sets": "1"})
    assert kart.answer.status_code == 422
    assert "running already" in kart.words
    assert "Stop with the best so far" in kart.get("/c/this/match").text
    kart.post("/c/this/match/stop")
    run = kart.house.works.of("this")
    kart.house.works.close()
    assert run.process.poll() is not None


@pytest.mark.parametrize("sets", ["0", "-1", "x", "9999999", "1; rm -rf /", "１"])
def test_a_number_of_sets_that_is_none_starts_nothing(kart, sets):
    kart.post("/c/this/match/start", {"sets": sets})
    assert kart.answer.status_code == 422
    assert kart.house.works.of("this") is None


def test_many_sets_can_be_leafed_through(shop, capsys):
    visit, folder = shop
    evenstack(capsys, "match", folder / "job.toml", "--sets", "max", "--out", folder / "lot")
    plan = read_plan(folder / "lot" / "plan.json")
    last = len(plan.sets)
    assert visit.get(f"/c/this/p/lot/{last}/build").status_code == 200
    assert visit.get(f"/c/this/p/lot/{last + 1}/build").status_code == 422


def test_a_visit_finds_the_answer_of_an_earlier_one(planned):
    assert "match-1" in Visit(planned).get("/c/this/match").text


def test_a_bag_just_begun_says_how_many_discs_are_missing(kart):
    path = kart.house.folder.root / "bag.csv"
    path.write_text("".join(path.read_text().splitlines(keepends=True)[:4]))
    kart.get("/c/this/bag")
    assert "The bag is too small" in kart.words
    assert "reaches the target" not in kart.words
