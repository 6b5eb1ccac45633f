"""One raw TOML value to the value used inside: its unit here, what it may be by pydantic."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from annotated_types import Interval, MinLen

from optimizer.errors import did_you_mean
from optimizer.io.documents import adapter
from optimizer.io.job.keys import Key
from optimizer.io.job.words import bounds, show

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails


class Wrong(Exception):  # noqa: N818 - a finding to report, not a failure
    """What is wrong with one value, and the remedy."""

    def __init__(self, what: str, remedy: str) -> None:
        """Keep both parts for the problem they become."""
        super().__init__(what)
        self.what = what
        self.remedy = remedy


def convert(key: Key, written: str, raw: Any) -> Any:
    """Return `raw`, given under the spelling `written` of `key`, in the unit used inside.

    Raises
    ------
    Wrong
        when type, length, sign or size do not fit the key.
    """
    from pydantic import ValidationError

    hint: Any = Annotated[str, MinLen(1)] if key.is_path else key.hint
    try:
        value = adapter(hint).validate_python(_inside(key, written, raw), strict=True)
    except ValidationError as error:
        raise _wrong(key, written, raw, error.errors(include_url=False)[0]) from None
    for number in raw if key.is_list else [raw]:
        if slip := _slip(key, written, number):
            raise slip
    if key.is_path:
        return Path(value)
    return tuple(sorted(value)) if key.is_set else value


def _inside(key: Key, written: str, raw: Any) -> Any:
    """Turn numbers into the unit inside, lists into tuples, a word into small letters."""
    if isinstance(raw, list):
        items = tuple(_inside(key, written, item) for item in raw)
        # a name given twice is given once
        return tuple(dict.fromkeys(items)) if all(isinstance(i, str) for i in items) else items
    if isinstance(raw, str):
        return raw.strip().lower() if key.choices else raw.strip()
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        return raw
    number = _float(raw)
    if key.is_whole:
        return int(number) if number.is_integer() else number
    return number * key.spellings()[written]


def _float(raw: float) -> float:
    try:
        return float(raw)
    except OverflowError:  # a whole number of hundreds of digits
        return math.inf


def _slip(key: Key, written: str, number: Any) -> Wrong | None:
    """Say of a length that it would be likely in the other unit alone."""
    low, high = key.says.likely
    if not math.isfinite(low):
        return None
    factors = key.spellings()
    likely = [spelled for spelled, factor in factors.items() if low <= number * factor <= high]
    if written in likely or not likely:
        return None
    return Wrong(
        f"Expected {written} {bounds(Interval(ge=low, le=high), factors[written])}, "
        f"got {number:g}.",
        f"It looks typed in the other unit: if so, write {likely[0]} = {number:g} "
        f"({written} = {number * factors[likely[0]] / factors[written]:.4g}).",
    )


def _wrong(key: Key, written: str, raw: Any, found: ErrorDetails) -> Wrong:
    """Say what pydantic found, in the unit and the words of the file."""
    item = raw
    for step in found["loc"] if found["type"] != "missing" else ():
        item = item[step]
    meaning, example = f"It means: {key.meaning}.", f"Write {written} = {key.example(written)}."
    got = f"for {written}, got {show(item)}."
    match found["type"]:
        case "missing" | "too_long":
            return Wrong(f"Expected two numbers [lowest, highest] {got}", example)
        case "float_type" | "int_type" if isinstance(item, str):
            return Wrong(
                f"Expected a number for {written}, got the text {show(item)}.",
                "Write it without quotes and with a decimal point.",
            )
        case "float_type" | "int_type" if isinstance(item, bool) or not isinstance(
            item, int | float
        ):
            return Wrong(f"Expected a number {got}", "Write one number.")
        case "int_type" if math.isfinite(_float(item)):
            return Wrong(f"Expected a whole number {got}", meaning)
        case "bool_type":
            return Wrong(
                f"Expected true or false {got}", "Write it in small letters without quotes."
            )
        case "literal_error" if isinstance(item, str) and item.strip():
            choices = " or ".join(f'"{choice}"' for choice in key.choices)
            word, other = item.strip().lower(), "Write one of these words."
            remedy = did_you_mean(word, key.choices, other, 0.5, shown='"{}"')
            return Wrong(f"Expected {choices} {got}", remedy)
        case "string_too_short" | "literal_error" if isinstance(item, str):
            return Wrong(f"Expected a text {got}", "Fill it in.")
        case "string_type" | "literal_error":
            return Wrong(f"Expected text {got}", "Put it between double quotes.")
        case "tuple_type":
            lists = "list of lists" if found["loc"] else "list"
            return Wrong(f"Expected a {lists} for {written}, got {show(raw)}.", example)
        case "too_short" if found["loc"]:
            return Wrong(
                f"Expected at least two discs in each group of {written}, got {show(item)}.",
                "Name the discs that stay together.",
            )
        case "predicate_failed" if not key.is_set:
            return Wrong(
                f"Expected {written} = [lowest, highest], got {show(raw)}.", "Swap the two numbers."
            )
        case "too_short":
            return Wrong(
                f"Expected at least one number in {written}, got {show(raw)}.",
                f"Write each size that may be, as in {written} = {key.example(written)}.",
            )
        case "predicate_failed":
            return Wrong(
                f"Expected different numbers in {written}, got {show(raw)}.",
                f"Write each size once, as in {written} = {key.example(written)}.",
            )
    if not math.isfinite(_float(item)):
        return Wrong(f"Expected a finite number {got}", "Delete the line to leave it open.")
    if slip := _slip(key, written, item):
        return slip
    highest: Any = key.within.lt or key.within.le
    share = 1.0 < item <= 100.0 and highest <= 1.0
    return Wrong(
        f"Expected {written} {bounds(key.within, key.spellings()[written])}, got {item:g}.",
        f"If {item:g} % is meant, write {item / 100:g}." if share else meaning,
    )
