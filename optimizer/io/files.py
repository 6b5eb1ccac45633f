"""Writing files so that nothing is ever half-written or overwritten unasked.

Everything is first written into a staging folder beside its place and then moved there in one
step each. A staging folder is locked while its writer lives, so one that a killed program left
behind is told by its open lock and cleared away by the next writer.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from itertools import chain, count
from pathlib import Path

from optimizer.errors import InputError, Problem, raise_if

try:
    import fcntl
except ImportError:  # no such locks on this system: what was left behind stays
    fcntl = None  # type: ignore[assignment]

STAGING = ".evenstack-"
#: a staging folder younger than this may not be locked yet
FRESH_S = 2.0


def write_atomic(path: Path, content: str | bytes) -> None:
    """Write `content` to `path` in one step: a reader sees the old file or the new one.

    Raises
    ------
    InputError
        when the folder is missing or cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with _staging(path.parent) as stage:
            _write(stage / path.name, content)
            os.replace(stage / path.name, path)
    except OSError as error:
        raise InputError(_unwritable(path, error)) from error


def write_all_new(contents: Mapping[Path, str | bytes]) -> None:
    """Write new files, all of them or, but for a machine that stops midway, none.

    A folder that is not there yet appears with all its files at once.

    Raises
    ------
    InputError
        as in `check_new`; also where a file came into the way since.
    """
    check_new(contents)
    by_place: dict[Path, dict[Path, str | bytes]] = {}
    for path, content in contents.items():
        by_place.setdefault(_place(path), {})[path] = content
    for place, files in by_place.items():
        _write_new(place, files)


def check_new(paths: Iterable[Path]) -> None:
    """Refuse files that are in the way or cannot be written, before work is put into them.

    Raises
    ------
    InputError
        with every file that is already there, that is asked for twice, or whose folder cannot
        be made or written.
    """
    listed = list(paths)
    times = Counter(path.resolve() for path in listed)
    raise_if(
        problem
        for path in dict.fromkeys(listed)
        for problem in _hindrance(path, times[path.resolve()])
    )


def new_folder(beside: Path, name: str) -> Path | None:
    """Name a folder name-1, name-2 ... beside a file that is not there yet; None if none can be."""
    place = beside.parent
    if not os.access(place, os.W_OK):
        return None
    return _first_free(place / f"{name}-{k}" for k in count(1))


def free_folder(wanted: Path) -> Path:
    """Return a folder that is not there yet: the one wanted, else its name with -2, -3 ..."""
    others = (wanted.with_name(f"{wanted.name}-{k}") for k in count(2))
    return _first_free(chain((wanted,), others))


def kept_as(path: Path) -> Path:
    """Name a file beside one that is to be replaced, for what it held: bag-before-1.csv."""
    return _first_free(path.with_name(f"{path.stem}-before-{k}{path.suffix}") for k in count(1))


def _first_free(paths: Iterable[Path]) -> Path:
    return next(path for path in paths if not os.path.lexists(path))


def _write_new(place: Path, files: Mapping[Path, str | bytes]) -> None:
    """Write new files below a folder that is there."""
    path = place
    made: list[Path] = []
    try:
        with _staging(place) as stage:
            for path, content in files.items():
                staged = stage / path.absolute().relative_to(place)
                staged.parent.mkdir(parents=True, exist_ok=True)
                _write(staged, content)
            for path in sorted(stage.iterdir()):
                _move_new(path, place / path.name)
                made.append(place / path.name)
    except OSError as error:
        for there in made:
            shutil.rmtree(there) if there.is_dir() else there.unlink()
        if isinstance(error, FileExistsError):
            raise InputError(_in_the_way(place / path.name)) from error
        raise InputError(_unwritable(path, error)) from error


def _move_new(staged: Path, path: Path) -> None:
    """Move a file or folder to where nothing is yet."""
    if staged.is_dir():
        if os.path.lexists(path):
            raise FileExistsError
        staged.rename(path)  # fails where a folder with files came into the way meanwhile
        return
    try:
        os.link(staged, path)
    except FileExistsError:
        raise
    except OSError:  # a disk without links
        with path.open("xb") as stream:
            stream.write(staged.read_bytes())


@contextmanager
def _staging(folder: Path) -> Iterator[Path]:
    """Make a folder to write in, gone afterwards; clear away what killed programs left."""
    _clear(folder)
    stage = Path(tempfile.mkdtemp(prefix=STAGING, dir=folder))
    lock = os.open(stage, os.O_RDONLY) if fcntl else None
    try:
        if lock is not None:
            with suppress(OSError):  # a disk without locks: it is young enough to be let alone
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield stage
    finally:
        shutil.rmtree(stage, ignore_errors=True)
        if lock is not None:
            os.close(lock)


def _clear(folder: Path) -> None:
    """Remove staging folders whose writer is gone."""
    for left in folder.glob(f"{STAGING}*") if fcntl else ():
        with suppress(OSError):  # another one was sooner, or holds it
            if time.time() - left.stat().st_mtime < FRESH_S:
                continue
            lock = os.open(left, os.O_RDONLY)
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                shutil.rmtree(left)
            finally:
                os.close(lock)


def _write(path: Path, content: str | bytes) -> None:
    data = content.encode("utf-8") if isinstance(content, str) else content
    path.write_bytes(data)
    if data.startswith(b"#!"):  # a script, to be run
        path.chmod(0o755)


def _place(path: Path) -> Path:
    """Return the nearest folder above a path that is there."""
    return next(place for place in path.absolute().parents if os.path.exists(place))


def _hindrance(path: Path, asked: int) -> Iterator[Problem]:
    if os.path.lexists(path):
        yield _in_the_way(path)
    elif asked > 1:
        yield Problem("is asked for twice, with unlike contents.", str(path), "Name two files.")
    else:
        try:
            tempfile.TemporaryFile(dir=_place(path)).close()  # nothing else knows every reason
        except OSError as error:
            yield _unwritable(path, error)


def _in_the_way(path: Path) -> Problem:
    return Problem(
        "is already there and is not overwritten.", str(path), "Choose another name or folder."
    )


def _unwritable(path: Path, error: OSError) -> Problem:
    return Problem(f"cannot write ({error.strerror}).", str(path), "Choose another place.")
