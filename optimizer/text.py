"""Numbers as a user reads them: in the job's units, with a fitting number of digits."""

from __future__ import annotations

from optimizer.units import MM_PER_IN, N_PER_LBF


def load(newtons: float, units: str, digits: int = 1) -> str:
    """Say a load in N or, for inch users, in lbf."""
    if units == "in":
        return f"{newtons / N_PER_LBF:.{digits}f} lbf"
    return f"{newtons:.{digits}f} N"


def load_unit(units: str) -> str:
    """Return the unit in which loads are read."""
    return "lbf" if units == "in" else "N"


def length(mm: float, units: str) -> str:
    """Say a length to a micrometre or, for inch users, a ten-thousandth of an inch."""
    return f"{mm / MM_PER_IN:.4f} in" if units == "in" else f"{mm:.3f} mm"


def rate(n_per_mm: float, units: str) -> str:
    """Say a stiffness."""
    if units == "in":
        return f"{n_per_mm * MM_PER_IN / N_PER_LBF:.0f} lbf/in"
    return f"{n_per_mm:.0f} N/mm"


def stress(mpa: float, units: str) -> str:
    """Say a stress in MPa or, for inch users, in ksi."""
    if units == "in":
        return f"{mpa * MM_PER_IN**2 / N_PER_LBF / 1000:.0f} ksi"
    return f"{mpa:.0f} MPa"


def percent(part: float) -> str:
    """Say a probability in whole per cent, never claiming certainty."""
    if part > 0.99:
        return "over 99 %"
    return "under 1 %" if part < 0.01 else f"{part:.0%}".replace("%", " %")


def packet(names: tuple[str, ...]) -> str:
    """Write a packet as on the bench: nested discs joined by `+`, bottom to top."""
    return "+".join(names)


def disc(name: str) -> str:
    """Say a disc on paper: a bare number would be read as a place or a count."""
    return f"no. {name}" if name.isdecimal() else name


def number(count: int) -> str:
    """Say a small count in words."""
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")
    return words[count] if count < len(words) else str(count)


def every(count: int) -> str:
    """Say all of so many: both, all three."""
    return "both" if count == 2 else f"all {number(count)}"
