"""Standard sizes, tests/data/en16983_discs.csv (EN 16983:2016, provenance in the file)."""

import csv
from pathlib import Path

import pytest

from tests.io.bag.bags import bag_of, complaints

DATA = Path(__file__).parents[2] / "data" / "en16983_discs.csv"
SIZES = [
    tuple(float(row[k]) for k in ("od_mm", "id_mm", "thickness_mm", "cone_height_mm"))
    for row in csv.DictReader(DATA.read_text(encoding="utf-8").splitlines())
]
CONE = "disc,od_{u},id_{u},thickness_{u},cone_height_{u},edge"
OVERALL = CONE.replace("cone_height", "height")


def rows(size, overall=False, factor=1.0, count=3):
    od, inner, t, h = (value / factor for value in size)
    height = h + t if overall else h
    return [f"D{n},{od:.6f},{inner:.6f},{t:.6f},{height:.6f},sharp" for n in range(count)]


def test_there_are_sizes_to_try():
    assert len(SIZES) > 30


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_standard_size_is_taken_as_typed(tmp_path, size):
    units = (("mm", 1.0), ("in", 25.4)) if size[0] <= 200 else (("mm", 1.0),)
    for unit, factor in units:
        for header, overall in ((CONE, False), (OVERALL, True)):
            bag = bag_of(tmp_path, *rows(size, overall, factor), header=header.format(u=unit))
            assert bag.discs[0].cone_height_mm == pytest.approx(size[3], abs=1e-4)
            assert bag.warnings == ()


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_standard_size_in_the_wrong_unit_is_caught(tmp_path, size):
    for unit, factor in (("mm", 25.4), ("in", 1.0)):
        said = complaints(tmp_path, *rows(size, factor=factor), header=CONE.format(u=unit))
        assert len(said) == 1
        assert "these would be usual in" in said[0]


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("column", [2, 3])
def test_one_column_in_the_wrong_unit_is_caught(tmp_path, size, column):
    for factor in (25.4, 1 / 25.4):
        typed = list(size)
        typed[column] /= factor
        unit = "mm" if factor > 1 else "in"
        typed = typed if unit == "mm" else [v / 25.4 for v in typed]
        said = complaints(tmp_path, *rows(typed), header=CONE.format(u=unit))
        assert len(said) == 1
        assert "these would be usual in" in said[0]


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_heights_of_the_wrong_kind_are_caught(tmp_path, size):
    as_cone = complaints(tmp_path, *rows(size, overall=True), header=CONE.format(u="mm"))
    assert len(as_cone) == 1
    assert "looks like overall heights for 3 of 3" in as_cone[0]
    as_overall = complaints(tmp_path, *rows(size), header=OVERALL.format(u="mm"))
    assert len(as_overall) == 1
    assert "looks like cone heights for 3 of 3" in as_overall[0]


def test_one_disc_in_inches_among_many_is_caught(tmp_path):
    many = rows((20, 10.2, 1.1, 0.45), count=6)
    many[4] = many[4].replace("0.450000", "0.0177")
    said = complaints(tmp_path, *many, header=CONE.format(u="mm"))
    assert len(said) == 1
    assert said[0].startswith("bag.csv line 6, disc D4")
    assert "would fit in inches" in said[0]


def test_two_sizes_in_one_bag_are_no_slip(tmp_path):
    small, large = rows((8, 4.2, 0.4, 0.2), count=4), rows((50, 25.4, 3, 1.1), count=5)
    mixed = [*small, *(row.replace("D", "E") for row in large)]
    assert bag_of(tmp_path, *mixed, header=CONE.format(u="mm")).warnings == ()
