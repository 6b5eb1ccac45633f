"""Changing one key of a job file in place: a person's remarks, order and spellings stay.

What comes out is read again and compared: nothing but the keys asked for may have changed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from optimizer.errors import InputError
from optimizer.io.job.keys import Key, keys_of

_HEADING = re.compile(r"^\s*\[\s*([\w.-]+)\s*\]\s*(?:#.*)?$")
_ANY_HEADING = re.compile(r"^\s*\[")
_REMARK = re.compile(r"^(\s*)#\s?")


def key_named(section: str, name: str) -> Key:
    """Return a key of the table by its section and name."""
    return next(key for key in keys_of(section) if key.name == name)


def with_values(text: str, values: Mapping[tuple[str, str], tuple[str, str | None]]) -> str:
    """Set keys of a job.

    Parameters
    ----------
    text : the job file as it stands
    values : by (section, name of the key without its unit) the spelling to write where the key is
        not set yet, and its value in TOML; None takes the key away, behind a #

    Raises
    ------
    InputError
        where the file cannot be changed so without changing something else.
    """
    before = tomllib.loads(text)
    wanted = _copy(before)
    after = text
    for (section, name), (spelling, value) in values.items():
        key = key_named(section, name)
        written = next((s for s in key.spellings() if s in _table(before, section)), spelling)
        _put(wanted, section, written, value)
        after = _with_value(after, section, key, spelling, value)
    try:
        read = tomllib.loads(after)
    except tomllib.TOMLDecodeError:
        read = None
    if read != wanted:
        raise InputError(
            "The job is written in a way that this form cannot change.",
            "",
            "Open the file in an editor; the remarks in it say what each key means.",
        )
    return after


def value_of(document: Mapping[str, Any], section: str, key: Key) -> tuple[str, Any] | None:
    """Return how a key is spelled in a job, and its value; None where it is not set."""
    table = _table(document, section)
    return next(((s, table[s]) for s in key.spellings() if s in table), None)


def _table(document: Mapping[str, Any], section: str) -> Mapping[str, Any]:
    table = document.get(section, {})
    return table if isinstance(table, dict) else {}


def _copy(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _copy(item) for key, item in value.items()}
    return [_copy(item) for item in value] if isinstance(value, list) else value


def _put(document: dict[str, Any], section: str, spelling: str, value: str | None) -> None:
    table = document.setdefault(section, {})
    if value is None:
        table.pop(spelling, None)
    else:
        table[spelling] = tomllib.loads(f"x = {value}")["x"]


def _with_value(text: str, section: str, key: Key, spelling: str, value: str | None) -> str:
    """Set one key: where it stands, else where it stands behind a #, else below the heading."""
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines()
    span = _section(lines, section)
    if span is None:
        if value is None:
            return text
        lines += ["", f"[{section}]", f"{spelling} = {value}"]
        return end.join(lines) + end
    for at in range(*span):
        written = _sets(lines[at], key, remarked=False)
        if written is None:
            continue
        last = _last_line(lines, at, span[1])
        if value is None:
            lines[at : last + 1] = [f"# {line}" for line in lines[at : last + 1]]
        else:
            tail = _remark_after(lines[at]) if last == at else ""
            indent = lines[at][: len(lines[at]) - len(lines[at].lstrip())]
            lines[at : last + 1] = [f"{indent}{written} = {value}{tail}"]
        return end.join(lines) + end
    if value is None:
        return text
    for at in range(*span):
        if _sets(lines[at], key, remarked=True) == spelling:
            lines[at] = f"{spelling} = {value}"
            return end.join(lines) + end
    lines.insert(span[0], f"{spelling} = {value}")
    return end.join(lines) + end


def _section(lines: list[str], section: str) -> tuple[int, int] | None:
    """Return from which line to which a section reaches, its heading left out."""
    start = None
    for at, line in enumerate(lines):
        if start is not None and _ANY_HEADING.match(line):
            return start, at
        found = _HEADING.match(line)
        if found and found[1] == section and start is None:
            start = at + 1
    return None if start is None else (start, len(lines))


def _sets(line: str, key: Key, remarked: bool) -> str | None:
    """Return the spelling of a key that a line sets, or would set without its #."""
    if remarked != bool(_REMARK.match(line)):
        return None
    plain = _REMARK.sub(r"\1", line) if remarked else line
    name = plain.partition("=")[0].strip().strip("\"'") if "=" in plain else ""
    return name if name in key.spellings() else None


def _last_line(lines: list[str], at: int, end: int) -> int:
    """Return the last line of a value that may go on over several."""
    for last in range(at, end):
        try:
            tomllib.loads("\n".join(lines[at : last + 1]))
        except tomllib.TOMLDecodeError:
            continue
        return last
    return at


def _remark_after(line: str) -> str:
    """Return the remark at the end of a line that sets a key, with the room before it."""
    for found in re.finditer(r"\s*#", line):
        try:
            head = tomllib.loads(line[: found.start()])
        except tomllib.TOMLDecodeError:
            continue
        if head:
            return line[found.start() :]
    return ""
