"""A table that was brought: how it is read so far, and what was agreed of earlier ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from optimizer.errors import EvenstackError, InputError
from optimizer.io.bag.columns import BAG
from optimizer.io.bag.guess import guess
from optimizer.io.bag.layout import Layout, laid_out, plain, table_of_layout
from optimizer.io.columns import normal_heading
from optimizer.io.documents import read_own, write_own
from optimizer.io.table import MOST_COLUMNS, Table, TableRow, possible_rows, read_table
from optimizer.model.job import Units

SCHEMA = "evenstack.columns/1"
#: headings of all tables of a folder that are remembered, and bytes of their file
MOST_KEPT, MOST_BYTES = 300, 200_000
KINDS = (".csv", ".txt", ".tsv", ".xlsx", ".xlsm")


@dataclass(frozen=True)
class Brought:
    """A table that was brought, its rows, and how they are read.

    `plainly` tells that it has the columns of a bag already; `kept` are lines of rows that are
    discs though they look like none; `everywhere` is what holds for every disc, by heading.
    `agreed` tells that a person has said so; `pasted` is the text where it was pasted.
    """

    name: str
    rows: Sequence[TableRow]
    layout: Layout
    plainly: Table | None
    kept: frozenset[int] = frozenset()
    everywhere: Mapping[str, str] = field(default_factory=dict)
    agreed: bool = False
    pasted: str = ""

    def table(self, names: Iterator[str]) -> Table:
        """Return it as a table of a bag; `names` are for discs of a table without names."""
        if self.plainly is not None:
            return self.plainly
        return table_of_layout(self.layout, self.everywhere, lambda: next(names))

    def read_so(
        self, headings: Sequence[str], kept: frozenset[int], everywhere: Mapping[str, str]
    ) -> Brought:
        """Return it read as a person says.

        Raises
        ------
        InputError
            where a column is none of a bag, or two hold the same.
        """
        known = {heading for one in BAG.fields for heading in one.headings}
        used = [heading for heading in headings if heading]
        if len(headings) != len(self.layout.headings) or not known.issuperset(used):
            raise InputError("This form cannot be read; bring the table again.")
        layout = laid_out(self.rows, self.layout.header.line, headings, kept)
        if len(layout.fields) < len(used):
            raise InputError("Two columns are said to hold the same: let one of them not be used.")
        return Brought(self.name, self.rows, layout, None, kept, everywhere, True, self.pasted)


def read_brought(name: str, data: bytes, units: Units, earlier: Mapping[str, str]) -> Brought:
    """Read a table from bytes; no name that a browser gives becomes a path.

    Raises
    ------
    InputError
        where it is no table, or none of discs.
    """
    kind = Path(name).suffix.lower()
    if kind not in KINDS:
        raise InputError(f"Expected CSV or XLSX, got {kind or name}.", name)
    with TemporaryDirectory() as place:
        path = Path(place) / f"table{kind}"
        path.write_bytes(data)
        try:
            layout, rows = guess(possible_rows(path, "bag"), units, earlier)
        except EvenstackError as error:
            told = (
                replace(p, where=str(p.where).replace(str(path), name).replace(path.name, name))
                for p in error.problems
            )
            raise InputError(*told) from None
        plainly = _plainly(path, layout)
    if len(layout.headings) > MOST_COLUMNS:
        raise InputError(f"Expected at most {MOST_COLUMNS} columns, got more.", name)
    return Brought(name, rows, layout, plainly)


def _plainly(path: Path, layout: Layout) -> Table | None:
    """Return a table that can be read as it is, with nothing to be agreed to."""
    try:
        table = read_table(path, "bag")
    except EvenstackError:
        return None
    found = BAG.read("", table.header.cells, ("od", "id"))
    cells = zip(layout.headings, layout.header.cells, strict=True)
    same = all(normal_heading(cell) == heading for heading, cell in cells)
    return table if not (found.problems or layout.left) and same else None


@dataclass(frozen=True)
class _Kept:
    columns: dict[str, str]


def agreed(folder: Path) -> dict[str, str]:
    """Return what columns of earlier tables hold, by plain heading; none where none were kept."""
    kept = read_own(columns_path(folder), _Kept, SCHEMA, MOST_BYTES)
    return kept.columns if kept else {}


def keep_agreed(folder: Path, brought: Brought) -> None:
    """Keep what the columns of a table hold, where its headings alone do not say so."""
    pairs = zip(brought.layout.header.cells, brought.layout.headings, strict=True)
    new = {plain(cell): heading for cell, heading in pairs if plain(cell)}
    if brought.plainly is not None or all(plain(h) == cell for cell, h in new.items()):
        return
    kept = {**agreed(folder), **new}
    write_own(columns_path(folder), SCHEMA, _Kept(dict(list(kept.items())[-MOST_KEPT:])), indent=1)


def columns_path(folder: Path) -> Path:
    """Return where it is kept what the columns of tables hold."""
    return folder / "columns.json"
