"""Slips in a bag that would otherwise be believed: a decimal point, a block pasted twice."""

import pytest

from optimizer.errors import InputError
from optimizer.io.bag.reader import read_bag
from optimizer.io.table import read_table
from tests.bags import plain_job

HEAD = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge,flat_mm,note\n"


def bag(tmp_path, rows, head=HEAD):
    path = tmp_path / "bag.csv"
    path.write_text(head + "\n".join(rows) + "\n")
    return path


def rows(count=8):
    return [
        f"D{k},20,10.2,{0.900 + k / 1000:.3f},{0.50 + k / 500:.3f},sharp,," for k in range(count)
    ]


@pytest.mark.parametrize(
    ("good", "typed", "says"),
    [
        (",0.902,", ",9.02,", "got 9.02: 0.902?"),
        (",0.902,", ",0.0902,", "got 0.0902: 0.902?"),
        (",0.504,", ",5.04,", "got 5.04: 0.504?"),
        (",0.504,", ",0.00504,", "got 0.00504: 0.504?"),
    ],
)
def test_a_shifted_decimal_point_is_offered_back_with_its_line(tmp_path, good, typed, says):
    path = bag(tmp_path, [row.replace(good, typed) for row in rows()])
    with pytest.raises(InputError) as caught:
        read_bag(path, plain_job())
    assert says in str(caught.value)
    assert "bag.csv line 4, disc D2" in str(caught.value)


def test_thicknesses_as_unlike_as_the_standard_has_them_pass(tmp_path):
    thick = ["0.45", "0.8", "1.1", "1.0", "0.5", "0.6"]
    path = bag(tmp_path, [f"D{k},20,10.2,{t},0.5,sharp,," for k, t in enumerate(thick)])
    assert len(read_bag(path, plain_job()).discs) == 6


def test_a_block_pasted_twice_is_asked_about_and_a_word_settles_it(tmp_path):
    with pytest.raises(InputError, match="8 discs stand in the bag twice") as caught:
        read_bag(bag(tmp_path, rows() * 2), plain_job())
    assert "bag.csv line 10" in str(caught.value)
    again = [f"{row}again" for row in rows()]
    discs = read_bag(bag(tmp_path, rows() + again), plain_job()).discs
    assert {disc.repeats for disc in discs} == {2}
    differing = [row.replace(",0.903,", ",0.904,") for row in rows()]
    assert read_bag(bag(tmp_path, rows() + differing), plain_job()).discs[0].repeats == 2


def test_no_length_beyond_all_measure_is_taken(tmp_path):
    for value in ("1e300", "1e13", "99999"):
        with pytest.raises(InputError):
            read_bag(
                bag(tmp_path, [row.replace(",20,", f",{value},") for row in rows()]), plain_job()
            )


def test_more_rows_than_a_bag_can_have_are_refused(tmp_path):
    assert len(read_table(bag(tmp_path, rows(1) * 21_000), "bag").rows) == 21_000
    with pytest.raises(InputError, match="at most 150000 rows"):
        read_bag(bag(tmp_path, rows(1) * 151_000), plain_job())
