"""What can be wrong with what a user gave us, and how it is said.

A problem names the place, the value and the remedy. All problems of a file are
raised together, so that one run shows everything there is to mend.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from itertools import groupby

#: problems shown of many, letters of a value and of one sentence
MOST_SHOWN, LONGEST_VALUE, LONGEST = 20, 80, 400
#: lines with a like problem from which on they are told together
FEWEST_ALIKE = 3


def cut(words: str, longest: int = LONGEST_VALUE) -> str:
    """Cut what a user wrote to a length that can be read, control characters made visible."""
    plain = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in words[: longest + 1])
    return plain if len(words) <= longest else plain[:longest] + " ..."


def did_you_mean(
    word: str, known: Iterable[str], otherwise: str, near: float = 0.6, shown: str = "{}"
) -> str:
    """Offer the known word nearest to one that is none, written as `shown`; else say otherwise."""
    found = get_close_matches(word, list(known), 1, near)
    return f"Did you mean {shown.format(found[0])}?" if found else otherwise


@dataclass(frozen=True)
class Place:
    """A line of a file, and `of` what it is, as "disc A07"; in a workbook the row of its sheet."""

    file: str
    line: int
    of: str = ""

    def __str__(self) -> str:
        """Return it as one reads it."""
        return f"{self.file} line {self.line}{f', {self.of}' if self.of else ''}"


@dataclass(frozen=True)
class Problem:
    """One thing to mend: `what` is wrong, `where` it stands, and the `remedy`.

    `kind` tells what sort of mistake it is, whatever value was found: mistakes of one kind on
    several lines of a file are told together. Without it only the very same words are.
    """

    what: str
    where: str | Place = ""
    remedy: str = ""
    kind: str = ""

    def __str__(self) -> str:
        """Return the one line a user reads."""
        line = f"{self.where}: {self.what}" if self.where else self.what
        return f"{line} {self.remedy}".rstrip()


class EvenstackError(Exception):
    """Anything a user can mend; the command line turns it into exit code 2."""

    def __init__(self, *found: Problem | str) -> None:
        """Collect problems, or the words of a single one: what is wrong, where, and the remedy."""
        problems = tuple(one for one in found if isinstance(one, Problem))
        self.problems = problems or (Problem(*map(str, found)),)
        super().__init__("\n".join(self.lines()))

    @property
    def told(self) -> list[Problem]:
        """Problems as they are told: like ones on many lines of a file as one."""
        return together(self.problems)

    def shown(self) -> tuple[Problem, ...]:
        """Return the first problems, each cut to what a terminal can show."""
        return tuple(
            Problem(
                cut(p.what, LONGEST), cut(str(p.where), LONGEST), cut(p.remedy, LONGEST), p.kind
            )
            for p in self.told[:MOST_SHOWN]
        )

    def lines(self) -> list[str]:
        """Say the first problems, a line each, and count the rest."""
        left = len(self.told) - MOST_SHOWN
        more = [f"... and {left} more like these."] if left > 0 else []
        return [*map(str, self.shown()), *more]


class InputError(EvenstackError):
    """A file or an option cannot be used as it stands."""


class NoRowsError(InputError):
    """A table holds nothing below its header, which for a bag of a new builder is right."""


class MechanicsError(EvenstackError):
    """A disc, packet or stack is outside what the load formulas cover."""


class CannotBuildError(EvenstackError):
    """The bag cannot give the sets asked for; the problems say which limit binds."""


def together(problems: Iterable[Problem]) -> list[Problem]:
    """Tell like problems on many lines of a file as one, in the place of the first of them."""
    alike: dict[tuple[str | int, ...], list[Problem]] = {}
    for number, one in enumerate(problems):
        at = one.where
        key = (one.kind or one.what, one.remedy, at.file) if isinstance(at, Place) else (number,)
        alike.setdefault(key, []).append(one)
    return [one for group in alike.values() for one in _as_one(group)]


def _as_one(group: list[Problem]) -> list[Problem]:
    """Return one problem for many alike, with all their lines; few are told one by one."""
    places = [one.where for one in group if isinstance(one.where, Place)]
    lines = sorted({place.line for place in places})
    if len(lines) < FEWEST_ALIKE:
        return group
    first = f", {places[0].of} first" if places[0].of and len({p.what for p in group}) > 1 else ""
    return [replace(group[0], where=f"{places[0].file} lines {_spans(lines)}{first}")]


def _spans(lines: Sequence[int]) -> str:
    """Say line numbers: 2 to 5, 7, 9."""
    runs = groupby(enumerate(lines), key=lambda pair: pair[1] - pair[0])
    ends = [[line for _, line in run] for _, run in runs]
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 1 else f"{run[0]}" for run in ends)


def raise_if(problems: Iterable[Problem]) -> None:
    """Raise one InputError with all problems, if there are any."""
    found = tuple(problems)
    if found:
        raise InputError(*found)
