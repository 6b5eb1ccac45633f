"""`inspect`: what a bag holds, and what it could become."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from optimizer.face.result import Result
from optimizer.face.sources import BagLike, JobLike, open_job
from optimizer.io.documents import document
from optimizer.match.holdings import Holdings, holdings
from optimizer.match.workspace import Workspace
from optimizer.report.holdings_card import holdings_card

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class InspectResult(Result):
    """The discs and lots of a bag, and the patterns that reach the target; see `Holdings`."""

    work: Workspace
    held: Holdings
    saved_as = "bag"

    def summary(self) -> str:
        """Show each disc, the lots, what the bench taught, and the patterns within reach."""
        return holdings_card(self.held)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every disc: as measured, as believed, its load alone."""
        import pandas as pd

        return pd.DataFrame([asdict(disc) for disc in self.held.discs])

    def document(self) -> str:
        """Return all of it as one JSON document."""
        return document({"schema": "evenstack.inspect/1", **asdict(self.held)})


def inspect(job: JobLike, bag: BagLike | None = None, fresh: bool = False) -> InspectResult:
    """Look at a bag: each disc, odd ones, and the patterns that reach the target.

    Parameters
    ----------
    job, bag, fresh : as in `match`

    Raises
    ------
    InputError
        with everything that is wrong in job or bag.

    Examples
    --------
    >>> found = inspect("examples/kart_mm/job.toml")
    >>> len(found.to_frame()), found.held.patterns[0].pattern
    (40, '9 singles')
    """
    work = open_job(job, bag, fresh)
    return InspectResult(work, holdings(work))
