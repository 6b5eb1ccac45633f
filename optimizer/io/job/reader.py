"""Read a job file: TOML in, one frozen and checked Job out."""

from __future__ import annotations

from math import radians, sin
from pathlib import Path
from typing import Any, cast

from optimizer.errors import raise_if
from optimizer.io.job.checks import check_job, job_notes
from optimizer.io.job.keys import ARMS, KEYS, SECTIONS, TURNING, WORN_EXTRA_MM, keys_of
from optimizer.io.job.section import Section, either, read_section, unknown_sections
from optimizer.io.job.source import Source, parse_toml
from optimizer.io.job.values import show
from optimizer.io.text import read_text
from optimizer.model.job import (
    Datum,
    DiscDefaults,
    Effort,
    Engine,
    Friction,
    Gauge,
    Instrument,
    Job,
    Life,
    Model,
    Shoe,
    StackRules,
    Target,
    Units,
)


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
    return _build(path, units, sections, shoes, notes)


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
    worn = section["worn_travel"]
    arms = {f"{arm}_mm": section[arm] or 1.0 for arm in ARMS}
    if section["shoe_type"] in TURNING:  # what throws it out runs from the axis through its centre
        arms["arm_centre_mm"] = section["pivot_radius"] * sin(radians(section["cg_angle"]))
    return Shoe(
        travel_mm=section["travel"],
        worn_travel_mm=section["travel"] + WORN_EXTRA_MM if worn is None else worn,
        seat_depth_mm=section["seat_depth"],
        mass_g=section["shoe_mass"],
        cg_radius_mm=section["cg_radius"],
        drum_radius_mm=section["drum_radius"],
        friction=section["friction"],
        travel_sd_mm=section["travel_sd"],
        seat_sd_mm=section["seat_sd"],
        stack_radius_mm=section["stack_radius"],
        friction_sd=section["friction_sd"],
        type=section["shoe_type"],
        pivot_radius_mm=section["pivot_radius"],
        cg_angle=section["cg_angle"],
        heel_angle=section["heel_angle"],
        toe_angle=section["toe_angle"],
        pivot_angle=section["pivot_angle"],
        **arms,
    )


def _engine(path: Path, engine: Section) -> Engine:
    fields = {next(iter(key.spellings())): engine[key.name] for key in keys_of("engine")}
    file = fields["torque_file"]
    return Engine(**fields | {"torque_file": None if file is None else path.parent / file})


def _build(
    path: Path,
    units: Units,
    sections: dict[str, Section],
    shoes: list[Section],
    notes: tuple[str, ...],
) -> Job:
    datum, target, stack = sections["datum"], sections["target"], sections["stack"]
    disc, instrument, gauge = sections["disc"], sections["instrument"], sections["gauge"]
    return Job(
        path=path,
        bag_file=path.parent / sections["bag"]["file"],
        units=units,
        shoes=tuple(_shoe(shoe) for shoe in shoes),
        datum=Datum(datum["seating_load"], datum["installed_length"]),
        target=Target(
            target["load"],
            target["engagement_rpm"],
            target["load_tolerance"],
            target["spread_tolerance"],
            target["resolution"],
        ),
        stack=StackRules(
            stack["packet_sizes"],
            stack["discs"],
            stack["free_height"],
            stack["same_pattern"],
            stack["shims"],
            stack["deflection_limit"],
            stack["worn_limit"],
            stack["rest_share"],
            stack["use"],
            stack["leave"],
            stack["together"],
        ),
        disc=DiscDefaults(
            disc["od"],
            disc["id"],
            disc["thickness"],
            disc["cone_height"],
            disc["modulus"],
            disc["poisson"],
            disc["default_flat"],
            disc["hot_c"],
        ),
        instrument=Instrument(
            instrument["thickness_sd"],
            instrument["height_sd"],
            instrument["thickness_resolution"],
            instrument["height_resolution"],
            instrument["flat_sd"],
        ),
        model=Model(**sections["model"].values),
        friction=Friction(**sections["friction"].values),
        gauge=Gauge(
            gauge["resolution"], gauge["repeatability"], gauge["travel_stop"], gauge["reads"]
        ),
        effort=Effort(**sections["effort"].values, written=tuple(sections["effort"].written)),
        engine=_engine(path, sections["engine"]),
        life=Life(*(sections["life"][key.name] for key in keys_of("life"))),
        notes=notes,
    )
