"""The catalogs hold the reference values of tests/data, each with its source in the file."""

import csv
from pathlib import Path

import pytest

from tests.mechanics.reference import rows

CATALOGS = Path(__file__).parents[1] / "catalogs"


def catalog(name):
    lines = (CATALOGS / name).read_text(encoding="utf-8").splitlines()
    said = [line for line in lines if line.startswith("#")]
    return " ".join(said), list(csv.DictReader(lines[len(said) :]))


@pytest.mark.parametrize(
    ("name", "reference"),
    [("en16983.csv", "en16983_discs.csv"), ("en16983_tolerances.csv", "en16983_tolerances.csv")],
)
def test_catalog_equals_the_reference_row_by_row(name, reference):
    # EN 16983:2016, partly from memory
    source, table = catalog(name)
    expected = rows(reference)
    shared = table[0].keys() & expected[0].keys()
    assert "EN 16983:2016" in source
    assert len(shared) >= 6
    assert [{k: r[k] for k in shared} for r in table] == [
        {k: r[k] for k in shared} for r in expected
    ]


def test_sizes_have_names_of_their_own():
    _, table = catalog("en16983.csv")
    assert len({row["size"] for row in table}) == len(table) == 57
    assert all(
        row["size"] == f"{row['series']} {row['od_mm']}x{row['id_mm']}x{row['thickness_mm']}"
        for row in table
    )
