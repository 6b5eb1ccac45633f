"""The workbook of a plan: readings form, stacks, loads, and where each disc of the bag went.

The readings come first, because the first page is what `evenstack` reads of a workbook; it
opens on the stacks.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from io import BytesIO
from typing import TYPE_CHECKING
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from optimizer import text
from optimizer.match.workspace import Workspace
from optimizer.model.plan import Plan, PlanStack
from optimizer.report.facts import set_facts
from optimizer.report.figures import Figures
from optimizer.report.shoe import believable_n
from optimizer.report.workbook_style import Cell, Sheet, write
from optimizer.units import MM_PER_IN, N_PER_LBF

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


def workbook(plan: Plan, work: Workspace, day: date) -> bytes:
    """Write the workbook of a plan made from `work`, dated `day`, in the user's units."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    pages = (_readings(plan, work), _stacks(plan, work), _loads(plan), _bag(plan, work))
    made = [write(book, page, work.job.path.name) for page in (*pages, _about(plan, work, day))]
    _mark_slips(*made[0], plan.units)
    book.active = 1
    book.properties.creator = "evenstack"
    book.properties.created = datetime.combine(day, time())
    stream = BytesIO()
    book.save(stream)
    return _filled(stream, [rows for _, rows in made], day)


def _filled(stream: BytesIO, rows: Sequence[Sequence[str]], day: date) -> bytes:
    """The workbook with its rows, its times those of the day: one plan gives one file."""
    stamp = f"{day.isoformat()}T00:00:00Z".encode()
    packed = BytesIO()
    with ZipFile(stream) as old, ZipFile(packed, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", stamp, data)
            sheet = re.fullmatch(r"xl/worksheets/sheet(\d+)\.xml", name)
            if sheet is not None:
                of_sheet = rows[int(sheet[1]) - 1]
                last = b"%d" % (len(of_sheet) + 1)
                data = re.sub(rb'(?<=<dimension ref="A1:)([A-Z]+)1(?=")', rb"\g<1>" + last, data)
                data = data.replace(b"</sheetData>", "".join(of_sheet).encode() + b"</sheetData>")
            entry = ZipInfo(name, (day.year, day.month, day.day, 0, 0, 0))
            entry.compress_type = ZIP_DEFLATED
            new.writestr(entry, data)
    return packed.getvalue()


def _readings(plan: Plan, work: Workspace) -> Sheet:
    """One row for each reading of the first rounds of every set, loads to be filled in."""
    unit = Figures(plan.units).load_unit.lower()
    heads = ("set", "round", "shoe", "discs", "kind", f"load_{unit}")

    def rows() -> Iterator[Sequence[Cell]]:
        for number, one in enumerate(plan.sets, 1):
            ranges = believable_n(set_facts(one, work))
            for stack, likely in zip(one.stacks, ranges, strict=True):
                discs = " ".join(text.packet(p) for p in stack.packets)
                bounds = _forces(likely, plan.units)
                for kind in ("first", "settled"):
                    yield (number, 1, stack.shoe, discs, kind, None, *bounds)

    return Sheet("Readings", (*heads, f"likely_from_{unit}", f"likely_to_{unit}"), rows())


def _mark_slips(sheet: Worksheet, rows: Sequence[str], units: str) -> None:
    """Ask about a load beyond belief when it is typed, and colour it where it was pasted."""
    from openpyxl.formatting.rule import Rule
    from openpyxl.styles import PatternFill
    from openpyxl.styles.differential import DifferentialStyle
    from openpyxl.worksheet.datavalidation import DataValidation

    last = len(rows) + 1
    unit = Figures(units).load_unit
    asked = DataValidation(
        type="decimal", operator="between", formula1="$G2", formula2="$H2", allow_blank=True,
        errorStyle="warning", errorTitle="A slip?",
        error=f"A load in {unit} between the two to the right is to be expected: look at decimal "
        "point, unit and shoe.",
    )  # fmt: skip
    sheet.add_data_validation(asked)
    asked.add(f"F2:F{last}")
    wrong = 'AND($F2<>"",OR(NOT(ISNUMBER($F2)),$F2<$G2,$F2>$H2))'
    marked = DifferentialStyle(fill=PatternFill("solid", bgColor="FFF0C0A0"))
    rule = Rule(type="expression", dxf=marked, formula=[wrong])
    sheet.conditional_formatting.add(f"F2:F{last}", rule)


def _stacks(plan: Plan, work: Workspace) -> Sheet:
    discs = {disc.name: disc for disc in work.bag.discs}
    heads = ("set", "shoe", "packet", "place", "disc", "outer edge", *_measures(plan.units))

    def rows() -> Iterator[Sequence[Cell]]:
        for place in _places(plan):
            disc = discs[place.disc]
            facing = "down" if place.packet % 2 else "up"
            yield (
                place.set, place.shoe, place.packet, place.place, place.disc, facing,
                *_lengths((disc.thickness_mm, disc.cone_height_mm, disc.flat_mm), plan.units),
            )  # fmt: skip

    return Sheet("Stacks", heads, rows())


def _measures(units: str) -> tuple[str, ...]:
    return tuple(f"{name}_{units}" for name in ("thickness", "cone_height", "flat"))


def _loads(plan: Plan) -> Sheet:
    figures = Figures(plan.units)
    length, load = figures.length_unit, figures.load_unit.lower()
    most = max(len(stack.shims_mm) for one in plan.sets for stack in one.stacks)
    heads = (
        "set", "shoe", "pattern", f"shims_{length}",
        *(f"shim {k}_{length}" for k in range(1, most + 1)), f"free_height_{length}",
        *(f"{name}_{load}" for name in ("target", "rest", "working", "working_sd", "worn")),
        f"rate_{load}_per_{length}", "deflection share",
    )  # fmt: skip
    per = MM_PER_IN / N_PER_LBF if plan.units == "in" else 1.0

    def row(number: int, s: PlanStack) -> Sequence[Cell]:
        shims = (*_lengths(s.shims_mm, plan.units), *(None,) * (most - len(s.shims_mm)))
        loads = (
            s.target_load_n, s.rest_load_n, s.working_load_n, s.working_load_sd_n, s.worn_load_n,
        )  # fmt: skip
        return (
            number, s.shoe, s.pattern, *_lengths((sum(s.shims_mm),), plan.units), *shims,
            *_lengths((s.free_height_mm,), plan.units), *_forces(loads, plan.units),
            round(s.rate_n_per_mm * per, 1), round(s.max_deflection_share, 3),
        )  # fmt: skip

    rows = (row(number, s) for number, one in enumerate(plan.sets, 1) for s in one.stacks)
    return Sheet("Loads", heads, rows)


def _bag(plan: Plan, work: Workspace) -> Sheet:
    """Every disc with its measures, spelled as a bag file is, and where it went."""
    units = plan.units
    heads = (
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

    return Sheet("Bag", heads, rows())


def _about(plan: Plan, work: Workspace, day: date) -> Sheet:
    rows: list[Sequence[Cell]] = [
        ("job", None, work.job.path.name),
        ("bag", None, work.bag.path.name),
        ("date", None, day.isoformat()),
        ("seed", None, plan.seed),
        ("evenstack", None, plan.version),
    ]
    tolerance = text.load(plan.spread_tolerance_n, plan.units)
    for number, one in enumerate(plan.sets, 1):
        rows.append(("spread, predicted", number, text.load(one.spread_n, plan.units, 2)))
        if one.chance_within_tolerance is not None:
            chance = text.percent(one.chance_within_tolerance)
            rows.append((f"chance of a spread within {tolerance}", number, chance))
    rows += [("note", None, warning) for warning in plan.warnings]
    return Sheet("About", ("what", "set", "value"), rows)


@dataclass(frozen=True)
class _Placed:
    """Where a disc stands; packets count from the bottom, places within the whole stack."""

    disc: str
    set: int
    shoe: int
    packet: int
    place: int


def _places(plan: Plan) -> Iterator[_Placed]:
    for number, one in enumerate(plan.sets, 1):
        for stack in one.stacks:
            place = 0
            for packet, names in enumerate(stack.packets, 1):
                for name in names:
                    place += 1
                    yield _Placed(name, number, stack.shoe, packet, place)


def _lengths(mm: Sequence[float], units: str) -> tuple[float, ...]:
    """Lengths as numbers in the user's unit, to the digits a caliper or micrometer shows."""
    if units == "in":
        return tuple(round(value / MM_PER_IN, 5) for value in mm)
    return tuple(round(value, 4) for value in mm)


def _forces(newtons: Sequence[float], units: str) -> tuple[float, ...]:
    """Loads as numbers in the user's unit."""
    return tuple(round(value / (N_PER_LBF if units == "in" else 1.0), 2) for value in newtons)
