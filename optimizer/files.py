"""Writing files so that nothing is ever half-written or overwritten unasked."""

from __future__ import annotations

import os
import tempfile
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
        raise InputError(
            Problem(f"cannot write ({error.strerror})", str(path), "Choose another place.")
        ) from error


def write_new(path: Path, content: str | bytes) -> None:
    """Write `content` to `path`, refusing to replace a file that is already there.

    Raises
    ------
    InputError
        when the file exists, or as in `write_atomic`.
    """
    if path.exists():
        raise InputError(
            Problem("is already there and is not overwritten", str(path), "Choose another name.")
        )
    write_atomic(path, content)


def write_all_new(contents: dict[Path, str | bytes]) -> None:
    """Write several new files, refusing before the first one if any is already there.

    Raises
    ------
    InputError
        as in `write_new`; lists every file that is in the way.
    """
    raise_if(
        Problem("is already there and is not overwritten.", str(path), "Choose another folder.")
        for path in contents
        if path.exists()
    )
    for path, content in contents.items():
        write_atomic(path, content)
