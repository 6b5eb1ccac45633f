"""Like problems on many lines are told once, with the lines they stand on."""

import pytest

from optimizer.errors import InputError, Place, Problem
from optimizer.io.bag.reader import read_bag
from optimizer.io.job.reader import read_job
from tests.page.conftest import EXAMPLES


def at(line, value, kind="number", remedy="Write a number."):
    where = Place("bag.csv", line, f"disc A{line}")
    return Problem(f"Expected a number, got {value}.", where, remedy, kind)


def test_many_of_a_kind_are_one_message_that_names_the_lines():
    error = InputError(*(at(line, line / 10) for line in (2, 3, 4, 7, 9, 10)))
    assert error.lines() == [
        "bag.csv lines 2 to 4, 7, 9 to 10, disc A2 first: Expected a number, got 0.2. "
        "Write a number."
    ]


def test_few_are_told_by_their_discs_and_other_kinds_are_told_too():
    few = InputError(at(2, 1), at(3, 1))
    assert few.lines() == [str(problem) for problem in few.problems]
    mixed = InputError(at(2, 1), Problem("Alone."), at(3, 1), at(4, 1, "other"), at(5, 1))
    assert [line.partition(":")[0] for line in mixed.lines()] == [
        "bag.csv lines 2 to 3, 5",
        "Alone.",
        "bag.csv line 4, disc A4",
    ]


def test_more_kinds_than_are_shown_are_counted():
    error = InputError(*(at(line, 1, remedy=f"Remedy {line}.") for line in range(2, 32)))
    assert error.lines()[-1] == "... and 10 more like these."


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (",sharp,", ",scharf,", "got 'scharf'. Did you mean sharp?"),
        (",20.0,", ",20 mm,", "got '20 mm'. Write"),
        (",20.0,", ",,", "Expected a number for od, found none. Fill it in"),
    ],
)
def test_one_mistake_in_every_row_of_a_bag_is_one_message(tmp_path, old, new, told):
    job = read_job(EXAMPLES / "kart_mm" / "job.toml")
    bag = tmp_path / "bag.csv"
    bag.write_text((EXAMPLES / "kart_mm" / "bag.csv").read_text().replace(old, new))
    with pytest.raises(InputError) as caught:
        read_bag(bag, job)
    (line,) = caught.value.lines()
    assert line.startswith("bag.csv lines ")
    assert told in line
