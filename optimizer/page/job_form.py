"""What the form of a clutch asks for, and how its fields are written in the job."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import Any

from optimizer.errors import InputError
from optimizer.io.job.keys import Key
from optimizer.io.numbers import typed_number
from optimizer.model.job import Units
from optimizer.page.job_text import key_named, value_of

_SPOKEN = {"_mm": "mm", "_in": "in", "_n": "N", "_lbf": "lbf", "_g": "g", "": ""}


@dataclass(frozen=True)
class FormQuestion:
    """One thing that the form asks for: a key, its heading, and the usual value to show."""

    section: str
    name: str
    title: str
    usual: tuple[str, str] = ("", "")
    drawn: str = ""

    @property
    def field(self) -> str:
        """Name of its field."""
        return f"{self.section}.{self.name}"

    @property
    def key(self) -> Key:
        """The key of the job."""
        return key_named(self.section, self.name)


#: what the form asks for, group by group; usual values are common practice, no source
GROUPS: tuple[tuple[str, tuple[FormQuestion, ...]], ...] = (
    (
        "Shoes",
        (
            FormQuestion("clutch", "shoes", "How many shoes", ("3", "3")),
            FormQuestion("clutch", "travel", "Travel", ("1.5", "0.060"), "travel"),
            FormQuestion(
                "clutch", "worn_travel", "Travel at the wear limit", ("1.7", "0.068"), "worn"
            ),
        ),
    ),
    (
        "Where the travel begins: one of the two",
        (
            FormQuestion("datum", "seating_load", "Seating load", ("27", "6"), "seat"),
            FormQuestion(
                "datum", "installed_length", "Room of the stack at rest", ("", ""), "room"
            ),
        ),
    ),
    (
        "What every stack should push: one of the first two",
        (
            FormQuestion("target", "load", "Load at the travel", ("890", "200")),
            FormQuestion("target", "engagement_rpm", "Engagement speed, rpm", ("3400", "3400")),
            FormQuestion("target", "spread_tolerance", "Shoes may differ by", ("9", "2")),
            FormQuestion("target", "load_tolerance", "All may be off by", ("22", "5")),
        ),
    ),
    (
        "Discs and shims",
        (
            FormQuestion("disc", "od", "Outside diameter", ("20", "0.787"), "disc"),
            FormQuestion("disc", "id", "Inside diameter", ("10.2", "0.402"), "disc"),
            FormQuestion("stack", "packet_sizes", "Discs nested in a packet", ("1, 2", "1, 2")),
            FormQuestion("stack", "discs", "Fewest and most discs of a stack", ("7, 9", "7, 9")),
            FormQuestion("stack", "shims", "Shims on hand", ("0.1, 0.2", "0.004, 0.008"), "room"),
        ),
    ),
    (
        "How well it is measured",
        (
            FormQuestion("instrument", "thickness_sd", "Thickness is good to", ("0.002", "0.0001")),
            FormQuestion("instrument", "height_sd", "Height is good to", ("0.005", "0.0002")),
            FormQuestion("gauge", "resolution", "Smallest step of the gauge", ("4.4", "1")),
            FormQuestion("gauge", "reads", "Where the gauge presses a stack"),
            FormQuestion("clutch", "travel_sd", "Travel is good to", ("0.02", "0.0008")),
            FormQuestion("clutch", "seat_sd", "Seats are good to", ("0.02", "0.0008")),
        ),
    ),
    (
        "For engagement speeds, if you want them",
        (
            FormQuestion("clutch", "shoe_mass", "Mass of one shoe", ("210", "210")),
            FormQuestion(
                "clutch", "cg_radius", "Its centre of gravity from the axis", ("52", "2.05")
            ),
            FormQuestion("clutch", "drum_radius", "Inside radius of the drum", ("63.5", "2.5")),
            FormQuestion("clutch", "friction", "Friction of lining on drum", ("0.3", "0.3")),
        ),
    ),
)
EVERY = tuple(asking for _, group in GROUPS for asking in group)


def shown(document: dict[str, Any], asking: FormQuestion) -> str:
    """Return the value of a key as it stands in the job, nothing where it is not set."""
    found = value_of(document, asking.section, asking.key)
    if found is None:
        return ""
    value = found[1]
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def unit_of(document: dict[str, Any], asking: FormQuestion, units: Units) -> str:
    """Return the unit in which a value is asked for: that of the file, else of the person."""
    found = value_of(document, asking.section, asking.key)
    return spoken_unit(asking, asking.key.spelled(units) if found is None else found[0])


def spoken_unit(asking: FormQuestion, key: str) -> str:
    """Return the unit that a key of the file ends in, as it is said."""
    return _SPOKEN.get(key.removeprefix(asking.name), "")


def toml_of(asking: FormQuestion, typed: str) -> str | None:
    """Return a value in TOML; None where nothing was typed.

    Raises
    ------
    InputError
        where it is no number, no list of them, or none of the words to choose from.
    """
    if not typed:
        return None
    if asking.key.choices:
        if typed not in asking.key.choices:
            raise InputError(f"{asking.title}: {typed} is none of the words to choose from.")
        return f'"{typed}"'
    whole, several = asking.key.is_whole, asking.key.is_list
    parts = typed.replace(";", " ").split() if several else [typed]
    if several:
        parts = [part.strip(",") for part in parts if part.strip(",")]
        parts = [p for part in parts for p in ([part] if not whole else part.split(","))]
    numbers = []
    for part in parts:
        value = typed_number(part, where=asking.title)
        plain = part.replace(",", ".")
        numbers.append(str(int(value)) if whole and value == int(value) else _number(plain, value))
    return f"[{', '.join(numbers)}]" if several else numbers[0]


def _number(plain: str, value: float) -> str:
    """Write a number as typed where TOML reads it so, else as it is meant."""
    try:
        return plain if tomllib.loads(f"x = {plain}")["x"] == value else repr(value)
    except tomllib.TOMLDecodeError:
        return repr(value)
