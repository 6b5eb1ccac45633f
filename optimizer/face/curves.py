"""`load_curve`: what one stack pushes along its travel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer import text
from optimizer.face.result import Result
from optimizer.face.sources import BagLike, JobLike, open_job
from optimizer.io.documents import document
from optimizer.match.one_stack import OneStack, one_stack, read_stack
from optimizer.match.workspace import Workspace, as_typed

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class LoadCurve(Result):
    """Load of a stack at rest, at the travel and worn, disc by disc; see `OneStack`."""

    work: Workspace
    stack: OneStack
    saved_as = "load"

    def summary(self) -> str:
        """Say what the stack pushes, and what to mind."""
        one, u = self.stack, self.stack.units
        shims = " with shims " + ", ".join(text.length(s, u) for s in one.shims_mm)
        lines = [
            f"Shoe {one.shoe}: {' '.join(text.packet(p) for p in one.packets)}"
            f"{shims if one.shims_mm else ''}",
            f"free height {text.length(one.free_height_mm, u)}, at the travel "
            f"{text.load(one.working_load_n, u)} +- {text.load(one.working_load_sd_n, u)}, "
            f"rate {text.rate(one.rate_n_per_mm, u)}",
            f"at rest {text.load(one.rest_load_n, u)}, worn {text.load(one.worn_load_n, u)}",
        ]
        return "\n".join(lines) + "\n"

    def to_frame(self) -> pd.DataFrame:
        """Return travel and load, row by row from rest to a worn drum."""
        import pandas as pd

        return pd.DataFrame(list(self.stack.table), columns=["travel_mm", "load_n"])

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return document({"schema": "evenstack.load/1", **asdict(self.stack)})

    def files(self, folder: Path) -> dict[Path, str | bytes]:
        """Return load.json and load.csv."""
        return {
            folder / "load.json": self.document(),
            folder / "load.csv": self.to_frame().to_csv(index=False),
        }


def load_curve(
    job: JobLike,
    stack: str,
    shims_mm: Sequence[float] = (),
    shoe: int = 1,
    bag: BagLike | None = None,
    fresh: bool = False,
    as_measured: bool = False,
) -> LoadCurve:
    """Compute the load of one stack by the disc-spring load law of the job (EN 16984 if none).

    Parameters
    ----------
    stack : discs bottom to top, + nests: "D01 D02+D03 D04"
    shims_mm : thicknesses under it
    shoe : the shoe it sits under, from 1
    as_measured : go by the very values of the bag, not drawn towards their lot's mean, and
        not by the bench either

    Raises
    ------
    InputError
        for discs that are not in the bag or named twice, or shims that have no effect.
    MechanicsError
        when the travel presses the stack solid.

    Examples
    --------
    >>> curve = load_curve("examples/kart_mm/job.toml", "A01 A02 A03 A04 A05 A06 A07 A08 A09")
    >>> float(curve.to_frame().load_n.is_monotonic_increasing)
    1.0
    """
    work = open_job(job, bag, fresh or as_measured)
    if as_measured:
        work = as_typed(work)
    discs = read_stack(stack, work.belief.names)
    return LoadCurve(work, one_stack(work, discs, tuple(shims_mm), shoe))
