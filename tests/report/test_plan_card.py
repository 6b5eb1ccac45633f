"""What the card tells the hands to do next."""

from dataclasses import replace
from pathlib import Path

from optimizer.model.job import Shoe
from optimizer.report.plan_card import card, next_steps
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
    deeper = replace(job, shoes=(Shoe(1.5, 1.7), Shoe(1.5, 1.7, seat_depth_mm=0.1), Shoe(1.4, 1.7)))
    said = words(next_steps(plan, deeper, Path("job.toml"), Path("plan.json")))
    assert "9.500 mm (shoe 1), 9.600 mm (shoe 2), 9.600 mm (shoe 3)." in said


def test_a_plan_that_is_kept_nowhere_is_to_be_kept_first_and_a_set_is_chosen():
    plan, work = dealt(sets=2)
    said = next_steps(plan, work.job, Path("job.toml"), None)
    assert "--plan FOLDER/plan.json --set 1\n" in said
    assert "run match again with --out FOLDER" in said


def test_notes_are_no_wider_than_the_card():
    plan, work = dealt()
    noted = replace(plan, warnings=("bag.csv line 2, disc A1: looks odd. " * 5,))
    assert max(map(len, card(noted, work.job).splitlines())) <= 80
