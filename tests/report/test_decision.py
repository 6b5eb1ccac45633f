"""The sheet after readings: the decision first, only what moves is open, suspects flagged."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from optimizer.bench.moves import Exchange, position
from optimizer.bench.session import open_session
from optimizer.bench.step import Step
from optimizer.control import Limits, quiet
from optimizer.estimate.consistency import Suspect
from optimizer.face.matching import match
from optimizer.match.workspace import Workspace
from optimizer.report.advice import exchange_words, in_clutch_words
from optimizer.report.bench_card import bench_text
from optimizer.report.decision import decided
from optimizer.report.facts import set_facts, states_sd_n
from optimizer.report.page import sheet
from tests.browser import needs_browser
from tests.report.browser import pages_of, printed, type_sizes
from tests.report.html_checks import read_html
from tests.report.plans import dealt

KART = Path(__file__).parents[2] / "examples" / "kart_mm"
DAY = date(2026, 1, 31)
#: readings in N of the three shoes, and what is decided by them
READ = {"SWAP": (915, 888, 899), "STOP": (890, 889, 891), "READ AGAIN": (800, 890, 985)}


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Give the step after readings and the job as they taught it."""
    folder = tmp_path_factory.mktemp("bench") / "kart"
    shutil.copytree(KART, folder)
    found = match(folder / "job.toml")
    for path, content in found.files(folder / "first").items():
        if path.name == "plan.json":
            path.parent.mkdir()
            path.write_text(content, encoding="utf-8")

    @cache
    def after(loads: tuple[int, int, int], usual: bool = True) -> tuple[Step, Workspace]:
        log = folder / f"{'-'.join(map(str, loads))}.csv"
        rows = [f"1,{shoe},settled,{load}" for shoe, load in enumerate(loads, 1)]
        log.write_text("\n".join(["round,shoe,kind,load_n", *rows]) + "\n", encoding="utf-8")
        plan = folder / "first" / "plan.json"
        session = open_session(folder / "job.toml", plan, log, 1, 0, 0.9, 0, True)
        rows_read = session.read().rows
        if usual:
            rows_read = tuple(replace(row, trust="usual") for row in rows_read)
        done = session.advise(rows_read, Limits(), quiet)
        return done, session.learned(done)

    return after


def page_of(done, work):
    page = sheet(done.next, work, DAY, done)
    root, faults = read_html(page)
    assert faults == []
    return page, root


def boxes(root):
    return {
        e.get("aria-label").removesuffix(" placed")
        for e in root.all("input")
        if e.get("type") == "checkbox"
    }


def test_shoes_to_be_read_as_they_stand_are_not_drawn_as_what_comes_in(bench):
    done, work = bench((890,))
    said = bench_text(done, work)
    assert said.startswith("READ shoes 2 and 3 as they stand")
    assert "<" not in said
    assert boxes(page_of(done, work)[1]) == set()


@pytest.mark.parametrize("word", READ)
def test_the_decision_is_the_first_thing_said_and_cautions_stay(bench, word):
    done, work = bench(READ[word])
    _, root = page_of(done, work)
    first = root.all("section")[0].all("p")[0]
    assert first.get("class") == "decision"
    assert first.all("b")[0].words() == word
    words = " ".join(root.words().split())
    for said in ("flies apart", "Never run the clutch uncovered", "Stored energy.", "Dust."):
        assert said in words
    for load in READ[word]:
        assert f"round 1: {load}.0" in words
    assert "between the highest and the lowest" in words
    assert "odds" not in words.lower()


def test_a_reading_that_does_not_count_is_not_said_to_be_of_another_stack(bench):
    done, work = bench((890, 889, 89), usual=False)
    assert done.unread == (3,)
    _, root = page_of(done, work)
    words = " ".join(root.words().split())
    assert "round 1: 89.0 (not counted)" in words
    assert "not as it stands" not in words


def test_a_swap_is_drawn_before_and_after_and_only_what_moves_is_open(bench):
    done, work = bench(READ["SWAP"])
    _, root = page_of(done, work)
    before = {s: {d for p in packs for d in p} for s, packs in enumerate(done.stacks, 1)}
    after = {s.shoe: {d for p in s.packets for d in p} for s in done.next.sets[0].stacks}
    assert boxes(root) == set().union(*(after[s] - before[s] for s in after))
    changed = [s for s in after if after[s] != before[s]]
    changes = decided(done, work).changes
    assert [c.shoe for c in changes] == changed
    for change in changes:
        assert set(change.out) == before[change.shoe] - after[change.shoe]
        assert set(change.comes) == after[change.shoe] - before[change.shoe]
        moved = [
            {p.name for p in d.parts if "moved" in p.kind} for d in (change.before, change.after)
        ]
        assert moved == [set(change.out), set(change.comes)]
    rows = [row for e in root.all("article") for row in e.all("tbody")[0].all("tr")]
    stands = [r for r in rows if "stands" in r.get("class") and "shim" not in r.words()]
    assert len(stands) == sum(map(len, after.values())) - len(boxes(root))


def test_what_a_reading_tells_of_a_stack_it_tells_at_rest_and_worn_too(bench):
    done, work = bench(READ["STOP"])
    (one,) = done.next.sets
    facts = set_facts(one, work)
    alone = states_sd_n(one, facts, work.task)
    read = states_sd_n(one, facts, work.task, done.learned)
    told = [stack.working_load_sd_n for stack in one.stacks]
    assert read[1] == pytest.approx(told)  # as the plan has it
    assert np.all(read[2] < 1.3 * read[1])  # a tenth of a millimetre further
    assert np.all(read[2] < 0.5 * alone[2])
    assert np.all(read[0] < alone[0])


def test_where_nothing_is_to_be_read_there_is_nothing_to_fill_in(bench):
    done, work = bench(READ["STOP"])
    _, root = page_of(done, work)
    assert root.all("input") == []
    done, work = bench(READ["READ AGAIN"])
    _, root = page_of(done, work)
    assert {e.get("type") for e in root.all("input")} == {"text"}


def test_a_suspect_is_flagged_on_its_own_row_and_many_rivals_are_not(bench):
    done, work = bench(READ["SWAP"])
    name = done.next.sets[0].stacks[0].packets[1][0]
    others = tuple(f"disc {d}" for stack in done.stacks for p in stack for d in p)
    for rivals, flagged in (((), {name}), (others[:2], {name, *(o[5:] for o in others[:2])}),
                            (others, {name})):  # fmt: skip
        told = replace(done.verdict, suspects=(Suspect("disc", name, 4.2, rivals),))
        _, root = page_of(replace(done, verdict=told), work)
        rows = [row for row in root.all("tr") if "suspect" in row.get("class")]
        assert {row.all("th")[0].get("title") for row in rows} <= flagged
        assert name in {row.all("th")[0].get("title") for row in rows}
        assert all("! suspect" in row.words() for row in rows)
        assert f"Disc {name} is suspect" in root.words()
    seat = replace(done.verdict, suspects=(Suspect("seat", "shoe 2", 4.2),))
    _, root = page_of(replace(done, verdict=seat), work)
    second = root.all("article")[1]
    assert "suspect seat" in second.words()
    assert "suspect seat" not in root.all("article")[0].words()


@needs_browser
@pytest.mark.parametrize("word", READ)
def test_each_prints_on_two_pages_and_the_first_in_no_small_type(bench, browser, word):
    done, work = bench(READ[word])
    page, _ = page_of(done, work)
    for paper in ("A4", "letter"):
        data = printed(browser, page, paper)
        assert pages_of(data) == 2
        assert min(type_sizes(data)[0]) >= 9 - 0.02


@needs_browser
def test_a_swap_of_sixteen_discs_a_stack_prints_on_two_pages(browser, monkeypatch, bench):
    """What stands goes to the second page where the stacks take up the first."""
    done, work = bench(READ["SWAP"])
    decision = decided(done, work)
    plan, of_plan = dealt(pairs=4, singles=8, spare=12)
    monkeypatch.setattr("optimizer.report.decision.decided", lambda *_: decision)
    page = sheet(plan, of_plan, DAY, SimpleNamespace(learned=None))
    for paper in ("A4", "letter"):
        assert pages_of(printed(browser, page, paper)) == 2


def test_a_settled_set_that_hardly_agrees_in_the_clutch_says_what_to_do(bench):
    """STOP beside 17 % in the clutch left a mechanic without a next thing to do."""
    done, work = bench(READ["STOP"])
    assert done.advice.kind == "stop"
    unlikely = in_clutch_words(replace(done, chance_in_clutch=0.17), work.job)
    assert unlikely.endswith("then match and read anew")
    assert "anew" not in in_clutch_words(replace(done, chance_in_clutch=0.6), work.job)
    moved, _ = bench(READ["SWAP"])
    assert "anew" not in in_clutch_words(replace(moved, chance_in_clutch=0.17), work.job)


def test_positions_count_discs_as_the_drawing_shows_them():
    """A nested pair below it was counted as one: the drawing showed six where five were said."""
    stacks = ((("A", "B"), ("C",), ("D", "E")), (("F",),))
    places = ((1, 1, 2), (1, 2, 1), (1, 3, 1), (2, 1, 1))
    assert [position(stacks, at) for at in places] == [2, 3, 4, 1]
    swap = Exchange("C", (1, 2, 1), "F", (2, 1, 1))
    assert exchange_words(swap, stacks) == "swap C (shoe 1, position 3) with F (shoe 2, position 1)"
