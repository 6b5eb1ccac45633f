"""A small invented job: three stacks of three discs out of twelve, as quick to play as can be."""

from __future__ import annotations

from pathlib import Path

from optimizer.face.sources import open_job
from optimizer.match.workspace import Workspace
from tests.simulator import truth as bench
from tests.simulator.files import write_job
from tests.simulator.truth import SERIES, Truth, World

SIZE, DISCS = 3, 12


def small_job(folder: Path, world: World, seed: int = 0) -> Path:
    """Write the job of a world with stacks a third as tall."""
    job = write_job(folder, Truth.draw(world, seed))
    text = job.read_text(encoding="utf-8")
    text = text.replace(f"= {bench.TRAVEL_MM}", f"= {bench.TRAVEL_MM * SIZE / SERIES}")
    text = text.replace(f"[{SERIES}, {SERIES}]", f"[{SIZE}, {SIZE}]")
    job.write_text(text, encoding="utf-8")
    bag = folder / "bag.csv"
    rows = bag.read_text(encoding="utf-8").splitlines()[: DISCS + 1]
    bag.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return job


def small_work(folder: Path, world: World, seed: int = 0) -> Workspace:
    """Open the small job."""
    return open_job(small_job(folder, world, seed))
