"""The inputs a plan was made from, key by key as a job file spells them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from optimizer.io.job.keys import SECTIONS, Key, keys_of
from optimizer.model.job import Job


def inputs(job: Job) -> list[tuple[str, list[tuple[str, str]]]]:
    """List each section with its keys and values; what the job leaves open is left out."""
    bearing = (
        section for section in SECTIONS if section not in ("effort", "life")
    )  # change no plan
    listed = [(section, list(_section(job, section))) for section in bearing]
    return [(section, rows) for section, rows in listed if rows]


def _section(job: Job, section: str) -> Iterator[tuple[str, str]]:
    if section == "bag":
        yield "file", job.bag_file.name
        return
    if section == "clutch":
        yield "shoes", str(len(job.shoes))
        yield from _shoes(job)
        return
    if section == "engine" and job.engine.torque_file is None:
        return  # its defaults say nothing without one
    values = getattr(job, section)
    for key in keys_of(section):
        value = getattr(values, key.field)
        if value is not None and value != ():
            yield key.spelled(job.units), _said(key, value, job.units)


def _shoes(job: Job) -> Iterator[tuple[str, str]]:
    """Keys of the shoes: once where all shoes agree, else shoe by shoe."""
    for key in keys_of("clutch.shoe"):
        values = [getattr(shoe, key.field) for shoe in job.shoes]
        said = ["–" if v is None else _said(key, v, job.units) for v in values]
        if any(v is not None for v in values):
            yield (key.spelled(job.units), said[0] if len(set(said)) == 1 else " / ".join(said))


def _said(key: Key, value: Any, units: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(
            "+".join(item) if isinstance(item, tuple) else _said(key, item, units) for item in value
        )
    if isinstance(value, str):
        return value
    if isinstance(value, Path):
        return value.name
    factor = key.spellings()[key.spelled(units)]
    return f"{value / factor:.6f}".rstrip("0").rstrip(".")
