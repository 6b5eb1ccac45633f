"""Writing files so that nothing is ever half-written or overwritten unasked."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Iterator
from itertools import count
from pathlib import Path

from optimizer.errors import InputError, Problem, raise_if


def write_atomic(path: Path, content: str | bytes) -> None:
    """Write `content` to `path` in one step: a reader sees the old file or the new one.

    Raises
    ------
    InputError
        when the folder is missing or cannot be written.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
            umask = os.umask(0)
            os.umask(umask)
            os.chmod(name, 0o666 & ~umask)
            os.replace(name, path)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        raise InputError(_unwritable(path, error)) from error


def write_all_new(contents: dict[Path, str | bytes]) -> None:
    """Write new files, refusing before the first one where `check_new` would.

    Raises
    ------
    InputError
        as in `check_new`.
    """
    check_new(contents)
    for path, content in contents.items():
        write_atomic(path, content)


def check_new(paths: Iterable[Path]) -> None:
    """Refuse files that are in the way or cannot be written, before work is put into them.

    Raises
    ------
    InputError
        with every file that is already there, or whose folder cannot be made or written.
    """
    raise_if(problem for path in paths for problem in _hindrance(path))


def new_folder(beside: Path, name: str) -> Path | None:
    """Name a folder name-1, name-2 ... beside a file that is not there yet; None if none can be."""
    place = beside.parent
    if not os.access(place, os.W_OK):
        return None
    return next(p for k in count(1) if not os.path.exists(p := place / f"{name}-{k}"))


def _hindrance(path: Path) -> Iterator[Problem]:
    if os.path.exists(path):
        yield Problem(
            "is already there and is not overwritten.", str(path), "Choose another name or folder."
        )
        return
    folder = next(place for place in path.absolute().parents if os.path.exists(place))
    try:
        tempfile.TemporaryFile(dir=folder).close()  # nothing else knows every reason
    except OSError as error:
        yield _unwritable(path, error)


def _unwritable(path: Path, error: OSError) -> Problem:
    return Problem(f"cannot write ({error.strerror}).", str(path), "Choose another place.")
