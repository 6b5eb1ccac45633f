"""Discs that must stay with a set are in that set or in none, in dealing and on the bench."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer.bench.session import for_set
from optimizer.errors import InputError
from optimizer.face.matching import match
from optimizer.face.speeds import retarget
from optimizer.io.bag.reader import read_bag
from optimizer.io.documents import to_json
from optimizer.io.job.reader import read_job
from optimizer.match.holdings import holdings
from optimizer.match.mid_work import mid_work
from optimizer.match.own_sets import marks_of, of_one_set
from optimizer.match.workspace import posed
from optimizer.model.job import StackRules
from optimizer.ways.start import StartingPoint
from tests.bags import plain_job, seeded_bag
from tests.shell import evenstack
from tests.speed.lots import write_lot

ROOT = Path(__file__).parents[2]


def marked(discs, seed, **marks):
    """A seeded bag with marks on ranges of its discs."""
    bag = seeded_bag(discs, seed)
    of = {f"D{n + 1:02d}": mark for mark, numbers in marks.items() for n in numbers}
    rows = tuple(replace(d, keep_with=of.get(d.name, "")) for d in bag.discs)
    return replace(bag, discs=rows), {
        m: {f"D{n + 1:02d}" for n in of_m} for m, of_m in marks.items()
    }


#: 18 discs of a set and 4 to spare, 6 and 2 that want others beside them
BAG, MARKS = marked(110, 6, Ann=range(22), Bob=range(40, 46), Cid=range(50, 52))
RULES = StackRules(packet_sizes=(1,), discs=(6, 6))
JOB = plain_job(target_n=690.0, rules=RULES)


@pytest.fixture(scope="module")
def dealt():
    return match(posed(JOB, BAG), sets=None)


def test_marked_discs_are_in_their_set_or_in_none(dealt):
    sets = dealt.plan.sets
    assert [one.keep_with for one in sets[:3]] == ["Ann", "Bob", "Cid"]
    assert not any(one.keep_with for one in sets[3:])
    for one in sets:
        for mark, discs in MARKS.items():
            assert not discs & one.discs or one.keep_with == mark
    ann, bob, cid = (one.discs for one in sets[:3])
    assert ann <= MARKS["Ann"]
    assert MARKS["Bob"] < bob
    assert MARKS["Cid"] < cid
    used = [disc for one in sets for disc in one.discs]
    assert len(used) == len(set(used))
    assert len(sets) >= 4
    assert all(one.spread_n <= dealt.plan.spread_tolerance_n for one in sets)
    [note] = [
        w for w in dealt.plan.warnings if w.startswith("the first sets are those of Ann (its")
    ]
    assert "Bob (" in note
    assert "other discs beside" in note


def test_of_fewer_sets_than_marks_the_rest_is_told_and_one_set_is_of_one_mark():
    work = posed(JOB, BAG)
    one = match(work, sets=1).plan
    assert [s.keep_with for s in one.sets] == ["Ann"]
    assert any("no set was made for Bob (6 discs), Cid (2 discs)" in w for w in one.warnings)
    wanted = replace(work.job, stack=replace(RULES, use=("D42",)))
    with pytest.raises(InputError, match="No set was made with D42"):
        match(posed(wanted, BAG), sets=1)


def test_a_group_may_not_be_kept_with_two_sets():
    both = replace(RULES, together=(("D01", "D41"),))
    with pytest.raises(InputError, match="D01, D41 are kept together, and with Ann, Bob"):
        marks_of(posed(replace(JOB, stack=both), BAG))
    with_one = replace(RULES, together=(("D41", "D60"),))
    marks = marks_of(posed(replace(JOB, stack=with_one), BAG))
    assert 59 in marks["Bob"]


def test_what_is_kept_with_a_set_that_stands_is_not_dealt_again(dealt, tmp_path):
    plan = tmp_path / "plan.json"
    plan.write_text(to_json(dealt.plan))
    again = match(dealt.work, sets=None, standing=mid_work([plan], [1], ["D60"])).plan
    over = MARKS["Ann"] - dealt.plan.sets[0].discs
    assert [one.keep_with for one in again.sets[:2]] == ["Bob", "Cid"]
    assert not any(one.discs & (MARKS["Ann"] | {"D60"}) for one in again.sets)
    assert over <= set(again.unused)
    assert set(again.elsewhere) == dealt.plan.sets[0].discs | {"D60"}
    assert any("for they are kept with discs that stand" in w for w in again.warnings)


def test_the_bench_takes_no_disc_that_stands_elsewhere_or_is_kept_with_another(dealt):
    plan = dealt.plan
    stands = sorted(plan.unused)[:1]
    plan = replace(plan, elsewhere=tuple(stands))
    for number in 1, 3:
        one = plan.sets[number]
        seen = for_set(dealt.work, plan, one)
        usable = {seen.belief.names[d] for d in seen.task.usable}
        assert not usable & set(stands)
        others = set().union(*(d for mark, d in MARKS.items() if mark != one.keep_with))
        assert not usable & (others - one.discs)
        assert seen.elsewhere >= plan.sets[0].discs


def test_the_column_is_read_and_the_labels_name_the_mark(capsys, tmp_path):
    job = write_lot(tmp_path, 60)
    bag = tmp_path / "bag.csv"
    head, *rows = bag.read_text().splitlines()
    text = [f"{head},keep_with", *(f"{r},{'No. 7' if k < 5 else ''}" for k, r in enumerate(rows))]
    bag.write_text("\n".join(text) + "\n")
    assert read_bag(bag, read_job(job)).discs[4].keep_with == "No. 7"
    ran = evenstack(capsys, "match", job, "--sets", "2", "--out", tmp_path / "out")
    assert ran.code == 0, ran.err
    assert "SET 1, KEPT WITH No. 7" in ran.out
    assert "Set 1 (No. 7), shoe 2" in (tmp_path / "out" / "sheet-labels.html").read_text()
    bag.write_text("\n".join([*text, text[1].replace("No. 7", "No. 8")]) + "\n")
    ran = evenstack(capsys, "match", job, "--sets", "2")
    assert ran.code == 2
    assert "Expected the same keep_with in all rows of a disc, got 'No. 8'" in ran.err


def test_what_looks_at_one_set_takes_discs_of_no_other():
    work = posed(JOB, BAG)
    names = work.belief.names
    for stands, there in (({"D41", "D90"}, {"Bob"}), ({"D90"}, set())):
        few = of_one_set(work, stands)
        usable = {names[d] for d in few.task.usable}
        for mark, discs in MARKS.items():
            assert (discs <= usable) if mark in there else not discs & usable
        assert {"D60", "D90"} <= usable
    with pytest.raises(InputError, match="for one set, and the bag keeps discs for Ann, Bob, Cid"):
        StartingPoint.of(work)
    one, _ = marked(30, 6, Ann=range(4))
    assert of_one_set(posed(JOB, one), ()).task.usable.size == 30


def test_retarget_leaves_the_discs_of_another_set_alone(tmp_path, monkeypatch):
    monkeypatch.setattr("optimizer.face.speeds.search", lambda task, *_: task)
    folder = shutil.copytree(ROOT / "examples" / "kart_mm", tmp_path / "kart")
    planned = match(folder / "job.toml")
    planned.save(folder / "out")
    names = planned.work.belief.names
    spare = sorted(set(names) - planned.plan.sets[0].discs)
    bag = folder / "bag.csv"
    head, *rows = bag.read_text(encoding="utf-8").splitlines()
    mark = {min(planned.plan.sets[0].discs): "mine", spare[0]: "other", spare[2]: "other"}
    rows = [f"{row},{mark.get(row.split(',')[0], '')}" for row in rows]
    bag.write_text("\n".join([f"{head},keep_with", *rows]) + "\n", encoding="utf-8")
    asked = retarget(folder / "job.toml", later_rpm=150, plan=folder / "out" / "plan.json").found
    assert {names[d] for d in asked.usable} == set(names) - {spare[0], spare[2]}
    with pytest.raises(InputError, match="keeps discs for mine, other"):
        retarget(folder / "job.toml", later_rpm=150, load_now_n=800.0, rpm_now=3000.0)


def test_inspect_names_no_pattern_that_only_discs_of_two_sets_could_make():
    both, _ = marked(20, 6, Ann=range(10), Bob=range(10, 20))
    plain = replace(both, discs=tuple(replace(d, keep_with="") for d in both.discs))
    assert holdings(posed(JOB, plain)).patterns
    held = holdings(posed(JOB, both))
    assert not held.patterns
    assert "The bag is too small" in " ".join(held.reasons)
