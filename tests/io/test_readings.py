import pytest

from optimizer.errors import InputError
from optimizer.io.readings import parse_packs, read_readings
from optimizer.model.readings import Reading
from optimizer.units import N_PER_LBF

NAMES = ("B01", "B02", "B03", "B04", "B05", "B06")
PLANNED = {1: (("B01",), ("B02", "B03")), 2: (("B04",), ("B05", "B06"))}


def read(tmp_path, text, name="readings.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return read_readings(path, NAMES, 2, PLANNED)


def test_discs_left_out_are_those_of_the_plan(tmp_path):
    found = read(tmp_path, "round,shoe,discs,kind,load_lbf\n1,1,,settled,200\n1,2,,first,203.5\n")
    assert found.rows == (
        Reading(1, 1, PLANNED[1], "settled", 200 * N_PER_LBF, None, False, 2),
        Reading(1, 2, PLANNED[2], "first", 203.5 * N_PER_LBF, None, False, 3),
    )
    assert found.warnings == ()


def test_stack_travel_rebuilt_and_decimal_comma_are_read(tmp_path):
    found = read(
        tmp_path,
        "Round;Stack;Discs;Kind;Load (N);Travel mm;Rebuilt\n"
        "2;2;B04 B05 + B06;settled;900,5;;yes\n1;;B01 B02;settled;880;0,5;\n",
    )
    assert found.rows == (
        Reading(1, None, (("B01",), ("B02",)), "settled", 880.0, 0.5, False, 3),
        Reading(2, 2, (("B04",), ("B05", "B06")), "settled", 900.5, None, True, 2),
    )


def test_rows_of_a_form_that_were_not_read_yet_are_left_out_and_counted(tmp_path):
    form = "round,shoe,kind,load_lbf\n1,1,first,\n1,1,settled,200\n1,2,first, \n1,2,settled,\n"
    found = read(tmp_path, form)
    assert [(r.shoe, r.kind, r.line) for r in found.rows] == [(1, "settled", 3)]
    assert found.warnings == (
        "readings.csv: 3 rows without a load are taken as not read yet and left out.",
    )


def test_a_form_with_no_load_at_all_is_refused(tmp_path):
    with pytest.raises(InputError, match="Expected a load in at least one row, found none in 2"):
        read(tmp_path, "round,shoe,kind,load_lbf\n1,1,settled,\n1,2,settled,\n")


def test_packets_are_joined_by_a_plus():
    assert parse_packs(" B01  B02 +B03 ") == (("B01",), ("B02", "B03"))


@pytest.mark.parametrize(
    ("row", "says", "remedy"),
    [
        ("1,1,,setled,200", "got 'setled'", "Did you mean settled?"),
        ("1,3,B01,settled,200", "Expected a shoe from 1 to 2, got 3", "number of shoes"),
        ("1,3,,settled,200", "Expected discs for shoe 3", "no such shoe"),
        ("0,1,,settled,200", "Expected round as 1, 2, 3", "from 1"),
        ("1,1,B01 B09,settled,200", "got 'B09'", "Did you mean"),
        ("1,1,B01 B01,settled,200", "in the stack twice", "Correct"),
        ("1,1,,settled,-3", "Expected load > 0, got -3", "Zero the gauge"),
        ("1,1,,settled,12 lbf", "got '12 lbf'", "number"),
        ("1,,B01 B02,settled,200", "Expected the travel", "Name the shoe"),
        ("1,,,settled,200", "Expected shoe as 1, 2, 3", "from 1"),
        ("1,1,B01+B02+B03+B04,settled,200", "at most three discs nested", "need a space"),
    ],
)
def test_what_is_wrong_in_a_row_is_said_with_its_line(tmp_path, row, says, remedy):
    with pytest.raises(InputError) as caught:
        read(tmp_path, f"round,shoe,discs,kind,load_lbf\n{row}\n")
    (problem,) = caught.value.problems[:1]
    assert says in problem.what
    assert "readings.csv line 2" in str(problem.where)
    assert remedy in problem.remedy


def test_rebuilt_is_yes_or_no(tmp_path):
    with pytest.raises(InputError, match="line 2: Expected yes or no for rebuilt, got 'perhaps'"):
        read(tmp_path, "round,shoe,kind,load_n,rebuilt\n1,1,settled,200,perhaps\n")


def test_all_problems_come_at_once(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, "round,shoe,discs,kind,load_lbf\nx,1,,old,none\n1,1,B09,settled,1\n")
    assert len(caught.value.problems) == 4


def test_a_disc_is_under_one_shoe_in_a_round(tmp_path):
    with pytest.raises(InputError, match="cannot be under shoe 2 and, on line 2, under shoe 1"):
        read(tmp_path, "round,shoe,discs,kind,load_n\n1,1,B01,settled,9\n1,2,B01,settled,9\n")


@pytest.mark.parametrize(
    ("header", "says"),
    [
        ("round,shoe,kind,load", "has no unit"),
        ("round,shoe,kind", "Expected a column load_n or load_lbf"),
        ("round,kind,load_n", "Expected a column shoe"),
        ("rund,shoe,kind,load_n", "Did you mean round?"),
        ("round,shoe,stack,kind,load_n", "Expected one column for shoe"),
    ],
)
def test_a_header_says_what_it_lacks(tmp_path, header, says):
    with pytest.raises(InputError) as caught:
        read(tmp_path, f"{header}\n{','.join('1' for _ in header.split(','))}\n")
    assert says in str(caught.value)


def test_rounds_that_name_no_discs_are_taken_as_readings_again_and_said_so(tmp_path):
    found = read(tmp_path, "round,shoe,kind,load_n\n1,1,settled,900\n2,1,settled,901\n")
    assert "rounds 1, 2 name no discs" in found.warnings[0]


def test_more_readings_than_a_bench_session_has_are_refused(tmp_path):
    rows = "1,1,,settled,200\n" * 801
    with pytest.raises(InputError, match="Expected at most 800 readings, got 801"):
        read(tmp_path, "round,shoe,discs,kind,load_lbf\n" + rows)
