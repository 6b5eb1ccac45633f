"""Setups side by side, as text and as one JSON document."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from optimizer import wrapping
from optimizer.clutch.start import DISTANCES_M, Start
from optimizer.hookup.now import Engagement
from optimizer.io.documents import document
from optimizer.report.hookup_engine import COMPARES


@dataclass(frozen=True)
class Setup:
    """One setup: how it takes hold, its start, and the same with friction one sd less and more."""

    name: str
    engagement: Engagement
    start: Start
    other: tuple[Start | None, Start | None]
    drum_g: float | None

    def figures(self) -> dict[str, str | float | None]:
        """Return what a table tells of it; every column of a quantity ends in its unit."""
        held = None if self.engagement.powered is None else self.engagement.powered.holding
        lock = self.start.lock
        return {
            "setup": self.name,
            "touch_rpm": self.engagement.hookup.mean_rpm,
            "band_rpm": self.engagement.hookup.band_rpm,
            "holds_rpm": None if held is None else held.rpm,
            "margin": None if held is None else held.margin,
            "lock_s": None if lock is None else lock.time_s,
            "lock_m": None if lock is None else lock.distance_m,
            "lock_rpm": None if lock is None else lock.engine_rpm,
            "slip_kj": self.start.slip_j / 1000,
            "peak_kw": self.start.peak_w / 1000,
            "drum_rise_k": None if self.drum_g is None else self.start.drum_rise_k(self.drum_g),
            **{
                f"to_{far:.0f}_m_s": at
                for far, at in zip(DISTANCES_M, self.start.to_m, strict=True)
            },
        }


_ROWS: tuple[tuple[str, str, int], ...] = (
    ("touches, rpm", "touch_rpm", 0),
    ("band, rpm", "band_rpm", 1),
    ("holds full throttle, rpm", "holds_rpm", 0),
    ("carries at the engine's peak, times", "margin", 2),
    ("locks up after, s", "lock_s", 2),
    ("locks up after, m", "lock_m", 1),
    ("locks up at, rpm", "lock_rpm", 0),
    ("heat of the slip, kJ", "slip_kj", 2),
    ("greatest power, kW", "peak_kw", 1),
    ("drum warms by, K", "drum_rise_k", 0),
    *((f"{far:.0f} m after, s", f"to_{far:.0f}_m_s", 3) for far in DISTANCES_M),
)


def compare_card(setups: tuple[Setup, ...], units: str, warnings: tuple[str, ...]) -> str:
    """Write setups in columns, and how the others differ from the first."""
    figures = [setup.figures() for setup in setups]

    def said(value: object, digits: int) -> str:
        return f"{value:.{digits}f}" if isinstance(value, float) else "-"

    rows = [(name, *(said(f[key], digits) for f in figures)) for name, key, digits in _ROWS]
    lines = ["SETUPS side by side, each from rest at full throttle"]
    lines += wrapping.table(("", *(setup.name for setup in setups)), rows)
    lines.append("")
    for setup in setups[1:]:
        for at, far in enumerate(DISTANCES_M):
            lines += wrapping.wrapped(f"{setup.name}: {_difference(setups[0], setup, at, far)}")
    lines += ["", *wrapping.wrapped(COMPARES)]
    lines += wrapping.paragraphs(f"Note: {warning}" for warning in warnings)
    return "\n".join(lines) + "\n"


def _difference(first: Setup, other: Setup, at: int, far: float) -> str:
    def apart(of: Callable[[Setup], Start | None]) -> float | None:
        runs = of(first), of(other)
        if runs[0] is None or runs[1] is None:
            return None
        one, two = runs[0].to_m[at], runs[1].to_m[at]
        return None if one is None or two is None else two - one

    here = apart(lambda setup: setup.start)
    if here is None:
        return f"no difference to {far:.0f} m, as one of the two does not get there"
    rim = [apart(lambda setup, k=k: setup.other[k]) for k in (0, 1)]  # type: ignore[misc]
    ends = sorted(end for end in (here, *rim) if end is not None)
    way = "later" if here > 0 else "sooner"
    said = f"{abs(here):.3f} s {way} at {far:.0f} m than {first.name}"
    doubt = f" ({ends[0]:+.3f} to {ends[-1]:+.3f} s with friction one sd less or more)"
    if ends[0] * ends[-1] < 0:
        doubt += ", so which is sooner is open"
    return said + doubt + "."


def compare_json(setups: tuple[Setup, ...], warnings: tuple[str, ...]) -> str:
    """Write setups as one JSON document."""
    return document(
        {
            "schema": "evenstack.compare/1",
            "setups": [setup.figures() for setup in setups],
            "says": COMPARES,
            "warnings": list(warnings),
        }
    )
