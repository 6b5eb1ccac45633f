import pytest

from optimizer.io.job.keys import KEYS, SHOE_KEYS
from optimizer.model.job import Instrument, Model, StackRules
from optimizer.units import MM_PER_IN, N_PER_LBF
from tests.io.job.files import SMALL, complaints, job_of

INCH = SMALL.replace("travel_mm = 1.5", "travel_in = 0.060").replace("load_n = 890", "load_lbf=200")


def test_small_job_takes_the_defaults(tmp_path):
    job = job_of(tmp_path)
    assert job.bag_file == tmp_path / "bag.csv"
    assert job.units == "mm"
    assert [shoe.travel_mm for shoe in job.shoes] == [1.5] * 3
    assert job.shoes[0].worn_travel_mm == pytest.approx(1.7)  # travel + 0.2 mm, stated in template
    assert job.stack == StackRules()
    assert job.instrument == Instrument()
    assert job.model == Model()
    assert job.target.load_tolerance_n == pytest.approx(5 * N_PER_LBF)
    assert job.target.spread_tolerance_n == pytest.approx(2 * N_PER_LBF)
    assert job.target.resolution_n == pytest.approx(0.1 * N_PER_LBF)
    assert job.gauge.resolution_n == pytest.approx(N_PER_LBF)
    assert job.gauge.repeatability_n == pytest.approx(0.2 * N_PER_LBF)


def test_inches_and_pounds_become_mm_and_newtons(tmp_path):
    job = job_of(tmp_path, INCH)
    assert job.units == "in"
    assert job.shoes[0].travel_mm == pytest.approx(0.060 * MM_PER_IN)
    assert job.target.load_n == pytest.approx(200 * N_PER_LBF)


def test_units_said_win_over_the_travels_unit(tmp_path):
    assert job_of(tmp_path, 'units = "mm"\n' + INCH).units == "mm"


def test_shoe_tables_override_in_shoe_order(tmp_path):
    own = "[[clutch.shoe]]\ntravel_mm = 1.6\nseat_depth_mm = 0.1\n[[clutch.shoe]]\n"
    job = job_of(tmp_path, SMALL.replace("[datum]", own + "[datum]"))
    assert [shoe.travel_mm for shoe in job.shoes] == [1.6, 1.5, 1.5]
    assert [shoe.seat_depth_mm for shoe in job.shoes] == [0.1, 0.0, 0.0]
    assert job.shoes[0].worn_travel_mm == pytest.approx(1.8)


def test_travel_may_stand_in_the_shoe_tables_alone(tmp_path):
    own = "shoes = 2\n" + "[[clutch.shoe]]\ntravel_in = 0.06\n" * 2
    job = job_of(tmp_path, SMALL.replace("travel_mm = 1.5\n", own))
    assert len(job.shoes) == 2
    assert job.units == "in"


def test_engagement_speed_needs_mass_and_radius_of_every_shoe(tmp_path):
    rpm = SMALL.replace("load_n = 890", "engagement_rpm = 3400")
    one = "[[clutch.shoe]]\nshoe_mass_g = 210\ncg_radius_mm = 52\n"
    assert len(complaints(tmp_path, rpm.replace("[datum]", one + "[datum]"))) == 1
    job = job_of(tmp_path, rpm.replace("[datum]", one * 3 + "[datum]"))
    assert job.target.engagement_rpm == 3400
    assert [shoe.mass_g for shoe in job.shoes] == [210] * 3


def test_shims_need_an_installed_length(tmp_path):
    shims = "[stack]\nshims_mm = [0.1, 0.1, 0.2]\n"
    assert len(complaints(tmp_path, SMALL + shims)) == 1
    installed = SMALL.replace("seating_load_n = 27", "installed_length_mm = 11.6")
    assert job_of(tmp_path, installed + shims).stack.shims_mm == (0.1, 0.1, 0.2)


def test_all_problems_come_at_once_with_their_lines(tmp_path):
    text = SMALL.replace("1.5", "-1").replace("27", '"27"').replace("load_n = 890", "lod_n = 890")
    said = complaints(tmp_path, text)
    assert [line.split(",")[0] for line in said] == [
        "job.toml line 4",
        "job.toml line 6",
        "job.toml line 8",
        "job.toml line 7",
    ]


def test_dotted_and_inline_tables_have_lines_too(tmp_path):
    text = SMALL + 'model = { law = "din" }\n'
    dotted = 'bag.file = "bag.csv"\nclutch.travel_mm = -2\n' + SMALL.split("travel_mm = 1.5\n")[1]
    assert complaints(tmp_path, dotted)[0].startswith("job.toml line 2, [clutch] travel_mm")
    assert complaints(tmp_path, text)[0].startswith("job.toml line 9, [target] model")
    assert complaints(tmp_path, 'model = { law = "din" }\n' + SMALL)[0].startswith(
        "job.toml line 1, [model] law"
    )


@pytest.mark.parametrize("key", [*KEYS, *SHOE_KEYS], ids=lambda key: f"{key.section}.{key.name}")
def test_no_key_accepts_a_value_of_the_wrong_kind(tmp_path, key):
    wrong = "2024-05-01"  # a TOML date fits no key
    for spelling in key.spellings():
        heading = f"[{key.section}]" if key.section != "clutch.shoe" else "[[clutch.shoe]]"
        text = f"{heading}\n{spelling} = {wrong}\n"
        assert any(f"line 2, {heading}" in line for line in complaints(tmp_path, text))


@pytest.mark.parametrize("number", ["1e999", "-1e999", "nan", "9" * 400], ids=len)
def test_numbers_without_size_are_refused(tmp_path, number):
    said = complaints(tmp_path, SMALL.replace("890", number))
    assert len(said) == 1
    assert "finite number for load_n" in said[0]
    said = complaints(tmp_path, SMALL.replace("[clutch]", f"[clutch]\nshoes = {number}"))
    assert "finite number for shoes" in said[0]


def test_any_toml_value_under_any_known_name_is_read_or_refused_in_words(tmp_path):
    values = ("0", "-1", "true", '""', "[]", "[[]]", "{}", "[1, 2]", '["a"]', "[{}]", "1979-05-27")
    for value in values:
        for section in ("bag", "clutch", "clutch.shoe", "stack", "model", "units"):
            complaints(tmp_path, f"{section} = {value}\n")  # raises nothing but InputError


def test_what_has_no_effect_is_said(tmp_path):
    assert job_of(tmp_path).notes == ()
    three = SMALL.replace("travel_mm = 1.5", "shoes = 3\ntravel_mm = 1.5\nseat_depth_mm = 0.1")
    (said,) = job_of(tmp_path, three).notes
    assert said.startswith("job.toml line 6, [clutch] seat_depth_mm: seat_depth_mm = 0.1 has no")
    room = three.replace("seating_load_n = 27", "installed_length_mm = 12")
    assert job_of(tmp_path, room).notes == ()


def test_fewer_shoe_tables_than_shoes_are_said(tmp_path):
    one = SMALL.replace("[datum]", "[[clutch.shoe]]\ntravel_mm = 1.6\n[datum]")
    (said,) = job_of(tmp_path, one).notes
    assert "line 5, [[clutch.shoe]] number 1: 1 [[clutch.shoe]] table for 3 shoes" in said
    assert "of shoe 1 alone, and shoe 2, 3 is as [clutch] says" in said
    three = one.replace("[datum]", "[[clutch.shoe]]\n[[clutch.shoe]]\n[datum]")
    assert job_of(tmp_path, three).notes == ()


@pytest.mark.parametrize(
    ("clutch", "says"),
    [
        ("lever = 1", "Delete it: without arms a shoe slides out as a whole"),
        (
            'lever = "long"',
            "Write the arms about the shoe's pivot: arm_centre_mm, arm_stack_mm and",
        ),
        ("lever = 0.8", "write arm_centre_mm = 0.8 and arm_stack_mm = 1 (only ratios count)"),
    ],
)
def test_a_lever_is_refused_with_what_to_write_in_its_stead(tmp_path, clutch, says):
    (said,) = complaints(tmp_path, SMALL.replace("[clutch]", f"[clutch]\n{clutch}"))
    assert says in said


@pytest.mark.parametrize(
    ("stack", "says"),
    [
        ("packet_sizes = [2, 2]", "Expected different numbers in packet_sizes, got [2, 2]"),
        ('together = [["A01"]]', 'at least two discs in each group of together, got ["A01"]'),
    ],
)
def test_lists_that_say_too_little_are_refused(tmp_path, stack, says):
    (said,) = complaints(tmp_path, f"{SMALL}[stack]\n{stack}\n")
    assert says in said


def test_discs_nested_with_more_friction_than_load_are_refused(tmp_path):
    rough = f"{SMALL}[friction]\nbetween = 0.6\nedge = 0.5\n"
    (said,) = complaints(tmp_path, rough)
    assert "Expected 1 - between x (discs nested - 1) - edge > 0, got -0.1 for packets of 2" in said
