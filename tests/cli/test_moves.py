"""At the bench: another move than the first, the plan of it at once, and the card of it.

The advice is worked out once and handed out to all tests: it is not what they are about.
"""

import json
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from optimizer import wrapping
from optimizer.bench.chosen import Chosen, after
from optimizer.bench.session import Session, open_session
from optimizer.control import Limits, quiet
from optimizer.report.advice import decision, last_spread, reason
from optimizer.report.bench_card import bench_text, bench_why
from tests.cli import test_bench
from tests.shell import evenstack

solved, shop = test_bench.solved, test_bench.shop
READ = "round,shoe,kind,load_n\n1,1,settled,903\n1,2,settled,881\n1,3,settled,885\n"


def opened(folder):
    log = folder / "my.csv"
    log.write_text(READ)
    return open_session(
        folder / "job.toml", folder / "first" / "plan.json", log, 1, 0, 0.9, 0, True
    )


@pytest.fixture(scope="module")
def step(solved):
    session = opened(solved)
    return session.advise(session.read().rows, Limits(), quiet)


@pytest.fixture
def bench(shop, step, tmp_path, monkeypatch):
    """The words of a bench command, but for its options."""
    monkeypatch.setattr(Session, "advise", lambda *_: step)
    job, plan, _ = shop
    return "bench", job, "--plan", plan, "--readings", opened(tmp_path).log


def test_another_move_is_taken_remembered_and_taken_back(bench, capsys):
    first = json.loads(evenstack(capsys, *bench, "--json").out)
    assert first["advice"] == "swap"
    other = json.loads(evenstack(capsys, *bench, "--json", "--move", 2).out)
    assert other["moves"][0] == first["moves"][1]
    assert other["next"]["sets"][0]["stacks"] != first["next"]["sets"][0]["stacks"]
    then = other["next"]["sets"][0]["chance_within_tolerance"]
    assert then == pytest.approx(other["moves"][0]["chance"], abs=0.02)
    again = json.loads(evenstack(capsys, *bench, "--json").out)  # remembered
    assert [m["words"] for m in again["moves"]] == [m["words"] for m in other["moves"]]
    said = evenstack(capsys, *bench).out
    assert "  move 1: " in said
    assert "  move 2: " not in said
    back = json.loads(evenstack(capsys, *bench, "--json", "--move", 1).out)
    assert back["next"] == first["next"]
    refused = evenstack(capsys, *bench, "--move", 99)
    assert refused.code == 2
    assert "Expected a move from 1 to" in refused.err


def test_a_move_is_chosen_at_the_prompt_and_the_next_plan_lies_there_at_once(
    bench, tmp_path, monkeypatch, capsys
):
    words, out = bench[:4], tmp_path / "next"
    seen = []
    given = iter(["", "903", "", "881", "", "885", "move 2", "move 99", "why", "q"])

    def typed(_prompt):
        seen.append(sorted(p.name for p in tmp_path.glob("next*")))
        return next(given)

    monkeypatch.setattr("builtins.input", typed)
    told = evenstack(capsys, *words, "--out", out)
    assert told.code == 0
    assert seen[5:8] == [[], ["next"], ["next", "next-2"]]
    advised, chosen = (
        json.loads((tmp_path / name / "plan.json").read_text()) for name in ("next", "next-2")
    )
    assert chosen["sets"][0]["stacks"] != advised["sets"][0]["stacks"]
    assert "Expected a move from 1 to" in told.err
    assert "Learned from 3 settled readings" in told.err
    # taken up again, the chosen move still is the one to be read
    given = iter(["q"])
    told = evenstack(capsys, *words)
    assert told.out.startswith("SWAP ")
    assert "  move 1: " in told.out


def test_the_bench_draws_what_comes_in_with_free_height_and_load_within_sixty_columns(step, solved):
    with wrapping.columns(60):
        said = bench_text(step, opened(solved).learned(step))
        why = bench_why(step, opened(solved).work)
    lines = said.splitlines()
    assert max(map(len, [*lines, *why.splitlines()])) <= 60
    assert lines[0].startswith("SWAP ")
    assert "likely within" in " ".join(lines[1:4])
    assert "Last readings of all shoes: 22.0 N" in " ".join(lines[:8])
    assert "Learned from" in why
    assert "Learned from" not in said
    marked = {word for line in lines for word in re.findall(r"(D\d+) <", line)}
    exchanges = step.advice.moves[0].exchanges
    assert marked == {e.bring for e in exchanges} | {e.out for e in exchanges if e.bring_from}
    (feet,) = (line for line in lines if line.startswith("free "))
    bands = re.findall(r"free ([\d.]+)-([\d.]+)", feet)
    for stack, (low, high) in zip(step.next.sets[0].stacks, bands, strict=True):
        assert float(low) < stack.free_height_mm < float(high)
    (loads,) = (line for line in lines if line.startswith("read "))
    assert len(re.findall(r"read \d+-\d+", loads)) == 3


def test_another_set_of_a_plan_has_readings_of_its_own(bench, monkeypatch, capsys):
    plan = bench[3]
    two = json.loads(plan.read_text())
    two["sets"] *= 2
    plan.write_text(json.dumps(two))
    given = iter(["", "903", "q"])
    monkeypatch.setattr("builtins.input", lambda _prompt: next(given))
    assert evenstack(capsys, *bench[:4], "--set", 2, "--fresh").code == 0
    assert not plan.with_name("readings.csv").exists()
    assert ",903," in plan.with_name("readings-2.csv").read_text()


@pytest.fixture
def third(bench, step, monkeypatch):
    """The words of a bench command whose move changes the stack of shoe 3 alone, and its log."""
    placed = {d for stack in step.stacks for packet in stack for d in packet}
    spare = next(d for d in step.learned.rig.belief.names if d not in placed)
    last = ((spare,), *step.stacks[2][1:])
    moved = after(step, Chosen(2, (*step.stacks[:2], last), step.known.shims_mm))
    monkeypatch.setattr(Session, "advise", lambda *_: moved)
    log = bench[3].with_name("readings.csv")
    log.write_text(READ.replace("shoe,", "shoe,discs,").replace(",settled", ",,settled"))
    return bench[:4], log


def talked(monkeypatch, given):
    """What is asked while these answers are given."""
    asked, given = [], iter(given)

    def typed(prompt):
        asked.append(prompt)
        return next(given)

    monkeypatch.setattr("builtins.input", typed)
    return asked


def test_only_the_stack_that_the_hand_just_changed_is_asked_for(third, monkeypatch, capsys):
    """A load typed at the wrong shoe cannot be told, and reading what stands tells little."""
    words, log = third
    asked = talked(monkeypatch, ["", "889", "", "q"])
    said = evenstack(capsys, *words).err
    assert "Shoes 1 and 2 stand as they were and are not asked for; type read 1" in said
    assert [said.count(f"Shoe {shoe}, round 2") for shoe in (1, 2, 3)] == [0, 0, 1]
    assert log.read_text().splitlines()[-1].split(",")[:2] == ["2", "3"]
    assert [prompt.split()[0] for prompt in asked] == ["first", "settled", "first", "settled"]


def test_a_stack_that_stands_is_read_where_its_shoe_is_typed(third, monkeypatch, capsys):
    words, log = third
    talked(monkeypatch, ["read", "read 7", "read 2", "", "881", "read 2", "q"])
    said = evenstack(capsys, *words).err
    assert said.count("Write the shoe behind it: 1, 2, 3.") == 2
    assert log.read_text().splitlines()[-1].split(",")[:2] == ["2", "2"]
    assert "Shoe 2 was read in this round already" in said
    # on the next day it still is the changed stack alone that lacks
    talked(monkeypatch, ["q"])
    said = evenstack(capsys, *words).err
    assert "Shoe 1 stands as it was and is not asked for" in said
    assert "Shoe 3, round 2:" in said


def test_a_stack_that_was_built_again_unasked_is_said_to_be(third, monkeypatch, capsys):
    """One that fell over: what was read of it is not read of what stands now."""
    words, log = third
    talked(monkeypatch, ["rebuilt 9", "rebuilt 1", "", "893", "889", "rebuilt 3", "q"])
    told = evenstack(capsys, *words)
    last = [row.split(",") for row in log.read_text().splitlines()][-2:]
    rebuilt = log.read_text().splitlines()[0].split(",").index("rebuilt")
    assert last[0][:2] == ["2", "1"], told.err
    assert last[0][rebuilt] == "yes"
    assert "Write the shoe behind it" in told.err
    assert "Shoe 1, round 2 (built again since):" in told.err
    assert "Shoe 3 was read in this round already" in told.err


def test_several_shoes_that_were_not_read_are_said_as_several(step):
    advice = replace(step.advice, kind="reread", moves=())
    said = decision(SimpleNamespace(advice=advice, unread=(2, 3)))
    assert said == ("READ", "shoes 2 and 3 as they stand: no reading of them counts yet.")


def test_unlike_shoes_are_measured_against_targets_of_their_own(step, solved):
    """Loads that are to differ by 22 N were told to lie 22 N apart."""
    task = replace(step.task, target_n=np.array([903.0, 881.0, 885.0]))  # as READ
    own = replace(step, task=task)
    said = last_spread(own, opened(solved).work.job)
    assert said.startswith("Last readings of all shoes, each measured against its own target: 0.0")
    assert "8.9 N of each other, each measured against its own target" in reason(own, "8.9 N")
