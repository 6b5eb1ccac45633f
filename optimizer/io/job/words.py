"""Values and ranges as a message about a job writes them."""

from __future__ import annotations

from typing import Any

from annotated_types import Interval

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


def bounds(within: Interval, factor: float = 1.0) -> str:
    """Return "> 0 and <= 1": a range, its ends divided by `factor`."""
    ends = {">": within.gt, ">=": within.ge, "<": within.lt, "<=": within.le}
    return " and ".join(
        f"{sign} {float(end) / factor:.6g}"  # type: ignore[arg-type]
        for sign, end in ends.items()
        if end is not None
    )
