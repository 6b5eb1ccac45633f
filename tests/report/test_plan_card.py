"""What the card tells the hands to do next."""

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import wrapping
from optimizer.cli.output import emphasised, say
from optimizer.report.plan_card import card, next_steps
from tests.bags import exact_shoe
from tests.report.plans import dealt


def words(said):
    return " ".join(said.split())


def test_where_a_seating_load_zeroes_the_travel_it_is_said_so_and_the_files_are_named():
    plan, work = dealt(units="in")
    said = next_steps(plan, work.job, Path("my clutch/job.toml"), Path("first/plan.json"))
    assert "press it to 6.0 lbf, zero the travel there, and press on by 0.0600 in." in words(said)
    assert said.endswith("  evenstack bench 'my clutch/job.toml' --plan first/plan.json\n")
    assert max(map(len, said.splitlines())) <= 80


def test_in_a_room_of_its_own_each_shoe_has_the_height_to_press_to():
    plan, work = dealt(installed_mm=11.0)
    job = work.job
    said = words(next_steps(plan, job, Path("job.toml"), Path("plan.json")))
    assert "press stack and shims together to 9.476 mm." in said  # 11 less a travel of 1.524
    deeper = replace(
        job,
        shoes=(exact_shoe(1.5, 1.7), exact_shoe(1.5, 1.7, seat_depth_mm=0.1), exact_shoe(1.4, 1.7)),
    )
    said = words(next_steps(plan, deeper, Path("job.toml"), Path("plan.json")))
    assert "9.500 mm (shoe 1), 9.600 mm (shoe 2), 9.600 mm (shoe 3)." in said


def test_a_plan_that_is_kept_nowhere_is_to_be_kept_first_and_a_set_is_chosen():
    plan, work = dealt(sets=2)
    said = next_steps(plan, work.job, Path("job.toml"), None)
    assert "--plan FOLDER/plan.json --set 1\n" in said
    assert "run match again with --out FOLDER" in said


def test_the_chances_of_many_sets_are_a_range_and_of_one_a_number():
    plan, work = dealt(sets=2)
    one = replace(plan.sets[0], chance_within_tolerance=0.2)
    two = replace(plan.sets[1], chance_within_tolerance=0.4)
    said = words(card(replace(plan, sets=(one, two)), work))
    assert "Each 20 % to 40 % likely truly within that, before any reading" in said
    assert "Each 20 % likely truly" in words(card(replace(plan, sets=(one, one)), work))
    assert "20 % likely truly" in words(card(replace(plan, sets=(one,)), work))


def test_the_decision_is_first_and_stacks_are_drawn_as_they_stand():
    plan, work = dealt()
    lines = card(plan, work).splitlines()
    assert lines[0].startswith("BUILD three stacks from the bottom up")
    at = lines.index(next(line for line in lines if line.startswith("SHOE 1 ")))
    drawn = lines[at + 1 : at + 9]
    flat = [name for packet in plan.sets[0].stacks[0].packets for name in packet]
    assert [line.split()[1] for line in drawn] == flat[::-1]
    # a pair at the bottom, nested and not turned; then every disc is turned over
    marks = [line.split()[0] for line in drawn][::-1]
    assert marks == ["/\\", "/\\", "\\/", "/\\", "\\/", "/\\", "\\/", "/\\"]
    assert drawn[-2].split()[2] == "+"


def test_it_is_readable_at_sixty_columns_and_stacks_of_long_names_stand_one_below_another():
    for how in ({}, {"wicked": True}, {"shims_mm": (0.2,), "installed_mm": 11.7}):
        plan, work = dealt(**how)
        with wrapping.columns(60):
            lines = card(plan, work).splitlines()
        assert all(len(line) <= 60 or "a" * 60 in line for line in lines)
        drawn = [line for line in lines if line.startswith(("/\\", "\\/"))]
        assert all(("a" * 60 in line) or len(line) <= 60 for line in drawn)
    assert not [line for line in drawn if "SHOE" in line]


def test_only_the_decision_at_the_head_is_emphasised():
    said = "SWAP no. 1 (shoe 1)\n    for the spare 2.\nNow 4 % likely.\n\nWhat stands: STOP\n"
    bold = "\x1b[1;33mSWAP\x1b[0;1m no. 1 (shoe 1)\n    for the spare 2.\x1b[0m\n"
    assert emphasised(said) == f"{bold}Now 4 % likely.\n\nWhat stands: STOP\n"
    assert emphasised("STOP: leave it.\n") == "\x1b[1;32mSTOP\x1b[0;1m: leave it.\x1b[0m\n"
    assert emphasised("BAG bag.csv\n") == "BAG bag.csv\n"


@pytest.mark.parametrize(("variable", "bold"), [(None, True), ("NO_COLOR", False)])
def test_bold_is_for_terminals_that_want_it(monkeypatch, capsys, variable, bold):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    if variable:
        monkeypatch.setenv(variable, "1")
    say("STOP: leave it.")
    assert capsys.readouterr().out == "STOP: leave it.\n"  # no terminal
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    say("STOP: leave it.")
    assert ("\x1b[1;" in capsys.readouterr().out) == bold


def test_notes_are_no_wider_than_the_card():
    plan, work = dealt()
    noted = replace(plan, warnings=("bag.csv line 2, disc A1: looks odd. " * 5,))
    assert max(map(len, card(noted, work).splitlines())) <= 80
