"""Several jobs dealt from one bag: each gets its sets, and no disc is in two plans."""

from __future__ import annotations

import json

import pytest

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.face.sharing import match_jobs
from optimizer.match.mid_work import mid_work
from tests.shell import evenstack
from tests.speed.lots import write_lot


@pytest.fixture(scope="module")
def jobs(tmp_path_factory):
    """Two clutches whose targets are some pounds apart, and one invented bag of 115 discs."""
    folder = tmp_path_factory.mktemp("shared")
    early = write_lot(folder, 115).rename(folder / "early.toml")
    early.write_text(early.read_text() + "[stack]\ndiscs = [9, 9]\n")
    late = folder / "late.toml"
    late.write_text(early.read_text().replace("load_n = 890", "load_n = 905"))
    return early, late


@pytest.fixture(scope="module")
def shared(jobs):
    return match_jobs(jobs, (2, None))


def of(found):
    return set().union(*(one.discs for one in found.plan.sets))


def test_each_job_gets_sets_on_its_own_target_of_discs_of_its_own(shared):
    early, late = shared
    assert len(early.plan.sets) == 2
    assert len(late.plan.sets) >= 2
    assert not of(early) & of(late)
    assert set(early.plan.elsewhere) == of(late)
    assert set(late.plan.elsewhere) == of(early)
    assert not set(early.plan.unused) & of(late)
    for found, target in zip(shared, (890, 905), strict=True):
        loads = [stack.working_load_n for one in found.plan.sets for stack in one.stacks]
        assert max(abs(load - target) for load in loads) <= 22
    assert any("dealt from one bag with late" in w for w in early.plan.warnings)


def test_the_order_of_the_jobs_does_not_matter_where_both_get_what_they_want(jobs):
    """A job with more sets than the bag has takes what is left, whichever is named first."""
    for turn in (1, -1):
        few, many = match_jobs(jobs, (2, 9)[::turn])[::turn]
        assert len(few.plan.sets) == 2
        assert len(many.plan.sets) >= 2
        assert not of(few) & of(many)
        fewer = f"9 sets were asked for, and the bag gives {len(many.plan.sets)}."
        assert fewer in many.plan.warnings
        assert not any("asked for" in note for note in few.plan.warnings)


def test_a_disc_that_one_job_wants_is_kept_for_it(jobs, tmp_path):
    early, late = jobs
    wants = tmp_path / "late.toml"
    asked = late.read_text() + 'use = ["D000007", "D000011"]\n'
    wants.write_text(asked.replace('"bag.csv"', f'"{late.parent / "bag.csv"}"'))
    first, second = match_jobs((early, wants), (2, 2), limits=Limits())
    assert {"D000007", "D000011"} <= of(second)
    assert not of(first) & of(second)


def test_what_stands_of_two_plans_is_dealt_to_neither(jobs, shared, tmp_path):
    plans = []
    for at, found in enumerate(shared):
        plans.append(tmp_path / f"plan{at}.json")
        found.save(tmp_path / f"out{at}")
        plans[at] = tmp_path / f"out{at}" / "plan.json"
    stands = mid_work(plans, [1, 1], [])
    again = match_jobs(jobs, (1, 1), standing=stands)
    built = shared[0].plan.sets[0].discs | shared[1].plan.sets[0].discs
    assert not (of(again[0]) | of(again[1])) & built
    assert of(again[0])
    assert of(again[1])
    assert "1 sets of out0/plan.json and 1 sets of out1/plan.json stand" in stands.note


def test_the_command_gives_each_job_its_own_folder(capsys, jobs, tmp_path):
    ran = evenstack(capsys, "match", *jobs, "--sets", 2, "--sets", 2, "--out", tmp_path / "o")
    assert ran.code == 0, ran.err
    assert sorted(p.name for p in (tmp_path / "o").iterdir()) == ["early", "late"]
    assert (tmp_path / "o" / "early" / "sheet.html").exists()
    sets = [
        json.loads((tmp_path / "o" / n / "plan.json").read_text())["sets"]
        for n in ("early", "late")
    ]
    assert [len(s) for s in sets] == [2, 2]
    assert f"--plan {tmp_path / 'o' / 'late' / 'plan.json'}" in ran.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--sets", "max"), "Expected max of one job alone"),
        (("--sets", "1", "--sets", "2", "--sets", "3"), "Expected --sets once, or once for each"),
        (("--xlsx", "a.xlsx"), "Expected one job with a single sheet"),
    ],
)
def test_what_two_jobs_cannot_have_is_refused(capsys, jobs, words, said):
    ran = evenstack(capsys, "match", *jobs, *words)
    assert (ran.code, said in ran.err) == (2, True), ran.err


def test_jobs_with_other_bags_are_refused(capsys, jobs, tmp_path):
    ran = evenstack(capsys, "match", jobs[0], write_lot(tmp_path, 40))
    assert ran.code == 2
    assert "Expected one bag for all jobs" in ran.err


def test_a_job_that_gets_no_set_is_refused_with_what_binds_it(jobs, tmp_path):
    never = tmp_path / "never.toml"
    text = jobs[1].read_text().replace('"bag.csv"', f'"{jobs[1].parent / "bag.csv"}"')
    never.write_text(text.replace("load_n = 905", "load_n = 9050"))
    with pytest.raises(CannotBuildError, match=r"9050\.0 N"):
        match_jobs((jobs[0], never), (1, 1))


def test_who_gets_fewer_sets_than_were_asked_for_reads_it_at_once(jobs, tmp_path, capsys):
    """It stood at most among the notes below all that is drawn."""
    ran = evenstack(capsys, "match", jobs[0], "--sets", 9, "--out", tmp_path / "o")
    assert ran.code == 0
    assert "9 sets were asked for, and the bag gives 4." in ran.err
