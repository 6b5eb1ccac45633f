"""`ways`: the ways from here to a truly matched set, by minutes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from optimizer.bench.decide import STOP_AT
from optimizer.control import Limits, Report, quiet
from optimizer.face.result import Result
from optimizer.face.sources import JobLike, open_job
from optimizer.io.documents import document
from optimizer.io.minutes import KINDS
from optimizer.model.bag import Bag
from optimizer.report.ways_card import ways_card
from optimizer.ways.compare import Comparison, compare

if TYPE_CHECKING:
    import pandas as pd

#: benches that every way is played on at most
DRAWS = 24


@dataclass(frozen=True)
class WaysResult(Result):
    """The ways from here, the best first; see `Comparison`."""

    found: Comparison
    saved_as = "ways"

    def summary(self) -> str:
        """Say the best in one sentence, then all of them and what a second look saves."""
        return ways_card(self.found)

    def to_frame(self) -> pd.DataFrame:
        """Return a row for every way."""
        import pandas as pd

        return pd.DataFrame(
            [
                {
                    "way": told.way.name,
                    "minutes": told.minutes,
                    "minutes_side": told.minutes_side if len(told.plays) > 1 else None,
                    "minutes_ninth_decile": told.ninth_decile,
                    "discs": float(told.of("discs").mean()),
                    "rounds": float(told.of("rounds").mean()),
                    "chance": told.chance,
                    "chance_in_clutch": float(told.of("in_clutch").mean()),
                    "within": float(told.of("within").mean()),
                    "benches": len(told.plays),
                }
                for told in self.found.told
            ]
        )

    def document(self) -> str:
        """Return all of it as one JSON document."""
        found, effort = self.found, self.found.start.job.effort
        look = [
            {"disc": disc, "minutes_saved": found.saves * float(part)}
            for disc, part in zip(found.look.discs, found.look.part, strict=True)
        ]
        return document(
            {
                "schema": "evenstack.ways/1",
                "stop_at": found.stop_at,
                "effort": {kind: getattr(effort, kind) for kind in KINDS},
                "effort_learned_from": dict(effort.learned),
                "ways": self.to_frame().to_dict("records"),
                "measured_enough": found.enough,
                "second_look": look,
                "second_look_costs_minutes": found.look.minutes,
                "impossible": [way.name for way in found.impossible],
                "stopped": found.stopped,
            }
        )


def ways(
    job: JobLike,
    bag: Bag | None = None,
    stop_at: float = STOP_AT,
    draws: int = DRAWS,
    seed: int = 0,
    fresh: bool = False,
    limits: Limits | None = None,
    report: Report = quiet,
    workers: int | None = None,
) -> WaysResult:
    """Play the ways from here to a matched set before any work, and compare their minutes.

    Parameters
    ----------
    job, bag, fresh : as in `match`
    stop_at : chance at which the set is good enough
    draws : benches that every way is played on at most
    limits : may end it early, with the benches played by then
    workers : processes, all cores where None; the answer does not depend on them

    Raises
    ------
    CannotBuildError
        when no set of these discs keeps the limits of the job.
    InputError
        with everything that is wrong in job or bag.
    """
    work = open_job(job, bag, fresh)
    return WaysResult(compare(work, stop_at, draws, seed, limits, report, workers))
