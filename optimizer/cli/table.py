"""Tables for people: drawn on a terminal, plain aligned text in a pipe or a file."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from shutil import get_terminal_size

from optimizer import wrapping

#: a terminal narrower than this gets blocks instead of a drawn table
DRAWN_FROM = 70


def show_text(words: str) -> None:
    """Print a paragraph, wrapped to the width of the terminal."""
    sys.stdout.write(wrapping.plain(words))


def show_blocks(blocks: Iterable[wrapping.Block]) -> None:
    """Print paragraphs and tables."""
    for block in blocks:
        if isinstance(block, str):
            show_text(block)
        else:
            show_table(block.heads, block.rows, block.title)


def show_table(heads: Sequence[str], rows: Sequence[Sequence[str]], title: str = "") -> None:
    """Print a table to standard output; the first column is words, the others numbers."""
    if sys.stdout.isatty() and get_terminal_size().columns >= DRAWN_FROM:
        _drawn(heads, rows, title)
    else:
        sys.stdout.write(wrapping.plain(wrapping.TextTable(heads, rows, title)))


def _drawn(heads: Sequence[str], rows: Sequence[Sequence[str]], title: str) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    drawn = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, collapse_padding=True)
    for k, head in enumerate(heads):
        drawn.add_column(head, justify="right" if k else "left")
    for row in rows:
        drawn.add_row(*row)
    console = Console(highlight=False, markup=False)  # a name may look like markup
    if title:
        console.print("\n".join(wrapping.wrapped(title)))
    console.print(drawn, width=min(console.width, wrapping.FULL))
    console.print()
