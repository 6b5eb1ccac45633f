"""Answers that took their time, kept beside the job: they outlast browser and server."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.io.documents import read_own, write_own

SCHEMA = "evenstack.answer/1"


@dataclass(frozen=True)
class KeptAnswer:
    """An answer, what it rests on (`house.rests_on`), and for which plan and change it was asked.

    `plan` is the folder of the plan, empty for what stands; `by` the change as it was typed.
    """

    answer: dict[str, Any] | list[str | list[list[str]]]
    rests_on: str
    plan: str = ""
    by: str = ""


def answer_path(job: Path, kind: str) -> Path:
    """Return where the newest answer of a kind is kept: job.ways.json beside job.toml."""
    return job.with_suffix(f".{kind}.json")


def keep_answer(job: Path, kind: str, kept: KeptAnswer) -> dict[str, str]:
    """Write an answer in the place of the one before; return its file's name for the page."""
    path = answer_path(job, kind)
    write_own(path, SCHEMA, kept)
    return {"folder": path.name}


def kept_answer(job: Path, kind: str) -> KeptAnswer | None:
    """Read the newest answer of a kind; None where there is none, or its file is not one."""
    return read_own(answer_path(job, kind), KeptAnswer, SCHEMA)
