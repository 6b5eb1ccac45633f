"""A file of the user as text, or one clear message why it is not text."""

from __future__ import annotations

from pathlib import Path

from optimizer.errors import InputError, NoRowsError


def read_bytes(path: Path, what: str) -> bytes:
    """Return the content of `path`; `what` names the file in messages ("job", "bag").

    Raises
    ------
    InputError
        when the file is missing, is a folder or cannot be read.
    NoRowsError
        when it is empty.
    """
    named = what if what.startswith("table") else f"{what} file"
    try:
        data = path.read_bytes()
    except FileNotFoundError as error:
        raise InputError(
            f"Expected a {named}, found none.", str(path), "Check the name and the folder."
        ) from error
    except IsADirectoryError as error:
        raise InputError(
            f"Expected a {named}, got a folder.", str(path), f"Name the {named} inside it."
        ) from error
    except (OSError, ValueError) as error:
        raise InputError(
            f"The {named} cannot be read ({error}).", str(path), "Check its name and permissions."
        ) from error
    if not data.strip():
        raise NoRowsError(
            f"Expected a {what}, got an empty file.",
            str(path),
            "`evenstack init` writes a commented one to start from.",
        )
    return data


def read_text(path: Path, what: str) -> str:
    """Return `path` as text, with or without a byte order mark.

    Raises
    ------
    InputError
        as in `read_bytes`, and when the file is not UTF-8 text.
    """
    data = read_bytes(path, what)
    remedy = "Save it as plain text with the encoding UTF-8."
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputError("Expected UTF-8 text, got UTF-16.", str(path), remedy)
    if b"\0" in data:
        raise InputError(f"Expected a {what} as UTF-8 text, got a binary file.", str(path), remedy)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"Expected UTF-8 text, got the byte 0x{data[error.start]:02x}.",
            f"{path.name} line {line}",
            remedy,
        ) from error
