"""One section of a job file against the table of keys."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from optimizer.errors import did_you_mean
from optimizer.io.job.keys import ARMS, KEYS, SECTIONS, Key
from optimizer.io.job.lever import LEVER, refuse_lever
from optimizer.io.job.source import Source
from optimizer.io.job.values import Wrong, convert
from optimizer.io.job.words import show


@dataclass(frozen=True)
class Section:
    """The values of one section: given, else the default, else None.

    `written` gives for each key set in the file the spelling the user chose; a value
    that was refused is None but stays in `written`, so that it is not called missing.
    """

    name: str
    values: dict[str, Any]
    written: dict[str, str]

    def __getitem__(self, name: str) -> Any:
        """Return the value of a key, inside units."""
        return self.values[name]

    def spelled(self, name: str) -> str:
        """Return the key as the user wrote it, or its bare name."""
        return self.written.get(name, name)

    def at(self, name: str) -> tuple[str, str]:
        """Return the section and the key as the user wrote it: where a message points."""
        return self.name, self.spelled(name)


def read_section(source: Source, name: str, keys: tuple[Key, ...], table: Any) -> Section:
    """Check one table of the file; everything wrong goes to `source`."""
    if not isinstance(table, dict):
        source.add(
            f"Expected a section [{name}] with keys, got {show(table)}.",
            f"Write [{name}] on a line of its own and the keys below it.",
            name,
        )
        return Section(name, {key.name: None for key in keys}, {key.name: key.name for key in keys})
    values: dict[str, Any] = {}
    written: dict[str, str] = {}
    spellings = {spelling: key for key in keys for spelling in key.spellings()}
    for spelling in table:
        if spelling == LEVER and any(key.name in ARMS for key in keys):
            refuse_lever(source, name, table)
        elif spelling not in spellings:
            section = name.partition(" ")[0]
            what = f"{spelling} = {show(table[spelling])} is not a key of [{section}]."
            source.add(what, _advice(spelling, spellings), name, spelling)
    for key in keys:
        given = [spelling for spelling in key.spellings() if spelling in table]
        values[key.name] = key.default
        if not given:
            if key.required:
                what = f"Expected {either(key)}, found none."
                source.add(what, f"Add it to [{name}]: {key.meaning}.", name)
            continue
        written[key.name] = given[0]
        values[key.name] = None
        if len(given) > 1:
            source.add(
                f"Expected one of {' and '.join(given)}, got both "
                f"({', '.join(show(table[spelling]) for spelling in given)}).",
                "Delete one of the two.",
                name,
                given[-1],
            )
            continue
        try:
            values[key.name] = convert(key, given[0], table[given[0]])
        except Wrong as wrong:
            source.add(wrong.what, wrong.remedy, name, given[0])
    return Section(name, values, written)


def either(key: Key) -> str:
    """Return the ways to write a key: "travel_mm or travel_in"."""
    return " or ".join(key.spellings())


def _advice(spelling: str, spellings: dict[str, Key]) -> str:
    small = spelling.lower()
    for key in spellings.values():
        if key.name == small:
            return f"Write the unit as part of the key: {either(key)}."
    known = f"Known keys: {', '.join(spellings)}."
    return home_of(small) or did_you_mean(small, spellings, known)


def home_of(spelling: str) -> str:
    """Return where a key belongs that stands in the wrong section, or nothing."""
    homes = [key.section for key in KEYS if spelling in (key.name, *key.spellings())]
    return f"It belongs under {' or '.join(f'[{home}]' for home in homes)}." if homes else ""


def unknown_sections(source: Source, document: dict[str, Any], known: Iterable[str]) -> None:
    """Report what stands at the top of the file and is neither a section nor `known`."""
    names = (*SECTIONS, *known)
    sections = f"Known sections: {', '.join(f'[{section}]' for section in SECTIONS)}."
    for name, value in document.items():
        if name in names:
            continue
        if isinstance(value, (dict, list)):
            what = f"[{name}] is not a section of a job."
            source.add(what, did_you_mean(name.lower(), names, sections, shown="[{}]"), name)
        else:
            what = f"{name} = {show(value)} stands outside any section."
            remedy = home_of(name.lower()) or did_you_mean(name.lower(), names, sections)
            source.add(what, remedy, "", name)
