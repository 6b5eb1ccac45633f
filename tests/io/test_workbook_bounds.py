"""Workbooks that say one thing of their size and hold another, or far too much."""

import io
import zipfile

import openpyxl
import pytest

from optimizer.errors import InputError
from optimizer.io.table import read_table


def written(tmp_path, change):
    book = openpyxl.Workbook()
    for k in range(41):
        book.active.append(["disc", "x"] if k == 0 else [f"D{k}", k])
    stream = io.BytesIO()
    book.save(stream)
    path = tmp_path / "bag.xlsx"
    with zipfile.ZipFile(stream) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return path


def test_a_stale_dimension_drops_no_row(tmp_path):
    def stale(name, data):
        return data.replace(b'ref="A1:B41"', b'ref="A1:B30"') if "sheet1" in name else data

    assert len(read_table(written(tmp_path, stale), "bag").rows) == 40


def test_a_cell_at_the_far_corner_takes_no_more_than_the_rest(tmp_path):
    far = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'

    def corner(name, data):
        return data.replace(b"</sheetData>", far) if "sheet1" in name else data

    with pytest.raises(InputError, match="at most 20000 rows"):
        read_table(written(tmp_path, corner), "bag")


def test_styles_and_strings_by_the_million_are_refused_by_size(tmp_path):
    def heavy(name, data):
        return data + b" " * 6_000_000 if "styles" in name else data

    with pytest.raises(InputError, match="at most 5 MB"):
        read_table(written(tmp_path, heavy), "bag")
