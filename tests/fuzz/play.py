"""Plays commands on spoiled files in this process, and says what must never happen."""

from __future__ import annotations

import io
import json
import re
import resource
import sys
import time
import warnings
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from random import Random
from unittest.mock import patch

import numpy as np

from optimizer.cli.main import FAULT, main
from optimizer.control import Limits
from optimizer.face.sources import open_job
from optimizer.io.documents import to_json
from optimizer.match.plan import plan
from optimizer.match.solve import match
from tests.fuzz.mutate import SPOILS, odd_option

SLOW_S, LARGE_MB = 10.0, 500.0
SAYS_NAN = "says nan or inf"
EXAMPLES = Path(__file__).parents[2] / "examples"
CATALOG = Path(__file__).parents[2] / "catalogs" / "invented_supplier.csv"

#: command by the file that is spoiled; {} stands for the folder
COMMANDS: dict[str, tuple[str, ...]] = {
    "bag.csv": ("inspect {}/job.toml --json", "inspect {}/job.toml"),
    "bag.xlsx": ("inspect {}/workbook.toml --json",),
    "job.toml": ("inspect {}/job.toml --json", "engage {}/job.toml"),
    "readings.csv": (
        "engage {}/job.toml --readings {}/readings.csv --json",
        "bench {}/job.toml --plan {}/plan.json --readings {}/readings.csv --fresh --json",
    ),
    "plan.json": (
        "engage {}/job.toml --plan {}/plan.json --json",
        "retarget {}/job.toml --plan {}/plan.json --later 10 --time-limit 0.2",
    ),
    "order.json": (
        "order {}/spring.toml --received {}/spring.csv --plan {}/order.json "
        "--catalog {}/catalog.csv --draws 20 --workers 1 --json",
    ),
    "catalog.csv": ("catalog --catalog {}/catalog.csv --json",),
    "options": (
        "load {}/job.toml --stack ? --shims ? --shoe ?",
        "engage {}/job.toml --loads ? --lining-g-per-mm ?",
        "catalog --bore ? --room ? --units ?",
        "match {}/job.toml --sets ? --seed ? --time-limit ? --json",
        "retarget {}/job.toml --later ? --load-now ? --rpm-now ? --time-limit 0.2",
        "order {}/spring.toml --sets ? --confidence ? --limits-at-sd ? --lot-share ? --draws 20 "
        "--workers 1 --json",
        "engage ? --plan ?",
    ),
}


@dataclass(frozen=True)
class Played:
    """One command on one spoiled file: what it was, and what went wrong, if anything."""

    number: int
    kind: str
    words: tuple[str, ...]
    seconds: float
    faults: tuple[str, ...]


def prepare(folder: Path) -> dict[str, bytes]:
    """Write a small sound job with all its files; return what each holds."""
    rng = np.random.default_rng(5)
    rows = ["disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge,flat_mm,lot,note"]
    for k in range(1, 15):
        t, h = rng.normal(0.906, 0.008), rng.normal(0.48, 0.012)
        rows.append(f"D{k:02d},20,10.2,{t:.3f},{h:.3f},dressed,0.08,spring,invented")
    job = (EXAMPLES / "kart_mm" / "job.toml").read_text()
    job = job.replace("installed_length_mm = 11.2", "installed_length_mm = 5.35")
    job = job.replace("\ntravel_mm = 1.5", "\ntravel_mm = 0.62").replace("= 1.6", "= 0.7")
    job = job.replace("load_tolerance_n = 15", "load_tolerance_n = 90")
    files = {"bag.csv": "\n".join(rows).encode(), "job.toml": job.encode()}
    files["workbook.toml"] = job.replace("bag.csv", "bag.xlsx").encode()
    lines = CATALOG.read_bytes().splitlines()
    files["catalog.csv"] = b"\n".join(x for x in lines if x.startswith((b"size,", b"V18-100,")))
    spring = (EXAMPLES / "spring_order" / "job.toml").read_text()
    files["spring.toml"] = spring.replace("bag.csv", "spring.csv").encode()
    files["spring.csv"] = (EXAMPLES / "spring_order" / "bag.csv").read_bytes()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    work = open_job(folder / "job.toml")
    found = plan(work.job, work.task, (match(work.task, Limits()),), (), 0, None)
    files["plan.json"] = to_json(found).encode()
    files["bag.xlsx"] = _as_workbook(rows)
    loads = [stack.working_load_n for stack in found.sets[0].stacks]
    read = [f"1,{shoe},,settled,{load:.1f},," for shoe, load in enumerate(loads, 1)]
    head = "round,shoe,discs,kind,load_n,travel_mm,count"
    files["readings.csv"] = "\n".join([head, *read]).encode()
    files["order.json"] = (Path(__file__).parent / "order.json").read_bytes()
    for name in ("plan.json", "bag.xlsx", "readings.csv", "order.json"):
        (folder / name).write_bytes(files[name])
    return files


def _as_workbook(rows: list[str]) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row.split(","))
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def play(number: int, folder: Path, files: dict[str, bytes]) -> Played:
    """Spoil one file or the options of one command, run it and look at what it did."""
    rng = Random(number)
    kind = sorted(COMMANDS)[number % len(COMMANDS)]
    command = rng.choice(COMMANDS[kind])
    words = tuple(
        odd_option(rng) if word == "?" else word.replace("{}", str(folder))
        for word in command.split()
    )
    if kind != "options":
        (folder / kind).write_bytes(SPOILS[Path(kind).suffix](files[kind], rng))
    try:
        seconds, faults = run(words)
        if kind != "options" and re.search(rb"nan|inf", (folder / kind).read_bytes()):
            faults = tuple(fault for fault in faults if fault != SAYS_NAN)  # a name, perhaps
    finally:
        if kind != "options":
            (folder / kind).write_bytes(files[kind])
        (folder / "job.known.json").unlink(missing_ok=True)
    return Played(number, kind, words, seconds, faults)


def run(words: tuple[str, ...]) -> tuple[float, tuple[str, ...]]:
    """Run a command; return its seconds and what it did that it must not."""
    out, err = io.StringIO(), io.StringIO()
    before, started = _megabytes(), time.process_time()
    faults = []
    with (
        redirect_stdout(out),
        redirect_stderr(err),
        patch.object(sys, "argv", ["evenstack", *words]),
        warnings.catch_warnings(record=True, action="always") as warned,
    ):
        code: object = 0
        try:
            main()
        except SystemExit as end:
            code = end.code or 0
        except BaseException as error:
            faults.append(f"{type(error).__name__} came through")
    seconds = time.process_time() - started
    said = err.getvalue()
    if code not in (0, 2, 130):
        faults.append(f"exit code {code}")
    if FAULT in said or "Traceback" in said:
        faults.append(said.strip().splitlines()[-1])
    faults += {f"warned: {w.message} ({Path(w.filename).name}:{w.lineno})" for w in warned}
    if code == 0 and "--json" in words:
        try:
            json.loads(out.getvalue(), parse_constant=_refuse)
        except ValueError as error:
            faults.append(f"JSON: {error}")
    elif code == 0 and re.search(r"(?<![\w.'])(nan|inf)(?![\w.'])", out.getvalue()):
        faults.append(SAYS_NAN)
    if code == 2 and not said.strip():
        faults.append("refused without a word")
    if max(map(len, said.splitlines()), default=0) > 2000 or said.count("\n") > 60:
        faults.append(f"says {len(said)} letters in {said.count(chr(10))} lines")
    if seconds > SLOW_S:
        faults.append(f"took {seconds:.1f} s")
    if (more := _megabytes() - before) > LARGE_MB:
        faults.append(f"took {more:.0f} MB")
    return seconds, tuple(faults)


def _refuse(word: str) -> Callable[[], None]:
    raise ValueError(f"holds {word}")


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
