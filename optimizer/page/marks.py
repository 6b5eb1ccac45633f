"""What was ticked while building, and a move that was chosen, kept beside the plan.

The commands do not need it: it says where the hands are, not what was read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from optimizer.bench.chosen import Chosen
from optimizer.io.documents import read_own, write_own

SCHEMA = "evenstack.page/1"
#: what a file of them may hold
MOST_BYTES = 2_000_000


@dataclass(frozen=True)
class Marks:
    """Ticks by place ("1/2" is set 1, shoe 2; "1/move-2" the move before round 2)."""

    ticks: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    chosen: Mapping[str, Chosen] = field(default_factory=dict)

    def ticked(self, place: str) -> tuple[str, ...]:
        """Return what is ticked at a place."""
        return self.ticks.get(place, ())

    def tick(self, place: str, part: str, on: bool) -> Marks:
        """Return the marks with one part ticked or not."""
        others = tuple(p for p in self.ticked(place) if p != part)
        return replace(self, ticks={**self.ticks, place: (*others, part) if on else others})

    def choose(self, number: int, chosen: Chosen | None) -> Marks:
        """Return the marks with another move chosen for a set, or none."""
        rest = {k: v for k, v in self.chosen.items() if k != str(number)}
        return replace(self, chosen=rest if chosen is None else {**rest, str(number): chosen})


def marks_path(plan: Path) -> Path:
    """Return where the marks of a plan are kept."""
    return plan.with_name("page.json")


def read_marks(plan: Path) -> Marks:
    """Read the marks of a plan; none where there are none, or the file is not one of them."""
    return read_own(marks_path(plan), Marks, SCHEMA, MOST_BYTES) or Marks()


def write_marks(plan: Path, marks: Marks) -> None:
    """Write the marks of a plan beside it."""
    write_own(marks_path(plan), SCHEMA, marks)


def take_move(plan: Path, number: int, before: int, chosen: Chosen | None) -> None:
    """Remember the move taken before a round, None for the one advised; nothing of it is done."""
    marks = read_marks(plan).choose(number, chosen)
    place = f"{number}/move-{before}"
    write_marks(plan, replace(marks, ticks={**marks.ticks, place: ()}))
