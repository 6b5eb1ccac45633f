"""One raw TOML value to the value used inside: type, finiteness, range, unit slips."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable
from typing import Any

from optimizer.io.job.keys import Key, Shape


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
    return _READERS[key.shape](key, written, raw)


#: bits of a whole number that is shown
MOST_BITS = 200


def show(raw: Any) -> str:
    """Return a raw value the way it stands in a TOML file, cut to a readable length."""
    if isinstance(raw, bool):
        return str(raw).lower()
    if isinstance(raw, int) and raw.bit_length() > MOST_BITS:  # too long to be written out
        return "a number of very many digits"
    if isinstance(raw, list):
        text = f"[{', '.join(show(item) for item in raw)}]"
    else:
        text = f'"{raw}"' if isinstance(raw, str) else str(raw)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _finite(written: str, raw: Any) -> float:
    if isinstance(raw, str):
        raise Wrong(
            f"Expected a number for {written}, got the text {show(raw)}.",
            "Write it without quotes and with a decimal point.",
        )
    if isinstance(raw, bool) or not isinstance(raw, (int, float)):
        raise Wrong(f"Expected a number for {written}, got {show(raw)}.", "Write one number.")
    try:
        value = float(raw)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise Wrong(
            f"Expected a finite number for {written}, got {show(raw)}.",
            "Delete the line to leave it open.",
        )
    return value


def _number(key: Key, written: str, raw: Any) -> float:
    value = _finite(written, raw)
    factor = key.spellings()[written]
    inside = value * factor
    if inside not in key.likely and (other := _other_unit(key, written, value)):
        raise Wrong(
            f"Expected {written} {key.likely.says(factor)}, got {value:g}.",
            f"It looks typed in the other unit: if so, write {other} = {value:g}.",
        )
    if inside not in key.within:
        share = 1.0 < value <= 100.0 and key.within.high <= 1.0
        raise Wrong(
            f"Expected {written} {key.within.says(factor)}, got {value:g}.",
            f"If {value:g} % is meant, write {value / 100:g}." if share else _meaning(key),
        )
    return inside


def _meaning(key: Key) -> str:
    return f"It means: {key.meaning}."


def _other_unit(key: Key, written: str, value: float) -> str | None:
    """Return the spelling under which a length would be likely, if there is another."""
    if key.quantity != "length":
        return None
    return next(
        (s for s, f in key.spellings().items() if s != written and value * f in key.likely), None
    )


def _count(key: Key, written: str, raw: Any) -> int:
    value = _finite(written, raw)
    if value != int(value):
        raise Wrong(f"Expected a whole number for {written}, got {show(raw)}.", _meaning(key))
    if value not in key.within:
        raise Wrong(f"Expected {written} {key.within.says()}, got {show(raw)}.", _meaning(key))
    return int(value)


def _switch(key: Key, written: str, raw: Any) -> bool:
    if not isinstance(raw, bool):
        raise Wrong(
            f"Expected true or false for {written}, got {show(raw)}.",
            "Write it in small letters without quotes.",
        )
    return raw


def _text(written: str, raw: Any) -> str:
    if not isinstance(raw, str):
        raise Wrong(
            f"Expected text for {written}, got {show(raw)}.", "Put it between double quotes."
        )
    if not raw.strip():
        raise Wrong(f"Expected a text for {written}, got {show(raw)}.", "Fill it in.")
    return raw.strip()


def _word(key: Key, written: str, raw: Any) -> str:
    word = _text(written, raw).lower()
    if word not in key.choices:
        near = difflib.get_close_matches(word, key.choices, 1, 0.5)
        choices = " or ".join(f'"{choice}"' for choice in key.choices)
        raise Wrong(
            f"Expected {choices} for {written}, got {show(raw)}.",
            f'Did you mean "{near[0]}"?' if near else "Write one of these words.",
        )
    return word


def _path(key: Key, written: str, raw: Any) -> str:
    return _text(written, raw)


def _array(written: str, raw: Any, example: str) -> list[Any]:
    if not isinstance(raw, list):
        raise Wrong(
            f"Expected a list for {written}, got {show(raw)}.", f"Write {written} = {example}."
        )
    return raw


def _ordered(
    key: Key, written: str, raw: Any, one: Callable[[Key, str, Any], Any], example: str
) -> tuple[Any, Any]:
    values = _array(written, raw, example)
    if len(values) != 2:
        raise Wrong(
            f"Expected two numbers [lowest, highest] for {written}, got {show(raw)}.",
            f"Write {written} = {example}.",
        )
    low, high = (one(key, written, value) for value in values)
    if low > high:
        raise Wrong(
            f"Expected {written} = [lowest, highest], got {show(raw)}.", "Swap the two numbers."
        )
    return low, high


def _window(key: Key, written: str, raw: Any) -> tuple[float, float]:
    return _ordered(
        key, written, raw, _number, "[13, 14]" if written.endswith("_mm") else "[0.51, 0.55]"
    )


def _count_window(key: Key, written: str, raw: Any) -> tuple[int, int]:
    return _ordered(key, written, raw, _count, "[6, 9]")


def _list(key: Key, written: str, raw: Any) -> tuple[float, ...]:
    example = "[0.1, 0.2]" if written.endswith("_mm") else "[0.004, 0.008]"
    return tuple(_number(key, written, value) for value in _array(written, raw, example))


def _counts(key: Key, written: str, raw: Any) -> tuple[int, ...]:
    values = [_count(key, written, value) for value in _array(written, raw, "[1, 2]")]
    if not values or len(set(values)) != len(values):
        raise Wrong(
            f"Expected different numbers in {written}, got {show(raw)}.",
            f"Write each size once, as in {written} = [1, 2].",
        )
    return tuple(sorted(values))


def _names(key: Key, written: str, raw: Any) -> tuple[str, ...]:
    names = [_text(written, name) for name in _array(written, raw, '["A01", "A02"]')]
    return tuple(dict.fromkeys(names))


def _groups(key: Key, written: str, raw: Any) -> tuple[tuple[str, ...], ...]:
    example = '[["A01", "A02"], ["A03", "A04"]]'
    groups = []
    for group in _array(written, raw, example):
        if not isinstance(group, list):
            raise Wrong(
                f"Expected a list of lists for {written}, got {show(raw)}.",
                f"Write {written} = {example}.",
            )
        names = _names(key, written, group)
        if len(names) < 2:
            raise Wrong(
                f"Expected at least two discs in each group of {written}, got {show(group)}.",
                "Name the discs that stay together.",
            )
        groups.append(names)
    return tuple(groups)


_READERS: dict[Shape, Callable[[Key, str, Any], Any]] = {
    "number": _number,
    "count": _count,
    "switch": _switch,
    "word": _word,
    "path": _path,
    "window": _window,
    "count window": _count_window,
    "list": _list,
    "counts": _counts,
    "names": _names,
    "groups": _groups,
}
