"""Read a job file: TOML in, one frozen and checked Job out."""

from __future__ import annotations

from math import radians, sin
from pathlib import Path
from typing import Any, cast

from optimizer.errors import raise_if
from optimizer.io.job.checks import check_job, job_notes
from optimizer.io.job.keys import (
    KEYS,
    SECTIONS,
    SHOE_KEYS,
    TURNING,
    VALUES,
    WORN_EXTRA_MM,
    Key,
    keys_of,
)
from optimizer.io.job.section import Section, either, read_section, unknown_sections
from optimizer.io.job.source import Source, parse_toml
from optimizer.io.job.words import show
from optimizer.io.text import read_text
from optimizer.model.job import Job, Units
from optimizer.model.shoe import Shoe


def read_job(path: Path) -> Job:
    """Read and check a job file.

    Parameters
    ----------
    path
        TOML file; keys as in `optimizer.io.job.keys`. `[bag] file` is taken relative to it.

    Returns
    -------
    Job
        All values in mm, N, MPa and g. `units` is what the file says under `units`,
        else the unit of its travel.

    Raises
    ------
    InputError
        with every problem of the file: place, value and remedy.
    """
    text = read_text(path, "job")
    document = parse_toml(path, text)
    source = Source(path, text)
    unknown_sections(source, document, ("units",))
    clutch = document.get("clutch", {})
    shoe_tables = clutch.pop("shoe", []) if isinstance(clutch, dict) else []
    sections = {
        name: read_section(source, name, keys_of(name), document.get(name, {})) for name in SECTIONS
    }
    shoes = _shoe_sections(source, sections["clutch"], shoe_tables)
    check_job(source, sections, shoes)
    units = _units(source, document.get("units"), shoes)
    raise_if(source.problems)
    tables = len(shoe_tables) if isinstance(shoe_tables, list) else 0
    notes = job_notes(source, sections, shoes, tables)
    values = {name: _values(path.parent, sections[name]) for name in VALUES}
    return Job(
        path=path,
        bag_file=path.parent / sections["bag"]["file"],
        units=units,
        shoes=tuple(_shoe(shoe) for shoe in shoes),
        notes=notes,
        **values,
    )


def _shoe_sections(source: Source, clutch: Section, tables: Any) -> list[Section]:
    """Return one section for each shoe: its own keys over those of [clutch]."""
    count = clutch["shoes"] or 1
    if not isinstance(tables, list):
        source.add(
            "Expected [[clutch.shoe]] once for each shoe, got a single table or value.",
            "Write the heading with two brackets on each side.",
            "clutch.shoe",
        )
        tables = []
    if clutch["shoes"] and len(tables) > count:
        source.add(
            f"Expected at most {count} [[clutch.shoe]] tables, got {len(tables)}.",
            "Correct [clutch] shoes, or delete the tables too many.",
            f"clutch.shoe {count + 1}",
        )
    own = [
        read_section(source, f"clutch.shoe {number}", keys_of("clutch.shoe"), table)
        for number, table in enumerate(tables, 1)
    ]
    shoes = [_merged(clutch, section) for section in own]
    if len(own) < count:
        shoes.append(clutch)  # the others are alike: one stands for all of them
    for shoe in shoes:
        if "travel" not in shoe.written:
            travel = next(key for key in KEYS if key.name == "travel")
            source.add(
                f"Expected {either(travel)}, found none.",
                f"Add it to [clutch]: {travel.meaning}.",
                shoe.name,
            )
            break
    return shoes + [clutch] * (count - len(shoes))


def _merged(clutch: Section, own: Section) -> Section:
    values = {**clutch.values, **{name: own[name] for name in own.written}}
    return Section(own.name, values, {**clutch.written, **own.written})


def _units(source: Source, given: Any, shoes: list[Section]) -> Units:
    if given is not None:
        if given in ("mm", "in"):
            return cast(Units, given)
        source.add(
            f'Expected "mm" or "in" for units, got {show(given)}.',
            'Write units = "mm" or units = "in", or delete it.',
            "",
            "units",
        )
    return "in" if shoes[0].spelled("travel").endswith("_in") else "mm"


def _shoe(section: Section) -> Shoe:
    fields = _fields(section, SHOE_KEYS)
    if section["shoe_type"] in TURNING:  # what throws it out runs from the axis through its centre
        fields["arm_centre_mm"] = section["pivot_radius"] * sin(radians(section["cg_angle"]))
    if fields["worn_travel_mm"] is None:
        fields["worn_travel_mm"] = section["travel"] + WORN_EXTRA_MM
    return Shoe(**fields)


def _fields(section: Section, keys: tuple[Key, ...]) -> dict[str, Any]:
    """Return the values of a section by the fields that they fill."""
    return {key.field: section[key.name] for key in keys}


def _values(folder: Path, section: Section) -> Any:
    """Make the values that a section of a job states; files stand beside the job."""
    kind, given = VALUES[section.name], _fields(section, keys_of(section.name))
    given = {name: folder / v if isinstance(v, Path) else v for name, v in given.items()}
    if hasattr(kind, "written"):  # it matters which of its keys were set
        given["written"] = tuple(section.written)
    return kind(**given)
