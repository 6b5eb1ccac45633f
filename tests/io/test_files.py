import errno
import os
import signal
import subprocess
import sys

import pytest

from optimizer.errors import InputError
from optimizer.io import files
from optimizer.io.files import check_new, write_all_new, write_atomic


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


def names(folder):
    return sorted(p.name for p in folder.iterdir())


def test_a_disk_that_fills_up_midway_leaves_nothing_behind(tmp_path, monkeypatch):
    real, written = files._write, []

    def full(path, content):
        written.append(path)
        if len(written) == 3:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(path, content)

    monkeypatch.setattr(files, "_write", full)
    set_ = {tmp_path / "out" / name: name for name in ("plan.json", "card.txt", "sheet.html")}
    with pytest.raises(InputError, match="No space left"):
        write_all_new(set_)
    assert names(tmp_path) == []
    write_all_new(set_)
    assert names(tmp_path / "out") == ["card.txt", "plan.json", "sheet.html"]


def test_a_file_that_comes_into_the_way_while_writing_is_not_touched(tmp_path, monkeypatch):
    real = files._write

    def late(path, content):
        real(path, content)
        (tmp_path / "two.txt").write_text("mine")

    monkeypatch.setattr(files, "_write", late)
    with pytest.raises(InputError, match="already there"):
        write_all_new({tmp_path / "one.txt": "1", tmp_path / "two.txt": "2"})
    assert (tmp_path / "two.txt").read_text() == "mine"
    assert names(tmp_path) == ["two.txt"]


def test_a_folder_that_comes_into_the_way_while_writing_is_not_touched(tmp_path, monkeypatch):
    real = files._write

    def late(path, content):
        real(path, content)
        (tmp_path / "out").mkdir(exist_ok=True)
        (tmp_path / "out" / "mine.txt").write_text("mine")

    monkeypatch.setattr(files, "_write", late)
    with pytest.raises(InputError, match="already there"):
        write_all_new({tmp_path / "out" / "plan.json": "plan"})
    assert names(tmp_path / "out") == ["mine.txt"]


def test_one_name_for_two_contents_is_refused(tmp_path):
    plan = tmp_path / "o" / "plan.json"
    with pytest.raises(InputError, match="asked for twice"):
        check_new([plan, tmp_path / "o" / "card.txt", plan])
    with pytest.raises(InputError, match="asked for twice"):
        check_new([plan, tmp_path / "o" / "x" / ".." / "plan.json"])


@pytest.mark.skipif(files.fcntl is None, reason="no locks to tell a killed writer by")
def test_what_a_killed_writer_left_is_cleared_by_the_next(tmp_path, monkeypatch):
    code = (
        "import os, sys; from pathlib import Path; from optimizer.io import files\n"
        "files._move_new = lambda *_: os.kill(os.getpid(), 9)\n"
        "files.write_all_new({Path(sys.argv[1]) / 'out' / 'plan.json': 'plan'})"
    )
    killed = subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert [name.startswith(files.STAGING) for name in names(tmp_path)] == [True]  # and no out
    monkeypatch.setattr(files, "FRESH_S", -1.0)
    write_all_new({tmp_path / "out" / "plan.json": "plan"})
    assert names(tmp_path) == ["out"]
    assert names(tmp_path / "out") == ["plan.json"]


@pytest.mark.skipif(files.fcntl is None, reason="no locks to tell a killed writer by")
def test_a_writer_at_work_is_let_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "FRESH_S", -1.0)
    with files._staging(tmp_path) as stage:
        write_atomic(tmp_path / "known.json", "known")
        assert stage.is_dir()
    assert names(tmp_path) == ["known.json"]
