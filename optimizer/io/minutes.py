"""Minutes that pieces of bench work took, as the bench page saw them: a file beside the job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from optimizer.io.documents import read_own, write_own
from optimizer.model.job import Effort

SCHEMA = "evenstack.minutes/1"
#: the newest minutes of each kind of work that are kept, and bytes of the file
MOST_KEPT, MOST_BYTES = 100, 200_000
#: kinds of work: the minutes of [effort]
KINDS = tuple(Effort.__dataclass_fields__)[:6]


@dataclass(frozen=True)
class Minutes:
    """Minutes for one piece of each kind of work, oldest first: durations, no times of day."""

    took: Mapping[str, tuple[float, ...]] = field(default_factory=dict)

    def more(self, kind: str, minutes: float) -> Minutes:
        """Return them with one more, the oldest left out where there are too many."""
        kept = (*self.took.get(kind, ()), round(minutes, 3))[-MOST_KEPT:]
        return replace(self, took={**self.took, kind: kept})


def minutes_path(job: Path) -> Path:
    """Return where the minutes of a job are kept: job.minutes.json beside job.toml."""
    return job.with_suffix(".minutes.json")


def read_minutes(job: Path) -> Minutes:
    """Read the minutes of a job; none where there are none, or the file is not one of them."""
    return read_own(minutes_path(job), Minutes, SCHEMA, MOST_BYTES) or Minutes()


def write_minutes(job: Path, minutes: Minutes) -> None:
    """Write the minutes of a job beside it."""
    write_own(minutes_path(job), SCHEMA, minutes)
