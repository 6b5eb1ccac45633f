"""Paragraphs and tables that fit the columns there are."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from textwrap import wrap

#: columns of text; narrower on a narrow terminal
FULL, NARROW = 80, 40
HARD = "\N{NO-BREAK SPACE}"
_COLUMNS: ContextVar[int] = ContextVar("columns", default=FULL)


@contextmanager
def columns(wide: int) -> Iterator[None]:
    """Write text of so many columns for a while, no wider than 80."""
    token = _COLUMNS.set(min(max(wide, NARROW), FULL))
    try:
        yield
    finally:
        _COLUMNS.reset(token)


def width() -> int:
    """Return the columns of text there are."""
    return _COLUMNS.get()


def wrapped(words: str, indent: str = "", hang: str | None = None) -> list[str]:
    """Break a paragraph into lines, never inside a word; later lines hang as the first if None."""
    return wrap(
        words,
        _COLUMNS.get(),
        initial_indent=indent,
        subsequent_indent=indent if hang is None else hang,
        break_on_hyphens=False,
        break_long_words=False,
    )


def paragraphs(many: Iterable[str], indent: str = "", hang: str | None = None) -> list[str]:
    """Break paragraphs into lines, each as in `wrapped`; an empty one is an empty line."""
    return [line for words in many for line in wrapped(words, indent, hang) or [""]]


def wrapped_path(words: str) -> list[str]:
    """Break words with a path in them into lines, between words and between folders."""
    lines = [""]
    for part in re.split(r"(?<=[ /\\])", words):
        if lines[-1] and len(lines[-1] + part.rstrip()) > _COLUMNS.get():
            lines.append("  ")
        lines[-1] += part
    return [line.rstrip() for line in lines]


def hung(many: Iterable[str]) -> str:
    """Return paragraphs as text, what is left of each hanging below it."""
    return "\n".join(paragraphs(many, hang="    ")) + "\n"


@dataclass(frozen=True)
class TextTable:
    """A table for people: its heads, rows of as many cells, and what stands above it."""

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]
    title: str = ""


#: a table, or a paragraph to be broken into lines
Block = TextTable | str


def plain(block: Block, hang: str | None = None) -> str:
    """Return a paragraph, or a table under its title, as text."""
    if isinstance(block, str):
        return "\n".join(wrapped(block, hang=hang)) + "\n"
    return "\n".join([*wrapped(block.title), *table(block.heads, block.rows)]) + "\n\n"


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Write rows under their heads, columns two blanks apart: words left, then numbers right.

    Where that is too wide every row becomes a paragraph, each cell behind its head.
    """
    every = [heads, *rows]
    widths = [max(len(line[k]) for line in every) for k in range(len(heads))]
    if sum(widths) + 2 * len(widths) - 2 > _COLUMNS.get():
        return [line for row in rows for line in _paragraph(heads, row)]
    return [
        "  ".join(
            cell.rjust(width) if k else cell.ljust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in every
    ]


def _paragraph(heads: Sequence[str], row: Sequence[str]) -> list[str]:
    """Write a row as words; a short cell is not parted from its head."""
    first, *others = (f"{head} {cell}".strip() for head, cell in zip(heads, row, strict=True))
    kept = [o.replace(" ", HARD) if len(o) < _COLUMNS.get() // 2 else o for o in others]
    return [line.replace(HARD, " ") for line in wrapped(f"{first}: {', '.join(kept)}", hang="    ")]
