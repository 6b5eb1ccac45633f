import pytest

from optimizer.errors import InputError
from optimizer.io.table import TableRow, read_table


def table(tmp_path, content: bytes):
    path = tmp_path / "bag.csv"
    path.write_bytes(content)
    return read_table(path, "bag")


@pytest.mark.parametrize("separator", [b",", b";", b"\t"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "bom"])
def test_separators_line_ends_and_byte_order_mark(tmp_path, separator, end, mark):
    content = mark + end.join([b"disc", b"A01", b"", b"A02"]).replace(
        b"disc", separator.join([b"disc", b"edge"])
    )
    read = table(tmp_path, content)
    assert read.header == TableRow(1, ("disc", "edge"))
    assert [(row.line, row.cells) for row in read.rows] == [(2, ("A01", "")), (4, ("A02", ""))]


def test_a_cell_over_two_lines_does_not_shift_the_line_numbers(tmp_path):
    read = table(tmp_path, b'disc,note\nA01,"two\nlines"\nA02,one\n')
    assert [row.line for row in read.rows] == [2, 4]


def test_the_separator_note_of_a_spreadsheet_is_passed_over(tmp_path):
    read = table(tmp_path, b"sep=;\ndisc;note\nA01;x\n")
    assert read.header == TableRow(2, ("disc", "note"))
    assert read.rows == (TableRow(3, ("A01", "x")),)


def test_empty_cells_beyond_the_header_are_no_problem(tmp_path):
    assert table(tmp_path, b"disc,note\nA01,x,,\n").rows == (TableRow(2, ("A01", "x")),)


def test_cells_beyond_the_header_are(tmp_path):
    with pytest.raises(InputError, match="Expected 2 cells as in the header, got 3"):
        table(tmp_path, b"disc,note\nA01,x,y\n")


def test_a_missing_file_and_a_folder(tmp_path):
    with pytest.raises(InputError, match="found none"):
        read_table(tmp_path / "no.csv", "bag")
    with pytest.raises(InputError, match="got a folder"):
        read_table(tmp_path, "bag")
