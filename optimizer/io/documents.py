"""A plan as JSON text and back."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any, TypeVar

from optimizer.errors import InputError, Problem
from optimizer.model.plan import SCHEMA, Plan, PlanSet, PlanStack

DIGITS = 6

T = TypeVar("T")


def to_json(plan: Any) -> str:
    """Write a plan, or another frozen document, as JSON text, numbers to six decimals."""
    return document(asdict(plan))


def document(value: dict[str, Any]) -> str:
    """Write any JSON document for users, numbers to six decimals."""
    return json.dumps(_rounded(value), indent=1, ensure_ascii=False) + "\n"


def read_plan(path: Path) -> Plan:
    """Read a plan file.

    Raises
    ------
    InputError
        as in `read_document`.
    """
    remedy = "Give a plan.json that `evenstack match JOB --out DIR` wrote."
    return read_document(path, SCHEMA, remedy, from_dict)


def read_document(path: Path, schema: str, remedy: str, build: Callable[[dict[str, Any]], T]) -> T:
    """Read a JSON document that the program wrote, and build its value.

    Raises
    ------
    InputError
        when the file is missing, is not JSON, is not of the schema, or lacks what it needs.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(
            Problem(f"cannot be read ({error.strerror}).", str(path), remedy)
        ) from None
    except ValueError as error:
        raise InputError(Problem(f"is not JSON ({error}).", str(path), remedy)) from None
    found = data.get("schema") if isinstance(data, dict) else None
    if found != schema:
        raise InputError(Problem(f"Expected schema {schema}, got {found}.", str(path), remedy))
    try:
        return build(data)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        raise InputError(Problem(f"lacks or garbles {error}.", str(path), remedy)) from None


def from_dict(data: dict[str, Any]) -> Plan:
    """Rebuild a plan from its JSON value."""
    sets = tuple(
        PlanSet(
            **{
                **_known(PlanSet, one),
                "stacks": tuple(_stack(stack) for stack in one["stacks"]),
                "doubt": tuple(one.get("doubt", ())),
                "helps": tuple(one.get("helps", ())),
            }
        )
        for one in data["sets"]
    )
    return Plan(
        **{
            **_known(Plan, data),
            "sets": sets,
            "unused": tuple(data["unused"]),
            "warnings": tuple(data["warnings"]),
        }
    )


def _stack(data: dict[str, Any]) -> PlanStack:
    return PlanStack(
        **{
            **_known(PlanStack, data),
            "packets": tuple(tuple(packet) for packet in data["packets"]),
            "shims_mm": tuple(data["shims_mm"]),
        }
    )


def _known(kind: type, data: dict[str, Any]) -> dict[str, Any]:
    return {f.name: data[f.name] for f in fields(kind) if f.name in data}


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, DIGITS)
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return value
