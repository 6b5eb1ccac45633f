"""A hand that slips at the bench: on the terminal, in a file, and at Ctrl-C."""

import json
import shutil
import signal

import pytest

from optimizer.units import N_PER_LBF
from tests.cli import test_bench
from tests.shell import evenstack

solved, shop = test_bench.solved, test_bench.shop

HEADER = "round,shoe,kind,load_n,count\n"


def ask(shop, monkeypatch, capsys, *lines):
    """Type lines at the prompt; what was said, and shoe, kind, load and count of what was kept.

    Ctrl-C ends it, which needs no advice.
    """
    job, plan, _ = shop
    given = iter(lines)

    def typed(_prompt):
        try:
            return next(given)
        except StopIteration:
            raise KeyboardInterrupt from None

    monkeypatch.setattr("builtins.input", typed)
    told = evenstack(capsys, "bench", job, "--plan", plan)
    log = plan.with_name("readings.csv")
    rows = [line.split(",") for line in log.read_text().splitlines()[1:]] if log.exists() else []
    return told, [(cells[1], cells[3], cells[4], cells[-1]) for cells in rows]


def bench(shop, capsys, text, *words):
    job, plan, _ = shop
    log = job.with_name("my.csv")
    log.write_text(HEADER + text)
    return evenstack(capsys, "bench", job, "--plan", plan, "--readings", log, *words)


def test_ten_times_off_is_asked_about_and_the_likely_load_taken(shop, monkeypatch, capsys):
    told, kept = ask(shop, monkeypatch, capsys, "", "8938", "", "", "8,85e3", "yes")
    assert "8938 N: expected 90" in told.err
    assert "893.8 N? (ten times too high)" in told.err
    assert kept == [("1", "settled", "893.8", ""), ("2", "settled", "885", "")]


def test_what_is_no_load_is_refused_plainly_and_asked_again(shop, monkeypatch, capsys):
    wrong = ["0", "-3", "nan", "inf", "1e999", "12 N"]
    told, kept = ask(shop, monkeypatch, capsys, "", *wrong, "890")
    said = [line for line in told.err.splitlines() if "load > 0" in line or "not a load" in line]
    assert len(said) == len(wrong)
    assert all(word in line for word, line in zip(wrong[:4], said, strict=False))
    assert kept == [("1", "settled", "890", "")]


def test_a_load_beyond_all_measure_is_asked_about_and_moves_nothing(shop, monkeypatch, capsys):
    told, kept = ask(shop, monkeypatch, capsys, "", "890", "", "1e9", "keep", "", "891", "why", "q")
    assert "1e+09 N: expected 89" in told.err
    assert kept[1] == ("2", "settled", "1e9", "ok")
    assert "insisted on, fits nothing else" in told.out
    assert "READ shoe 2 as it stands: no reading of it counts yet." in told.out
    believed = [line for line in told.err.splitlines() if line.startswith("  shoe ")]
    assert all(880 < float(line.split()[2]) < 900 for line in believed)


def test_a_shoe_that_was_never_read_is_read_before_any_move(shop, capsys):
    """Two shoes far apart: one of them will be changed, and the third tells which."""
    told = bench(shop, capsys, "1,1,settled,893,\n1,2,settled,908,\n")
    assert "READ shoe 3 as it stands: no reading of it counts yet." in told.out
    assert "SWAP" not in told.out
    told = bench(shop, capsys, "1,1,settled,893,\n1,2,settled,908,\n1,3,settled,898,\n")
    assert "SWAP" in told.out


def test_back_void_and_correct_leave_every_row_in_the_file(shop, monkeypatch, capsys):
    told, kept = ask(
        shop, monkeypatch, capsys,
        "910", "891", "back", "892", "", "889", "list", "void 2", "correct 5 890.5", "void 77",
    )  # fmt: skip
    assert "line 5: shoe 2, round 1, settled: 889 N" in told.err
    assert "Write void LINE, with a line that `list` shows." in told.err
    assert kept == [
        ("1", "first", "910", "no"),
        ("1", "settled", "891", "no"),
        ("1", "settled", "892", ""),
        ("2", "settled", "889", "no"),
        ("2", "settled", "890.5", ""),
    ]


def test_back_at_a_doubt_and_after_a_skip(shop, monkeypatch, capsys):
    _, kept = ask(shop, monkeypatch, capsys, "", "back", "905", "8900", "back", "906", "890")
    assert kept == [
        ("1", "first", "905", "no"), ("1", "first", "906", ""), ("1", "settled", "890", ""),
    ]  # fmt: skip


def test_settled_above_the_first_push_are_swapped_when_they_were_confused(
    shop, monkeypatch, capsys
):  # fmt: skip
    told, kept = ask(shop, monkeypatch, capsys, "880", "895", "")
    assert "895 N settled, above the first push of 880 N" in told.err
    assert kept == [
        ("1", "first", "880", "no"), ("1", "first", "895", ""), ("1", "settled", "880", ""),
    ]  # fmt: skip
    assert "seat of" not in told.out


def test_in_inches_a_load_in_newtons_is_offered_in_pounds(shop, monkeypatch, capsys):
    job, plan, truth = shop
    job.write_text('units = "in"\n' + job.read_text())
    told, kept = ask((job, plan, truth), monkeypatch, capsys, "", "890", "")
    assert "890 lbf: expected 20" in told.err
    assert f"{890 / N_PER_LBF:.4g} lbf? (that would be right in N)" in told.err
    assert " N:" not in told.err
    assert kept == [("1", "settled", f"{890 / N_PER_LBF:.4g}", "")]


def test_ctrl_c_keeps_what_was_typed_says_so_in_one_line_and_exits_130(shop, monkeypatch, capsys):
    told, kept = ask(shop, monkeypatch, capsys, "910", "890")
    log = shop[1].with_name("readings.csv")
    assert told.code == 130
    assert told.err.rstrip().splitlines()[-1] == f"Stopped; the readings are kept in {log}."
    assert told.out == ""
    assert len(kept) == 2


def test_a_real_ctrl_c_does_not_say_that_nothing_was_written(shop, monkeypatch, capsys):
    job, plan, _ = shop
    given = iter(["910", "890"])

    def typed(_prompt):
        load = next(given, None)
        if load is None:
            signal.raise_signal(signal.SIGINT)
        return load

    def at_once(*_):
        raise AssertionError("The command was ended at once, its readings unsaid.")

    monkeypatch.setattr("builtins.input", typed)
    monkeypatch.setattr("optimizer.cli.main.stop", at_once)
    told = evenstack(capsys, "bench", job, "--plan", plan)
    assert told.code == 130
    assert "Stopped; the readings are kept in" in told.err


def test_a_load_with_its_unit_is_asked_for_without(shop, monkeypatch, capsys):
    told, kept = ask(shop, monkeypatch, capsys, "", "201 lbf", "890")
    assert "201 lbf is not a load. Write the number alone, in the unit asked for: N." in told.err
    assert kept == [("1", "settled", "890", "")]


def test_a_row_in_doubt_is_named_and_left_out_until_ok_stands_in_it(shop, capsys):
    slip = "1,1,settled,890,\n1,2,settled,8938,\n1,3,settled,891,\n"
    told = bench(shop, capsys, slip)
    assert told.code == 0
    first = " ".join(told.out.split())
    assert first.startswith("my.csv line 3, shoe 2, round 1, settled: 8938 N: expected 89")
    assert "893.8 N? (ten times too high) Left out: correct it, or write ok" in first
    answer = json.loads(bench(shop, capsys, slip, "--json").out)
    (left,) = answer["left_out"]
    assert (left["line"], left["shoe"], left["load_n"]) == (3, 2, 8938.0)
    assert left["offered_n"] == pytest.approx(893.8)
    assert answer["readings"] == 2
    assert [stack["read"] for stack in answer["stacks"]] == [True, False, True]
    assert answer["advice"] == "reread"
    insisted = json.loads(bench(shop, capsys, slip.replace("8938,", "8938,ok"), "--json").out)
    assert insisted["left_out"] == []
    assert [one["shoe"] for one in insisted["not_borne_out"]] == [2]
    for before, after in zip(answer["stacks"], insisted["stacks"], strict=True):
        assert after["load_n"] == pytest.approx(before["load_n"], abs=0.01)


def test_a_wrong_load_that_was_let_in_is_no_longer_what_the_others_are_moved_for(shop, capsys):
    rows = "".join(f"{r},{s},settled,{890 + s},\n" for r in (1, 2) for s in (1, 2, 3))
    clean = json.loads(bench(shop, capsys, rows, "--json").out)
    slip = rows.replace("1,1,settled,891,", "1,1,settled,8138,ok")
    answer = json.loads(bench(shop, capsys, slip, "--json").out)
    assert answer["advice"] == clean["advice"] == "stop"
    assert all(abs(stack["load_n"] - 891) < 4 for stack in answer["stacks"])


def test_one_next_action_and_no_contradiction_of_it(shop, capsys):
    far = [860, 890, 920]
    once = "".join(f"1,{s},settled,{load},\n" for s, load in enumerate(far, 1))
    told = bench(shop, capsys, once)
    assert "contradict the measurements" in told.out
    assert "READ AGAIN" in told.out
    assert "SWAP" not in told.out
    assert "REBUILD" not in told.out
    assert "  or " not in told.out
    twice = once + once.replace("1,", "2,", 1).replace("\n1,", "\n2,")
    told = bench(shop, capsys, twice)
    assert "contradict the measurements" in told.out
    assert "read again before" not in " ".join(told.out.split()).lower()
    assert "They were read again and stay so" in " ".join(told.out.split())
    assert ("SWAP" in told.out) or ("REBUILD" in told.out)


def test_what_is_kept_together_and_left_in_the_bag_is_said(shop, capsys):
    job, plan, _ = shop
    unused = json.loads(plan.read_text())["unused"][:2]
    shutil.copy(job, job.with_name("pair.toml"))
    pair = job.with_name("pair.toml")
    words = ", ".join(f'"{name}"' for name in unused)
    pair.write_text(job.read_text().replace("[stack]", f"[stack]\ntogether = [[{words}]]"))
    told = evenstack(capsys, "match", pair, "--json")
    answer = json.loads(told.out)
    placed = {d for s in answer["sets"][0]["stacks"] for p in s["packets"] for d in p}
    assert not placed & set(unused)
    (said,) = [w for w in answer["warnings"] if "kept together" in w]
    assert f"{', '.join(unused)}, were left in the bag" in said


def test_a_load_of_a_round_before_is_corrected_and_the_advice_is_given_anew(
    shop, monkeypatch, capsys
):
    first = ("", "890", "", "876", "", "891")
    told, kept = ask(shop, monkeypatch, capsys, *first, "correct 3 890.5")
    assert told.out.index("SWAP") < told.out.index("STOP")
    assert kept[-1] == ("2", "settled", "890.5", "")
    assert kept[1] == ("2", "settled", "876", "no")
