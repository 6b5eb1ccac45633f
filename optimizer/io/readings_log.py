"""Adding readings to a file, one at a time, so that nothing is lost."""

from __future__ import annotations

import csv
import os
from pathlib import Path

from optimizer.errors import InputError
from optimizer.io.files import write_atomic
from optimizer.io.table import separator_of, written_row
from optimizer.model.job import Units
from optimizer.model.readings import Reading
from optimizer.model.stack import stack_words
from optimizer.units import MM_PER_IN, N_PER_LBF

_FIRST = ("round", "shoe", "discs", "kind")
_HEADERS: dict[Units, tuple[str, ...]] = {
    "mm": (*_FIRST, "load_n", "travel_mm", "shims_mm", "rebuilt", "count"),
    "in": (*_FIRST, "load_lbf", "travel_in", "shims_in", "rebuilt", "count"),
}


def header_line(units: Units) -> str:
    """Return the first line of a readings file."""
    return ",".join(_HEADERS[units]) + "\n"


def _cells(reading: Reading, units: Units, load: str | None = None) -> dict[str, str]:
    """One reading by column name; `load` is what was typed, else its value is written."""
    force, length = (N_PER_LBF, MM_PER_IN) if units == "in" else (1.0, 1.0)
    travel = "" if reading.travel_mm is None else f"{reading.travel_mm / length:.6g}"
    shims = "" if reading.shims_mm is None else f"{reading.shims_mm / length:.6g}"
    values = (
        str(reading.round),
        "" if reading.shoe is None else str(reading.shoe),
        stack_words(reading.packs),
        reading.kind,
        f"{reading.load_n / force:.8g}" if load is None else load,
        travel,
        shims,
        "yes" if reading.rebuilt else "",
        "ok" if reading.trust == "insisted" else "",
    )
    return dict(zip(_HEADERS[units], values, strict=True))


def readings_csv(readings: tuple[Reading, ...], units: Units) -> str:
    """Return readings as a file that names every disc."""
    every = (_cells(reading, units).values() for reading in readings)
    return header_line(units) + "".join(map(written_row, every))


def readings_file(plan: Path, number: int) -> Path:
    """Return the readings of a set beside its plan.

    Sets of one plan are other clutches, so each has a file of its own.
    """
    return plan.with_name("readings.csv" if number == 1 else f"readings-{number}.csv")


def has_rows(path: Path) -> bool:
    """Whether there is a readings file with more than a header."""
    try:
        return sum(1 for line in path.read_text(encoding="utf-8-sig").splitlines() if line) > 1
    except OSError:
        return False
    except UnicodeDecodeError:  # whoever reads it says so
        return True


def append(path: Path, reading: Reading, units: Units, load: str) -> None:
    """Add one reading to the end of a file and see it to the disk before returning.

    Raises
    ------
    InputError
        when the file has other columns than this writes, or cannot be written.
    """
    cells = _cells(reading, units, load)
    for name in ("count", "rebuilt", f"shims_{units}"):
        if cells[name]:
            _add_column(path, name)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        old = path.read_text(encoding="utf-8-sig") if path.exists() else ""
        head = old.strip().partition("\n")[0] or header_line(units).strip()
        separator, columns = _columns(head)
        lacking = [name for name, cell in cells.items() if cell and name not in columns]
        if lacking:
            raise InputError(
                f"Expected a column {lacking[0]}, got {head.strip()}.",
                f"{path.name} line 1",
                "Add the column, or give another file with --readings.",
            )
        with path.open("a", encoding="utf-8") as file:
            if not old.strip():
                file.write(head + "\n")
            elif not old.endswith("\n"):
                file.write("\n")
            file.write(written_row((cells.get(name, "") for name in columns), separator))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise InputError(
            f"cannot write ({error.strerror}).", str(path), "Choose another place."
        ) from error


def mark(path: Path, line: int, word: str) -> None:
    """Write a word under count in the row on a line; the row itself stays as it was written.

    `no` makes it void, `ok` insists on it.

    Raises
    ------
    InputError
        when the row does not stand on one line by itself, or the file cannot be written.
    """
    _add_column(path, "count")
    lines = _lines(path)
    separator, columns = _columns(lines[_header_at(lines)])
    body = lines[line - 1].rstrip("\r\n")
    cells = next(csv.reader([body], delimiter=separator), [])
    if not cells or body.count('"') % 2:
        raise InputError(
            "This row cannot be marked.", f"{path.name} line {line}", f"Write {word} under count."
        )
    cells += [""] * (len(columns) - len(cells))
    cells[columns.index("count")] = word
    end = lines[line - 1][len(body) :] or "\n"
    lines[line - 1] = written_row(cells, separator, end)
    write_atomic(path, "".join(lines))


def _add_column(path: Path, name: str) -> None:
    """Give a file that was written without it a column."""
    if not path.exists():
        return
    lines = _lines(path)
    at = _header_at(lines)
    separator, columns = _columns(lines[at])
    if name not in columns:
        head = lines[at].rstrip("\r\n")
        lines[at] = f"{head}{separator}{name}{lines[at][len(head) :]}"
        write_atomic(path, "".join(lines))


def _lines(path: Path) -> list[str]:
    """Lines with their ends, whatever these are."""
    return path.read_bytes().decode("utf-8").splitlines(keepends=True)


def _header_at(lines: list[str]) -> int:
    return next((k for k, line in enumerate(lines) if line.strip("\ufeff\r\n ")), 0)


def _columns(head: str) -> tuple[str, list[str]]:
    """Separator and names of the columns of a header."""
    separator = separator_of(head)
    return separator, [name.strip("\ufeff \r\n").lower() for name in head.split(separator)]
