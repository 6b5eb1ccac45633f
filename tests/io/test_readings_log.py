import pytest

from optimizer.errors import InputError
from optimizer.io.readings import read_readings
from optimizer.io.readings_log import append, has_rows, mark, readings_csv
from optimizer.model.readings import Reading

PACKS = (("B01",), ("B02", "B03"))
NAMES = ("B01", "B02", "B03")


def read(path):
    return read_readings(path, NAMES, 1, {1: PACKS})


def test_a_void_row_stays_with_its_mark_and_nothing_else_changes(tmp_path):
    path = tmp_path / "readings.csv"
    for load in ("813.8", "8138", "812"):
        append(path, Reading(1, 1, PACKS, "settled", float(load)), "mm", load)
    before = path.read_text().splitlines()
    mark(path, 3, "no")
    after = path.read_text().splitlines()
    assert after == [*before[:2], before[2] + "no", before[3]]
    found = read(path)
    assert [row.load_n for row in found.rows] == [813.8, 812.0]
    assert found.warnings == ("readings.csv: 1 row is void (no under count) and left out.",)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_file_of_a_users_own_gets_the_column_and_keeps_all_it_has(tmp_path, end):
    path = tmp_path / "readings.csv"
    rows = ["\ufeffround;shoe;kind;load_n;note", "1;1;settled;813,8;mine", "1;1;first;8300;oh"]
    path.write_bytes(end.join(rows).encode() + end.encode())
    mark(path, 3, "no")
    assert path.read_bytes().decode() == end.join(
        [f"{rows[0]};count", rows[1], f"{rows[2]};no", ""]
    )
    assert [row.load_n for row in read(path).rows] == [813.8]


def test_what_is_insisted_on_is_written_so_and_read_so(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("round,shoe,discs,kind,load_n\n1,1,,settled,800\n")
    insisted = Reading(1, 1, PACKS, "settled", 990.0, trust="insisted")
    append(path, insisted, "mm", "990")
    assert [row.trust for row in read(path).rows] == ["usual", "insisted"]
    copy = tmp_path / "copy.csv"
    copy.write_text(readings_csv(read(path).rows, "mm"))
    assert [row.trust for row in read(copy).rows] == ["usual", "insisted"]


def test_another_word_under_count_is_refused_with_its_line(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("round,shoe,kind,load_n,count\n1,1,settled,800,maybe\n")
    with pytest.raises(InputError, match="line 2: Expected ok, no or nothing for count"):
        read(path)


def test_a_stack_on_other_shims_than_planned_is_written_so_and_read_so(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("round,shoe,discs,kind,load_n\n1,1,,settled,800\n")
    append(path, Reading(2, 1, PACKS, "settled", 830.0, shims_mm=0.35), "mm", "830")
    append(path, Reading(3, 1, PACKS, "settled", 790.0, shims_mm=0.0), "mm", "790")
    assert [row.shims_mm for row in read(path).rows] == [None, 0.35, 0.0]
    copy = tmp_path / "copy.csv"
    copy.write_text(readings_csv(read(path).rows, "in"))
    assert "shims_in" in copy.read_text()
    assert read(copy).rows[1].shims_mm == pytest.approx(0.35, abs=1e-6)


def test_a_last_line_that_was_cut_off_is_no_load(tmp_path):
    """A full disk or a pulled plug left 813 of 813.8 behind."""
    path = tmp_path / "readings.csv"
    for load in ("812.4", "813.8"):
        append(path, Reading(1, 1, PACKS, "settled", float(load)), "mm", load)
    whole = path.read_text()
    path.write_text(whole[: whole.index("813.8") + 3])
    with pytest.raises(InputError, match="line 3: Expected 9 cells, got a line that ends before"):
        read(path)
    path.write_text(whole.rstrip("\n"))  # only the end of the line is lost
    assert [row.load_n for row in read(path).rows] == [812.4, 813.8]


def test_a_short_line_that_has_an_end_is_whole(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("round,shoe,kind,load_n,note\n1,1,settled,800\n")
    assert [row.load_n for row in read(path).rows] == [800.0]


def test_a_row_is_added_on_a_line_of_its_own_or_not_at_all(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("round,shoe,discs,kind,load_n\n1,1,,settled,800")  # the line has no end
    append(path, Reading(1, 1, PACKS, "settled", 801.0), "mm", "801")
    assert [row.load_n for row in read(path).rows] == [800.0, 801.0]
    path.write_text("round,shoe,kind,load_n\n1,1,settled,800\n")
    with pytest.raises(InputError, match="line 1: Expected a column discs, got round,shoe,kind"):
        append(path, Reading(1, 1, PACKS, "settled", 801.0), "mm", "801")
    assert path.read_text().count("\n") == 2
    folder = tmp_path / "folder"
    folder.mkdir()
    with pytest.raises(InputError, match="cannot write"):
        append(folder, Reading(1, 1, PACKS, "settled", 801.0), "mm", "801")


def test_a_row_over_several_lines_is_not_marked(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text('round,shoe,kind,load_n,note,count\n1,1,settled,800,"two\nlines",\n')
    with pytest.raises(InputError, match="line 2: This row cannot be marked"):
        mark(path, 2, "no")


def test_a_file_in_another_encoding_has_rows_for_whoever_reads_it(tmp_path):
    path = tmp_path / "readings.csv"
    assert not has_rows(path)
    path.write_bytes("round,shoe,kind,load_n,note\n1,1,settled,800,für\n".encode("latin-1"))
    assert has_rows(path)
