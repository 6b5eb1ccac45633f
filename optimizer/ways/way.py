"""What can be done before the first stack is built, and how a way went."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.model.job import Effort, Tool


@dataclass(frozen=True)
class Way:
    """A way to a matched set: what is done first, before it is built and brought together.

    `dress` dresses the sharp discs and measures them again, `measure` says with which tool;
    `again` measures these discs alone once more; `groups` are pressed on the gauge: single discs,
    which are then matched anew, or sub-stacks of 2 or 3 that stay together.
    """

    name: str
    dress: bool = False
    measure: Tool | None = None
    again: tuple[str, ...] = ()
    groups: int = 0


@dataclass(frozen=True)
class Played:
    """How a way went on one bench.

    `minutes` of a person; `discs` measured, dressed, pressed and moved; `rounds` on the gauge;
    `said` the chance of the stacks at the end and whether they truly were `within`; `in_clutch`
    the chance of what stands once it is in the clutch, the same where the gauge reads there.
    """

    minutes: float
    discs: int
    rounds: int
    said: float
    within: bool
    in_clutch: float


@dataclass
class Clock:
    """Counts what a person does."""

    effort: Effort
    minutes: float = 0.0
    discs: int = 0

    def measures(self, discs: int, tool: Tool) -> None:
        """Measure some discs."""
        self.discs += discs
        self.minutes += discs * self.effort.measuring(tool)

    def dresses(self, discs: int) -> None:
        """Dress some discs."""
        self.discs += discs
        self.minutes += discs * self.effort.dressing

    def presses(self, readings: int, discs: int = 0) -> None:
        """Take readings; `discs` are put on the gauge for them."""
        self.discs += discs
        self.minutes += readings * self.effort.reading

    def builds(self, stacks: int) -> None:
        """Put whole stacks together."""
        self.minutes += stacks * self.effort.build

    def moves(self, discs: int, stacks: int) -> None:
        """Exchange discs between stacks, or build those stacks anew where that is quicker."""
        self.discs += discs
        self.minutes += min(discs * self.effort.exchange, stacks * self.effort.build)
