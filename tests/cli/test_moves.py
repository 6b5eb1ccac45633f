"""At the bench: another move than the first, the plan of it at once, and the card of it."""

import json
import re

from optimizer import face, wrapping
from tests.cli import test_bench
from tests.shell import evenstack

solved, shop = test_bench.solved, test_bench.shop


def test_another_move_is_taken_remembered_and_taken_back(shop, tmp_path, capsys):
    job, plan, _ = shop
    log = tmp_path / "my.csv"
    log.write_text("round,shoe,kind,load_lbf\n1,1,settled,203\n1,2,settled,198\n1,3,settled,199\n")
    words = ("bench", job, "--plan", plan, "--readings", log, "--fresh")
    first = json.loads(evenstack(capsys, *words, "--json").out)
    other = json.loads(evenstack(capsys, *words, "--json", "--move", 2).out)
    assert other["moves"][0] == first["moves"][1]
    assert other["next"]["sets"][0]["stacks"] != first["next"]["sets"][0]["stacks"]
    assert other["next"]["sets"][0]["odds_within_tolerance"] > first["odds_now"]
    again = json.loads(evenstack(capsys, *words, "--json").out)  # remembered
    assert [m["words"] for m in again["moves"]] == [m["words"] for m in other["moves"]]
    said = evenstack(capsys, *words).out
    assert "  move 1: " in said
    assert "  move 2: " not in said
    back = json.loads(evenstack(capsys, *words, "--json", "--move", 1).out)
    assert back["next"] == first["next"]
    refused = evenstack(capsys, *words, "--move", 99)
    assert refused.code == 2
    assert "Expected a move from 1 to" in refused.err


def test_a_move_is_chosen_at_the_prompt_and_the_next_plan_lies_there_at_once(
    shop, tmp_path, monkeypatch, capsys
):
    job, plan, _ = shop
    out = tmp_path / "next"
    seen = []
    given = iter(["", "903", "", "881", "", "885", "move 2", "move 99", "why", "q"])

    def typed(_prompt):
        seen.append(sorted(p.name for p in tmp_path.glob("next*")))
        return next(given)

    monkeypatch.setattr("builtins.input", typed)
    told = evenstack(capsys, "bench", job, "--plan", plan, "--out", out)
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
    told = evenstack(capsys, "bench", job, "--plan", plan)
    assert "  move 1: " in told.out
    assert "SWAP" in told.out.splitlines()[0]


def test_the_bench_draws_what_comes_in_with_free_height_and_load_within_sixty_columns(
    shop, tmp_path, capsys
):
    job, plan, _ = shop
    log = tmp_path / "my.csv"
    log.write_text("round,shoe,kind,load_lbf\n1,1,settled,203\n1,2,settled,198\n1,3,settled,199\n")
    words = ("bench", job, "--plan", plan, "--readings", log, "--fresh")
    answer = json.loads(evenstack(capsys, *words, "--json").out)
    with wrapping.columns(60):
        found = face.bench(job, plan, log, fresh=True)
        said = f"{found.summary()}\n{found.why()}"
    assert max(map(len, said.splitlines())) <= 60
    lines = said.splitlines()
    assert lines[0].startswith("SWAP ")
    assert "likely within" in " ".join(lines[1:4])
    marked = {word for line in lines for word in re.findall(r"(D\d+) <", line)}
    came = {e["bring"] for e in answer["moves"][0]["exchanges"]} | {
        e["out"] for e in answer["moves"][0]["exchanges"] if e["bring_from"]
    }
    assert marked == came
    (feet,) = (line for line in lines if line.startswith("free "))
    for stack, (low, high) in zip(
        answer["next"]["sets"][0]["stacks"],
        re.findall(r"free ([\d.]+)-([\d.]+)", feet),
        strict=True,
    ):
        assert float(low) < stack["free_height_mm"] < float(high)
    (loads,) = (line for line in lines if line.startswith("read "))
    assert len(re.findall(r"read \d+-\d+", loads)) == 3
