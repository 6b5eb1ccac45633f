"""Numbers as the sheet prints them: in the user's units, the unit in the heading or both."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import text


@dataclass(frozen=True)
class Figures:
    """Numbers in the units of one plan, "mm" or "in"."""

    units: str

    @property
    def load_unit(self) -> str:
        """Unit of loads."""
        return "lbf" if self.units == "in" else "N"

    @property
    def length_unit(self) -> str:
        """Unit of lengths."""
        return self.units

    @property
    def other(self) -> Figures:
        """The same numbers in the other system."""
        return Figures("mm" if self.units == "in" else "in")

    def load(self, newtons: float, digits: int = 1) -> str:
        """Say a load without its unit."""
        return _bare(text.load(newtons, self.units, digits))

    def length(self, mm: float) -> str:
        """Say a length without its unit."""
        return _bare(text.length(mm, self.units))

    def signed_load(self, newtons: float, digits: int = 2) -> str:
        """Say a difference of loads with its sign, none on zero."""
        number = float(self.load(newtons, digits))
        return f"{number:+.{digits}f}".replace("-", "−") if number else f"{0:.{digits}f}"

    def both_loads(self, newtons: float) -> str:
        """Say a load in the user's unit and the other one."""
        other = text.load(newtons, self.other.units, 1 if self.units == "mm" else 0)
        return _pair(text.load(newtons, self.units), other)

    def both_lengths(self, mm: float) -> str:
        """Say a length in the user's unit and the other one."""
        return _pair(text.length(mm, self.units), text.length(mm, self.other.units))


def _bare(said: str) -> str:
    return said.rpartition(" ")[0]


def _pair(own: str, other: str) -> str:
    """Join both with the only place to break the line between them."""
    hard = "\N{NO-BREAK SPACE}"
    return f"{own.replace(' ', hard)} ({other.replace(' ', hard)})"
