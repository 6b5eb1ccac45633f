import pytest

from optimizer.errors import InputError
from optimizer.io.files import check_new, write_all_new


def test_new_files_are_written_with_their_folders(tmp_path):
    write_all_new({tmp_path / "a" / "one.txt": "one", tmp_path / "two.bin": b"two"})
    assert (tmp_path / "a" / "one.txt").read_text() == "one"
    assert (tmp_path / "two.bin").read_bytes() == b"two"
    assert {p.name for p in tmp_path.iterdir()} == {"a", "two.bin"}


def test_every_file_in_the_way_is_named_and_nothing_is_written(tmp_path):
    (tmp_path / "there.txt").write_text("mine")
    (tmp_path / "file").write_text("mine too")
    wanted = [tmp_path / "new.txt", tmp_path / "there.txt", tmp_path / "file" / "below.txt"]
    with pytest.raises(InputError) as caught:
        write_all_new({path: "other" for path in wanted})
    there, below = caught.value.problems
    assert there.where == str(wanted[1])
    assert there.what == "is already there and is not overwritten."
    assert below.where == str(wanted[2])
    assert below.what.startswith("cannot write (")
    assert not wanted[0].exists()
    assert wanted[1].read_text() == "mine"


def test_looking_whether_files_can_be_written_leaves_nothing(tmp_path):
    check_new([tmp_path / "a" / "b" / "c.txt", tmp_path / "d.txt"])
    assert list(tmp_path.iterdir()) == []
