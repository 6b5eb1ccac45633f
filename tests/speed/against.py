"""Two trees of the project in one run: the same commands in turn, medians side by side.

Bags are matched with --json: a tree may write sheets beside a plan that the other does not have.
Seconds are those of the processor, children with them, so that what else a machine does matters
less; which tree goes first changes from time to time. A command that one of them does not know
is told and left out.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from tests.bags import seeded_bag
from tests.speed.cases import KINDS, Kind, load_of
from tests.speed.table import show

ROOT = Path(__file__).parents[2]
#: a median that is so much larger is worse
WORSE = 1.05
RUN = """
try:
    from optimizer.cli.entry import main
except ImportError:  # where it stood before there was a room of commands
    from optimizer.cli import main
main()
"""


def compare(other: Path, times: int) -> None:
    """Print the commands with the seconds of both trees."""
    with TemporaryDirectory() as place:
        cases = dict(_cases(Path(place)))
        head = ("command", f"{other.name} s", "this s", "this / other", "")
        rows = (_row(name, words, other, times) for name, words in cases.items())
        show(f"Against {other.name}: processor seconds, medians of {times}", head, rows)


def _row(name: str, words: list[str], other: Path, times: int) -> list[object]:
    took: dict[Path, list[float]] = {other: [], ROOT: []}
    for turn in range(times + 1):
        for tree in (other, ROOT) if turn % 2 else (ROOT, other):
            seconds = _seconds(tree, words)
            if seconds is None:
                return [name, None, None, None, f"not known to {tree.name}"]
            took[tree].append(seconds)
    # the first of each only fills caches of files
    was, now = (median(took[tree][1:]) for tree in (other, ROOT))
    return [name, was, now, now / was, "worse" if now > WORSE * was else ""]


def _seconds(tree: Path, words: list[str]) -> float | None:
    """Processor seconds of a command of a tree; None where it is refused."""
    compiled = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    with TemporaryDirectory() as place:
        folder = Path(place)
        at = [word.replace("OUT", str(folder / "out")) for word in words]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        ran = subprocess.run(
            [sys.executable, "-c", RUN, *at],
            env=compiled | {"PYTHONPATH": str(tree)}, cwd=folder, capture_output=True, check=False,
        )  # fmt: skip
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if ran.returncode:
        return None
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def _cases(folder: Path) -> Iterator[tuple[str, list[str]]]:
    for name in ("kart_mm", "bench_in", "spring_order"):
        shutil.copytree(ROOT / "examples" / name, folder / name)
    kart, inches, order = (
        str(folder / name / "job.toml") for name in ("kart_mm", "bench_in", "spring_order")
    )
    yield "--help", ["--help"]
    yield "inspect kart_mm", ["inspect", kart]
    yield "engage kart_mm", ["engage", kart]
    for name, job in (("kart_mm", kart), ("bench_in", inches)):
        yield f"match {name}", ["match", job, "--out", "OUT"]
    for kind in KINDS:
        for count in (24, 48):
            job = written(folder / f"{kind.name}{count}", kind, count)
            yield f"match {kind.name} {count}", ["match", str(job), "--json"]
    lot = written(folder / "lot", KINDS[2], 300)
    most = ["match", str(lot), "--sets", "max", "--json"]
    yield "match 300 discs to as many sets as there are", most
    catalog = str(ROOT / "catalogs" / "invented_supplier.csv")
    words = ["order", order, "--catalog", catalog, "--sets", "2", "--draws", "100"]
    yield "order spring_order", [*words, "--workers", "1"]


def written(folder: Path, kind: Kind, count: int) -> Path:
    """Write job and bag of a kind; return the job's file."""
    folder.mkdir()
    rows = [
        f"{d.name},{d.od_mm},{d.id_mm},{d.thickness_mm},{d.cone_height_mm},{d.edge},"
        f"{0.14 if d.edge == 'dressed' else ''}"
        for d in seeded_bag(count, 0, kind.thickness_mm, kind.cone_mm).discs
    ]
    head = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge,flat_mm"
    (folder / "bag.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    (folder / "job.toml").write_text(
        f"""[bag]
file = "bag.csv"
[clutch]
shoes = 3
travel_mm = {kind.travel_mm}
worn_travel_mm = {kind.travel_mm + 0.1:g}
[datum]
seating_load_n = 26.7
[target]
load_n = {load_of(kind):.1f}
load_tolerance_n = 22
spread_tolerance_n = 9
[stack]
packet_sizes = {list(kind.sizes)}
discs = [{kind.pattern.discs}, {kind.pattern.discs}]
deflection_limit = 0.8
""",
        encoding="utf-8",
    )
    return folder / "job.toml"
