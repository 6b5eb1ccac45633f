"""Numbers as the sheet prints them: in the user's units, with the unit or below a heading."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer import text
from optimizer.units import MM_PER_IN


@dataclass(frozen=True)
class Figures:
    """Numbers in the units of one plan, "mm" or "in"."""

    units: str

    @property
    def load_unit(self) -> str:
        """Unit of loads."""
        return text.load_unit(self.units)

    @property
    def length_unit(self) -> str:
        """Unit of lengths."""
        return self.units

    def load(self, newtons: float, digits: int = 1) -> str:
        """Say a load without its unit."""
        return _bare(text.load(newtons, self.units, digits))

    def length(self, mm: float) -> str:
        """Say a length without its unit."""
        return _bare(text.length(mm, self.units))

    def brief_load(self, newtons: float) -> str:
        """Say a load of a rule for the hand without its unit, a tenth only where there is one."""
        return self.load(newtons).removesuffix(".0")

    def caliper(self, mm: float) -> str:
        """Say a length as a caliper shows it, without its unit."""
        return f"{mm / MM_PER_IN:.3f}" if self.units == "in" else f"{mm:.2f}"

    def signed_load(self, newtons: float, digits: int = 2) -> str:
        """Say a difference of loads with its sign, none on zero."""
        number = float(self.load(newtons, digits))
        return f"{number:+.{digits}f}".replace("-", "−") if number else f"{0:.{digits}f}"

    def full_load(self, newtons: float) -> str:
        """Say a load with its unit, not to be parted."""
        return _hard(text.load(newtons, self.units))

    def full_length(self, mm: float) -> str:
        """Say a length with its unit, not to be parted."""
        return _hard(text.length(mm, self.units))


def _bare(said: str) -> str:
    return said.rpartition(" ")[0]


def _hard(said: str) -> str:
    return said.replace(" ", "\N{NO-BREAK SPACE}")
