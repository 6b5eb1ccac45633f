"""The text of a job file: where each key stands, and everything found wrong in it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from optimizer.errors import InputError, Place, Problem

_HEADER = re.compile(r"^\s*(\[{1,2})\s*([A-Za-z_][\w. -]*?)\s*\]{1,2}\s*(?:#.*)?$")
_KEY = re.compile(r"""[\w."' -]+""")
#: letters of a line that is looked at for a heading or a key
LONGEST_LINE = 500
#: what hands write that is no TOML, as patterns of the line, and the remedy; the first one counts
_SLIPS = {
    r'=\s*"[^"]*\\': "Write / between folders, also on Windows.",
    r"=\s*-?\d+,\d": "Write a decimal point, not a comma.",
    r"=\s*[-+]?\.\d": "Write a digit before the decimal point.",
    r"=\s*(True|False|yes|no|on|off)\b": "Write true or false, in small letters.",
    r"=\s*-?[\d.]+\s*[A-Za-z\"']": "Write the number alone; the unit is part of the key, as in "
    "travel_mm.",
    r"=\s*[A-Za-z]": "Put text between double quotes.",
    r"=\s*$": "Give the key a value, or delete the line.",
}
_AT_LINE = re.compile(r"\s*\(at line (\d+), column \d+\)$")


class Source:
    """One job file while it is being read; `problems` collects what is to mend."""

    def __init__(self, path: Path, text: str) -> None:
        """Remember the lines of `text` that open a section or set a key."""
        self.path = path
        self.problems: list[Problem] = []
        self._lines = _find_lines(text)

    def where(self, section: str, key: str = "") -> str | Place:
        """Return file, line, section and key, as far as known."""
        line = self._lines.get((section, key)) or self._lines.get((section, ""))
        of = " ".join(part for part in (_heading(section), key) if part)
        return Place(self.path.name, line, of) if line else f"{self.path.name}, {of}".rstrip(", ")

    def add(self, what: str, remedy: str, section: str, key: str = "") -> None:
        """Note one problem at a key, or at a section as a whole."""
        self.problems.append(Problem(what, self.where(section, key), remedy))


def _heading(section: str) -> str:
    """Return "[clutch]", or "[[clutch.shoe]] number 2" for the section "clutch.shoe 2"."""
    name, _, number = section.partition(" ")
    if number:
        return f"[[{name}]] number {number}"
    return f"[{name}]" if name else ""


def _find_lines(text: str) -> dict[tuple[str, str], int]:
    """Return the line of each (section, key); the key "" is the section's heading.

    Repeated sections ([[clutch.shoe]]) are told apart as "clutch.shoe 1", "... 2".
    """
    lines: dict[tuple[str, str], int] = {}
    counts: dict[str, int] = {}
    section = ""
    for number, line in enumerate(text.splitlines(), 1):
        if len(line) > LONGEST_LINE:
            continue
        if heading := _HEADER.match(line):
            section = heading[2].replace(" ", "")
            if heading[1] == "[[":
                counts[section] = counts.get(section, 0) + 1
                section = f"{section} {counts[section]}"
            lines.setdefault((section, ""), number)
        elif key := _key(line):
            parts = [part.strip(" \"'") for part in key.split(".")]
            inside = ".".join(part for part in (section, *parts[:-1]) if part)
            lines.setdefault((inside, parts[-1]), number)
            if not section and len(parts) == 1:
                lines.setdefault((parts[0], ""), number)  # an inline table: name = { ... }
    return lines


def _key(line: str) -> str:
    """What a line sets, empty where it sets nothing; looked at once from end to end."""
    key, equals, _ = line.partition("=")
    return key.strip() if equals and _KEY.fullmatch(key.strip()) else ""


def parse_toml(path: Path, text: str) -> dict[str, Any]:
    """Return the file as nested dicts.

    Raises
    ------
    InputError
        when the text is not TOML, with the line and what stands in it.
    """
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number of thousands of digits is one too
        said = str(error)
        lines = text.splitlines()
        at = _AT_LINE.search(said)
        number = int(at[1]) if at else len(lines)
        shown = lines[number - 1].strip() if 0 < number <= len(lines) else ""
        raise InputError(
            f"Expected TOML, got `{shown[:80]}` ({_AT_LINE.sub('', said)}).",
            f"{path.name} line {number}",
            _syntax_remedy(shown, said),
        ) from error


def _syntax_remedy(line: str, said: str) -> str:
    if "overwrite" in said or "twice" in said:
        return "It stands there twice: delete one of the two."
    usual = "Write `key = value`; `evenstack init` writes a complete example."
    return next((remedy for slip, remedy in _SLIPS.items() if re.search(slip, line)), usual)
