"""A plan as JSON text and back."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import asdict
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from optimizer.errors import InputError, Problem, cut, raise_if
from optimizer.io.files import write_atomic
from optimizer.io.numbers import GREATEST
from optimizer.model.plan import SCHEMA, Plan, PlanSet

if TYPE_CHECKING:
    from pydantic import TypeAdapter

DIGITS = 6
#: larger documents than this were not written here
MOST_BYTES = 50_000_000
#: thicker shims than this are none
MOST_SHIM_MM = 50.0

#: keys of chances as older plans have them
_WAS = re.compile(r'"odds_(within_tolerance|on_target|on_gauge|known|now|then)":')

T = TypeVar("T")
_ADAPTERS: dict[object, Any] = {}


def to_json(plan: Any) -> str:
    """Write a plan, or another frozen document, as JSON text, numbers to six decimals."""
    return document(asdict(plan))


def document(value: dict[str, Any], digits: int = DIGITS, gaps: bool = False) -> str:
    """Write any JSON document for users, numbers rounded, arrays as lists.

    Where there may be `gaps` a number that is not finite is written as null.

    Raises
    ------
    ValueError
        for a number that is not finite, elsewhere.
    """
    return written(plain(value, digits, gaps))


def plain(value: dict[str, Any], digits: int = DIGITS, gaps: bool = False) -> dict[str, Any]:
    """Return what `document` writes: numbers rounded, arrays as lists."""
    return {name: _rounded(item, digits, gaps) for name, item in value.items()}


def written(values: dict[str, Any]) -> str:
    """Write plain values as a JSON document for users."""
    return json.dumps(values, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def write_own(path: Path, schema: str, value: Any, indent: int | None = None) -> None:
    """Write a value of a frozen kind as a document that `read_own` or `read_document` reads.

    Raises
    ------
    InputError
        when it cannot be written.
    """
    said = json.dumps({"schema": schema, **asdict(value)}, indent=indent, ensure_ascii=False)
    write_atomic(path, said + "\n")


def read_plan(path: Path) -> Plan:
    """Read a plan file.

    Raises
    ------
    InputError
        as in `read_document`, and where a set holds a disc twice, a shoe twice or not at all,
        or what is no packet or shim.
    """
    remedy = "Give a plan.json that `evenstack match JOB --out DIR` wrote."
    plan = read_document(path, Plan, SCHEMA, remedy)
    raise_if(
        Problem(what, f"{path}, set {number}", remedy)
        for number, one in enumerate(plan.sets, 1)
        for what in _unsound(one)
    )
    return plan


def adapter(kind: type[T]) -> TypeAdapter[T]:
    """Return what validates values of a kind; made once, for that takes longer than its use."""
    from pydantic import TypeAdapter

    made: TypeAdapter[T] = _ADAPTERS.get(kind) or TypeAdapter(kind)
    _ADAPTERS[kind] = made
    return made


def read_document(path: Path, kind: type[T], schema: str, remedy: str) -> T:
    """Read a JSON document that the program wrote, validated whole, as a value of a kind.

    Raises
    ------
    InputError
        when the file is missing, is not JSON, is too large, is not of the schema, or where a
        value is missing or of another kind than it should be: the first of them by its place.
    """
    from pydantic import ValidationError

    def refuse(what: str, where: str = "") -> InputError:
        return InputError(what, f"{path}, {where}" if where else str(path), remedy)

    try:
        if path.stat().st_size > MOST_BYTES:
            raise refuse(f"is larger than {MOST_BYTES // 1_000_000} MB.")
        text = _WAS.sub(r'"chance_\1":', path.read_text(encoding="utf-8"))
        data = json.loads(text)
    except OSError as error:
        raise refuse(f"cannot be read ({error.strerror}).") from None
    except RecursionError:
        raise refuse("is nested too deeply.") from None
    except ValueError as error:
        raise refuse(f"is not JSON ({cut(str(error))}).") from None
    found = data.get("schema") if isinstance(data, dict) else None
    if found != schema:
        raise refuse(f"Expected schema {schema}, got {cut(str(found))}.")
    for where in _not_ordinary(data, ""):
        raise refuse("Expected a number of ordinary size.", where)
    try:
        return adapter(kind).validate_json(text, strict=True)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        shown = cut(repr(first["input"]))
        got = "" if first["type"] == "missing" else f", got {shown}"
        raise refuse(f"{first['msg']}{got}.", where) from None


def read_own(
    path: Path, kind: type[T], schema: str | None = None, most: int = MOST_BYTES
) -> T | None:
    """Read a JSON document that nobody misses; None where it is not there or not one of them.

    `schema` None is a kind that is known by its fields alone; `most` is the bytes it may have.
    """
    from pydantic import ValidationError

    try:
        if path.stat().st_size > most:
            return None
        text = path.read_bytes()
        if schema is not None and json.loads(text).get("schema") != schema:
            return None
        return adapter(kind).validate_json(text, strict=True)
    except (OSError, ValueError, RecursionError, AttributeError, ValidationError):
        return None


def _not_ordinary(value: Any, where: str) -> Iterator[str]:
    """Places of numbers that are infinite, none at all, or larger than anything measured."""
    if isinstance(value, int | float) and not abs(value) < GREATEST:
        yield where.removeprefix(".")
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _not_ordinary(item, f"{where}.{cut(key)}")
    elif isinstance(value, list):
        for at, item in enumerate(value):
            yield from _not_ordinary(item, f"{where}.{at}")


def _unsound(one: PlanSet) -> Iterator[str]:
    """Say what cannot be in a set of stacks."""
    shoes = [stack.shoe for stack in one.stacks]
    if sorted(shoes) != list(range(1, len(shoes) + 1)):
        yield f"Expected shoes 1 to {len(shoes)} once each, got {cut(str(shoes))}."
    discs = [disc for stack in one.stacks for packet in stack.packets for disc in packet]
    twice = next((disc for disc in discs if discs.count(disc) > 1), None)
    if twice is not None:
        yield f"Expected each disc once, got {cut(twice)} twice."
    for stack in one.stacks:
        place = f"under shoe {stack.shoe}"
        if not stack.packets or not all(1 <= len(packet) <= 3 for packet in stack.packets):
            yield f"Expected packets of one to three discs {place}, got another number."
        if not all(0 < shim <= MOST_SHIM_MM for shim in stack.shims_mm):
            yield f"Expected shims above 0 and up to {MOST_SHIM_MM:g} mm {place}, got another."


def _rounded(value: Any, digits: int, gaps: bool) -> Any:
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, float):
        return None if gaps and not isfinite(value) else round(value, digits)
    if isinstance(value, dict):
        return {key: _rounded(item, digits, gaps) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item, digits, gaps) for item in value]
    return value
