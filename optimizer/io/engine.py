"""Read an engine's torque curve: a table of speed and torque in, one checked curve out."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from optimizer.errors import Problem, raise_if
from optimizer.io.columns import Field, Schema
from optimizer.io.table import read_table
from optimizer.model.running import TorqueCurve

FEWEST, FASTEST_RPM, MOST_NM = 3, 50_000.0, 5_000.0
#: no engine with a centrifugal clutch ends below (common practice, no source)
LEAST_TOP_RPM = 1_000.0

_TORQUE = Schema(
    "a torque curve",
    (
        Field("rpm", needed=True),
        Field(
            "torque",
            units=("nm", "lbft"),
            needed=True,
            remedy="Add the column, or give yours that name; of a power it is 9549 kW / rpm in N m "
            "or 5252 hp / rpm in lbf ft.",
        ),
    ),
)


def read_engine(path: Path) -> TorqueCurve:
    """Read full-throttle torque against speed from CSV or XLSX.

    Columns `rpm` and `torque_nm` or `torque_lbft`, a row a speed, speeds rising.

    Raises
    ------
    InputError
        with every problem of the file: place, value and remedy.
    """
    table = read_table(path, "torque curve")
    header = _TORQUE.read(f"{path.name} line {table.header.line}", table.header.cells)
    raise_if(header.problems)
    problems: list[Problem] = []
    rows: list[tuple[float, float]] = []
    for row in table.rows:
        place = f"{path.name} line {row.line}"
        found = [header.columns[name].number(row, place) for name in ("rpm", "torque")]
        problems += [value for value in found if isinstance(value, Problem)]
        speed, torque = found
        if isinstance(speed, Problem) or isinstance(torque, Problem):
            continue
        if not 0 < speed <= FASTEST_RPM:
            said = f"Expected a speed from 0 to {FASTEST_RPM:.0f} rpm, got {speed:g}."
            problems.append(Problem(said, place, "Correct the cell."))
        if not 0 <= torque <= MOST_NM:
            said = f"Expected a torque from 0 to {MOST_NM:.0f} N m, got {torque:.6g} N m."
            problems.append(Problem(said, place, "Give it as measured at full throttle."))
        if rows and speed <= rows[-1][0]:
            said = f"Expected speeds that rise, got {speed:g} rpm after {rows[-1][0]:g}."
            problems.append(Problem(said, place, "Sort the rows; give each speed once."))
        rows.append((speed, torque))
    if not problems and len(rows) < FEWEST:
        said = f"Expected at least {FEWEST} speeds, got {len(rows)}."
        problems.append(Problem(said, path.name, "Give the curve from idle to the highest speed."))
    if not problems and rows[-1][0] < LEAST_TOP_RPM:
        said = f"Expected speeds up to the engine's highest, got {rows[-1][0]:g} rpm at most."
        remedy = "Write them in rpm: 3500, not 3.5."
        problems.append(Problem(said, f"{path.name} line {table.rows[-1].line}", remedy))
    if not problems and not any(a + b for (_, a), (_, b) in pairwise(rows)):
        problems.append(Problem("Expected a torque above 0, got none.", path.name, "Correct it."))
    raise_if(problems)
    speeds, torques = zip(*rows, strict=True)
    return TorqueCurve(speeds, torques)
