"""Tables for people: drawn on a terminal, plain aligned text in a pipe or a file."""

from __future__ import annotations

import sys
from collections.abc import Sequence

#: what the widest table must fit into
WIDTH = 80


def show_text(words: str) -> None:
    """Print a paragraph, wrapped to the width of the tables."""
    from textwrap import fill

    sys.stdout.write(fill(words, WIDTH, break_on_hyphens=False) + "\n")


def show_table(heads: Sequence[str], rows: Sequence[Sequence[str]], title: str = "") -> None:
    """Print a table to standard output; the first column is words, the others numbers."""
    if sys.stdout.isatty():
        _drawn(heads, rows, title)
    else:
        sys.stdout.write(plain(heads, rows, title))


def plain(heads: Sequence[str], rows: Sequence[Sequence[str]], title: str = "") -> str:
    """Return a table as text, columns two blanks apart."""
    lines = [heads, *rows]
    widths = [max(len(line[k]) for line in lines) for k in range(len(heads))]
    shown = [
        "  ".join(
            cell.rjust(width) if k else cell.ljust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    ]
    return "\n".join([*([title] if title else []), *shown]) + "\n\n"


def _drawn(heads: Sequence[str], rows: Sequence[Sequence[str]], title: str) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    drawn = Table(
        box=box.SIMPLE_HEAD,
        show_edge=False,
        pad_edge=False,
        collapse_padding=True,
    )
    for k, head in enumerate(heads):
        drawn.add_column(head, justify="right" if k else "left")
    for row in rows:
        drawn.add_row(*row)
    console = Console(highlight=False, markup=False)  # a name may look like markup
    if title:
        console.print(title)
    console.print(drawn, width=min(console.width, WIDTH))
    console.print()
