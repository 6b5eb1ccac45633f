"""The workbook of a plan: readings form, stacks, loads, and where each disc of the bag went.

The readings come first, because the first page is what `evenstack` reads of a workbook; it
opens on the stacks.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from io import BytesIO
from typing import TYPE_CHECKING
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from optimizer import text
from optimizer.match.workspace import Workspace
from optimizer.model.plan import Plan
from optimizer.report.figures import Figures
from optimizer.units import MM_PER_IN, N_PER_LBF

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

Cell = str | float | int | None


def harmless(words: str) -> str:
    """Return a user's text with spaces for control characters, which a workbook cannot hold."""
    return "".join(c if c.isprintable() else " " for c in words)


@dataclass(frozen=True)
class _Page:
    title: str
    header: Sequence[str]
    rows: Iterable[Sequence[Cell]]


def workbook(plan: Plan, work: Workspace, day: date) -> bytes:
    """Write the workbook of a plan made from `work`, dated `day`, in the user's units."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    for page in (
        _readings(plan),
        _stacks(plan, work),
        _loads(plan),
        _bag(plan, work),
        _about(plan, work, day),
    ):
        _write(book, page)
    book.active = 1
    book.properties.creator = "evenstack"
    book.properties.created = datetime.combine(day, time())
    stream = BytesIO()
    book.save(stream)
    return _without_clock(stream, day)


def _without_clock(stream: BytesIO, day: date) -> bytes:
    """The same workbook, its times those of the day: one plan gives one file."""
    stamp = f"{day.isoformat()}T00:00:00Z".encode()
    packed = BytesIO()
    with ZipFile(stream) as old, ZipFile(packed, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", stamp, data)
            entry = ZipInfo(name, (day.year, day.month, day.day, 0, 0, 0))
            entry.compress_type = ZIP_DEFLATED
            new.writestr(entry, data)
    return packed.getvalue()


def _write(book: Workbook, page: _Page) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    sheet = book.create_sheet(page.title)
    widest = [len(name) for name in page.header]
    sheet.append(list(page.header))
    for row in page.rows:
        sheet.append([harmless(cell) if isinstance(cell, str) else cell for cell in row])
        for cell in sheet[sheet.max_row]:
            if isinstance(cell.value, str):  # text stays text, also where it begins like a formula
                cell.data_type = "s"
                cell.quotePrefix = True
        widest = [max(w, len(str(cell))) for w, cell in zip(widest, row, strict=True)]
    for cell in sheet[1]:
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
    for column, width in enumerate(widest, 1):
        sheet.column_dimensions[get_column_letter(column)].width = min(width + 2, 60)
    sheet.freeze_panes = "A2"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _readings(plan: Plan) -> _Page:
    """One row for each reading of the first round, loads to be filled in."""
    rows = [
        (1, stack.shoe, " ".join(text.packet(p) for p in stack.packets), kind, None)
        for stack in plan.sets[0].stacks
        for kind in ("first", "settled")
    ]
    unit = Figures(plan.units).load_unit.lower()
    return _Page("Readings", ("round", "shoe", "discs", "kind", f"load_{unit}"), rows)


def _stacks(plan: Plan, work: Workspace) -> _Page:
    discs = {disc.name: disc for disc in work.bag.discs}
    header = ("set", "shoe", "packet", "place", "disc", "outer edge", *_measures(plan.units))

    def rows() -> Iterator[Sequence[Cell]]:
        for place in _places(plan):
            disc = discs[place.disc]
            facing = "down" if place.packet % 2 else "up"
            yield (
                place.set, place.shoe, place.packet, place.place, place.disc, facing,
                *_lengths((disc.thickness_mm, disc.cone_height_mm, disc.flat_mm), plan.units),
            )  # fmt: skip

    return _Page("Stacks", header, rows())


def _measures(units: str) -> tuple[str, ...]:
    return tuple(f"{name}_{units}" for name in ("thickness", "cone_height", "flat"))


def _loads(plan: Plan) -> _Page:
    figures = Figures(plan.units)
    length, load = figures.length_unit, figures.load_unit.lower()
    header = (
        "set", "shoe", "pattern", f"shims_{length}", f"free_height_{length}", f"target_{load}",
        f"rest_{load}", f"working_{load}", f"working_sd_{load}", f"worn_{load}",
        f"rate_{load}_per_{length}", "deflection share",
    )  # fmt: skip
    strong = N_PER_LBF if plan.units == "in" else 1.0
    long = MM_PER_IN if plan.units == "in" else 1.0
    rows: list[Sequence[Cell]] = [
        (
            number, s.shoe, s.pattern, ", ".join(figures.length(shim) for shim in s.shims_mm),
            *_lengths((s.free_height_mm,), plan.units),
            *(
                round(newtons / strong, 2)
                for newtons in (
                    s.target_load_n, s.rest_load_n, s.working_load_n, s.working_load_sd_n,
                    s.worn_load_n,
                )
            ),
            round(s.rate_n_per_mm * long / strong, 1), round(s.max_deflection_share, 3),
        )
        for number, one in enumerate(plan.sets, 1)
        for s in one.stacks
    ]  # fmt: skip
    return _Page("Loads", header, rows)


def _bag(plan: Plan, work: Workspace) -> _Page:
    """Every disc with its measures, spelled as a bag file is, and where it went."""
    units = plan.units
    header = (
        "disc", *(f"{name}_{units}" for name in ("od", "id")), *_measures(units)[:2], "edge",
        _measures(units)[2], "lot", "note", "went to", "set", "shoe", "packet",
    )  # fmt: skip
    went = {place.disc: place for place in _places(plan)}

    def rows() -> Iterator[Sequence[Cell]]:
        for d in work.bag.discs:
            place = went.get(d.name)
            measures = (d.od_mm, d.id_mm, d.thickness_mm, d.cone_height_mm, d.flat_mm)
            od, bore, t, h, flat = _lengths(measures, units)
            home: tuple[Cell, ...] = ("bag", None, None, None)
            if place is not None:
                home = (f"shoe {place.shoe}", place.set, place.shoe, place.packet)
            yield (d.name, od, bore, t, h, d.edge, flat, d.lot, d.note, *home)

    return _Page("Bag", header, rows())


def _about(plan: Plan, work: Workspace, day: date) -> _Page:
    rows: list[Sequence[Cell]] = [
        ("job", work.job.path.name),
        ("bag", work.bag.path.name),
        ("date", day.isoformat()),
        ("seed", plan.seed),
        ("evenstack", plan.version),
    ]
    for number, one in enumerate(plan.sets, 1):
        rows.append((f"spread of set {number}, predicted", text.load(one.spread_n, plan.units, 2)))
        if one.odds_within_tolerance is not None:
            tolerance = text.load(plan.spread_tolerance_n, plan.units)
            rows.append(
                (f"chance of a spread within {tolerance}", text.share(one.odds_within_tolerance))
            )
    rows += [("note", warning) for warning in plan.warnings]
    return _Page("About", ("what", "value"), rows)


@dataclass(frozen=True)
class _Place:
    """Where a disc stands; packets count from the bottom, places within the whole stack."""

    disc: str
    set: int
    shoe: int
    packet: int
    place: int


def _places(plan: Plan) -> Iterator[_Place]:
    for number, one in enumerate(plan.sets, 1):
        for stack in one.stacks:
            place = 0
            for packet, names in enumerate(stack.packets, 1):
                for name in names:
                    place += 1
                    yield _Place(name, number, stack.shoe, packet, place)


def _lengths(mm: Sequence[float], units: str) -> tuple[float, ...]:
    """Lengths as numbers in the user's unit, to the digits a caliper or micrometer shows."""
    if units == "in":
        return tuple(round(value / MM_PER_IN, 5) for value in mm)
    return tuple(round(value, 4) for value in mm)
