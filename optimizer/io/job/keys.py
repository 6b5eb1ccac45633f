"""The keys of a job file, as the fields of the values in `optimizer.model` state them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, dataclass, fields, is_dataclass, replace
from functools import cached_property
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from annotated_types import Interval, Predicate

from optimizer.model.job import Job
from optimizer.model.key import Says, distinct
from optimizer.model.shoe import Shoe
from optimizer.units import TO_INSIDE

#: units in which a value may be written, by the unit inside that its field ends in
WRITTEN = {
    "mm": ("mm", "in"),
    "n": ("n", "lbf"),
    "mpa": ("mpa",),
    "g": ("g",),
    "kg": ("kg", "lb"),
    "kgcm2": ("kgcm2", "lbin2"),
}
#: those that a person who works in inches writes
INCH = {"mm": "in", "n": "lbf", "kg": "lb"}

#: worn travel minus travel when the job does not say; an assumption, not a measurement
WORN_EXTRA_MM = 0.2
#: how a pivoted shoe may turn
TURNING = ("leading", "trailing")
#: the arms of a shoe, of which a job gives all or none
ARMS = ("arm_centre", "arm_stack", "arm_lining")
#: what a pivoted shoe gives beside arm_stack
PIVOT = ("pivot_radius", "cg_angle", "heel_angle", "toe_angle")
#: arms of one shoe further apart than this are a slip of the unit
ARMS_APART = 10.0
#: a drum whose radius is more times that to the centre of gravity of a shoe is one too
DRUM_APART = 5.0


@dataclass(frozen=True)
class Key:
    """One key: where it stands, the field that it fills and what that field states.

    `unit` is the unit inside, empty where there is none; `default` None means that nothing is
    assumed. `hint` is the type of the field with its range.
    """

    section: str
    name: str
    field: str
    unit: str
    hint: Any
    says: Says
    default: Any = None
    required: bool = False

    @property
    def meaning(self) -> str:
        """What the key means."""
        return self.says.meaning

    def spellings(self) -> dict[str, float]:
        """Return each way to write the key, with the factor to the unit used inside."""
        if not self.unit:
            return {self.name: 1.0}
        return {f"{self.name}_{unit}": TO_INSIDE[unit] for unit in WRITTEN[self.unit]}

    def spelled(self, units: str) -> str:
        """Return how somebody who works in mm or in inches writes the key."""
        unit = INCH.get(self.unit, self.unit) if units == "in" else self.unit
        return f"{self.name}_{unit}" if unit else self.name

    def example(self, written: str) -> str:
        """Return what a template shows under a spelling of the key, in TOML."""
        if self.says.example is None:
            return toml(self.default, self.spellings()[written])
        inch = written.removeprefix(f"{self.name}_") in INCH.values()
        return self.says.example[inch]

    @cached_property
    def within(self) -> Interval:
        """The range of the number, or of each number of a list."""
        return next((one for one in _parts(self.hint) if isinstance(one, Interval)), Interval())

    @cached_property
    def choices(self) -> tuple[str, ...]:
        """The words to choose from, where it is one."""
        literals = (one for one in _parts(self.hint) if get_origin(one) is Literal)
        return next(map(get_args, literals), ())

    @cached_property
    def is_list(self) -> bool:
        """Whether several values are given."""
        return any(get_origin(one) is tuple for one in _parts(self.hint))

    @cached_property
    def is_whole(self) -> bool:
        """Whether it takes whole numbers."""
        return int in _parts(self.hint)

    @cached_property
    def is_set(self) -> bool:
        """Whether it takes several values of which no two are alike."""
        return Predicate(distinct) in _parts(self.hint)

    @cached_property
    def is_path(self) -> bool:
        """Whether it names a file."""
        return Path in _parts(self.hint)


def toml(value: Any, factor: float) -> str:
    """Write a value from inside units in TOML, numbers divided by `factor`; None as nothing."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, tuple):
        return f"[{', '.join(toml(item, factor) for item in value)}]"
    if value is None:
        return ""
    shown = f"{value / factor:.4g}"
    return f"{value / factor:.6f}".rstrip("0").rstrip(".") if "e" in shown else shown


@dataclass(frozen=True)
class _Bag:
    file: Annotated[
        Path,
        Says(
            "the measured discs, CSV or XLSX, beside this file",
            example=('"bag.csv"',) * 2,
            is_set=True,
        ),
    ]


@dataclass(frozen=True)
class _Clutch:
    shoes: Annotated[
        int, Interval(ge=2, le=8), Says("how many shoes, each with one stack", is_set=True)
    ] = 3


def _parts(hint: Any) -> list[Any]:
    """List a type, the types that it is made of and what they state."""
    inner = get_args(hint) if get_origin(hint) in (Annotated, Union, UnionType, tuple) else ()
    return [hint, *(part for one in inner for part in _parts(one))]


def _keys(section: str, kind: type) -> Iterator[Key]:
    hints = get_type_hints(kind, include_extras=True)
    for field in fields(kind):
        hint = hints[field.name]
        says = next((one for one in get_args(hint) if isinstance(one, Says)), None)
        if says is None:  # what no file says
            continue
        head, _, tail = field.name.rpartition("_")
        bare, unit = (head, tail) if tail in WRITTEN else (field.name, "")
        lacking = field.default is MISSING
        # what a shoe must have may stand in [clutch] or in a table of its own
        yield Key(
            section, says.key or bare, field.name, unit, hint, says,
            None if lacking else field.default, lacking and kind is not Shoe,
        )  # fmt: skip


#: the values of a job that are a section of its file each
VALUES: dict[str, type] = {
    name: hint
    for name, hint in get_type_hints(Job).items()
    if isinstance(hint, type) and is_dataclass(hint)
}
_PER_SHOE = tuple(_keys("clutch", Shoe))
SHOE_KEYS = tuple(replace(key, section="clutch.shoe", default=None) for key in _PER_SHOE)
KEYS = (
    *_keys("bag", _Bag),
    *_keys("clutch", _Clutch),
    *_PER_SHOE,
    *(key for section, kind in VALUES.items() for key in _keys(section, kind)),
)
SECTIONS = tuple(dict.fromkeys(key.section for key in KEYS))


def keys_of(section: str) -> tuple[Key, ...]:
    """Return the keys of one section; "clutch.shoe" is a section of its own."""
    return SHOE_KEYS if section == "clutch.shoe" else tuple(k for k in KEYS if k.section == section)
