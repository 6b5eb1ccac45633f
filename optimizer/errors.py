"""What can be wrong with what a user gave us, and how it is said.

A problem names the place, the value and the remedy. All problems of a file are
raised together, so that one run shows everything there is to mend.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

#: problems shown of many, letters of a value and of one sentence
MOST_SHOWN, LONGEST_VALUE, LONGEST = 20, 80, 400


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
class Problem:
    """One thing to mend: `what` is wrong, `where` it stands, and the `remedy`."""

    what: str
    where: str = ""
    remedy: str = ""

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

    def shown(self) -> tuple[Problem, ...]:
        """Return the first problems, each cut to what a terminal can show."""
        return tuple(
            Problem(cut(p.what, LONGEST), cut(p.where, LONGEST), cut(p.remedy, LONGEST))
            for p in self.problems[:MOST_SHOWN]
        )

    def lines(self) -> list[str]:
        """Say the first problems, a line each, and count the rest."""
        left = len(self.problems) - MOST_SHOWN
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


def raise_if(problems: Iterable[Problem]) -> None:
    """Raise one InputError with all problems, if there are any."""
    found = tuple(problems)
    if found:
        raise InputError(*found)
