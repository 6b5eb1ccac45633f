"""Lots, loads and the start of the program."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from statistics import median

import numpy as np
from scipy.optimize import brentq

from optimizer.clutch.engine import engine_nm
from optimizer.clutch.start import Bite, Drive, Start
from optimizer.clutch.start import start as start_of
from optimizer.control import Limits
from optimizer.match.lots import match_lots
from optimizer.mechanics.datum import Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import deflection, stack_load
from optimizer.model.running import TorqueCurve
from optimizer.units import N_PER_LBF
from tests.speed.cases import KINDS, NINE, task_of
from tests.speed.table import show, timed


def lots(counts: tuple[int, ...]) -> None:
    """Print sets found of the bound, seconds and the growth exponent."""

    def rows() -> Iterator[list[object]]:
        for kind in (NINE, KINDS[1], KINDS[2]):
            took = []
            for count in counts:
                task = task_of(kind, count, 1)
                seconds, found = timed(lambda t=task: match_lots(t, None, N_PER_LBF, Limits(600)))
                took.append(seconds)
                spreads = [one.answer.spread_n() / N_PER_LBF for one in found.sets]
                growth = (
                    np.polyfit(np.log(counts[: len(took)]), np.log(took), 1)[0]
                    if took[1:]
                    else None
                )
                yield [
                    kind.name,
                    count,
                    str(found.sets[0].answer.patterns[0]),
                    f"{len(found.sets)}/{found.bound}",
                    seconds,
                    max(spreads),
                    None if growth is None else float(growth),
                ]

    head = ("lot", "discs", "pattern", "sets / bound", "s", "worst spread lbf", "growth exponent")
    show("Lots: as many sets as there are", head, rows())


def starts() -> None:
    """Print milliseconds of a start on an engine, and of four set side by side, without imports."""
    plain = [
        Bite(np.full(3, 0.0072), np.full(3, n), np.full(3, 0.024))
        for n in (800.0, 850.0, 890.0, 940.0)
    ]
    bites = [replace(one, load_n=one.load_n * [0.99, 1.0, 1.01]) for one in plain]
    curve = TorqueCurve((2000.0, 5000.0, 8000.0, 13000.0), (7.5, 14.0, 17.2, 10.6))
    metres = 0.136 / 7
    end = 13000 * np.pi / 30
    drive = Drive(engine_nm(curve), end, 0.0045, 165 * metres**2, metres, 40.0, 0.5)

    def run(some: list[Bite]) -> list[Start]:
        return [start_of(one, drive, 180.0) for one in some]

    run(bites)  # imports
    rows = [
        [name, 1000 * median(timed(lambda n=count: run(bites[:n]))[0] for _ in range(7))]
        for name, count in (("one start", 1), ("four", 4))
    ]
    show("Starts on an engine", ("what", "ms"), rows)


def loads() -> None:
    """Print stack loads a second: stack mechanics, and a brentq loop."""
    rng = np.random.default_rng(0)
    d = discs(20.0, 10.2, 1.0 + rng.normal(0, 0.008, 300), 0.4 + rng.normal(0, 0.012, 300), 0.07)
    p = packets(d, np.arange(300)[:, None], LoadModel(en16984))
    rows = np.argsort(rng.random((20_000, 300)), axis=1)[:, :9]
    datum, travel = Seating(6 * N_PER_LBF), 1.5

    def loop(count: int) -> np.ndarray:
        found = np.empty(count)
        for at in range(count):
            q = p.take(rows[at])
            rest = deflection(q, datum.load_n)
            found[at] = brentq(
                lambda f, q=q, rest=rest: float(deflection(q, f) - rest - travel),
                1.0,
                1200.0,
                xtol=1e-10,
            )
        return found

    slow, exact = timed(lambda: loop(100))
    whole, load = timed(lambda: stack_load(p.take(rows), datum, travel))
    a_second = [100 / slow, len(rows) / whole]
    error = np.abs(load[:100] - exact).max()
    show(
        "Loads of stacks of nine packets",
        ("way", "stacks a second", "error N", "times the loop"),
        [
            ["brentq loop", a_second[0], None, 1.0],
            ["stack_load, 20,000 at once", a_second[1], float(error), a_second[1] / a_second[0]],
        ],
    )


def start() -> None:
    """Print start-up times: help, the match of an example, and the slowest imports."""
    example = Path(__file__).parents[2] / "examples" / "kart_mm" / "job.toml"

    # an installed program has its bytecode, so it may be written here too
    compiled = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}

    def run(*words: str) -> float:
        command = [sys.executable, *words]

        def once() -> None:
            subprocess.run(command, capture_output=True, check=True, env=compiled)

        once()
        return median(timed(once)[0] for _ in range(7))

    cli = ("-m", "optimizer.cli.main")
    rows: list[list[object]] = [
        ["evenstack --help", run(*cli, "--help")],
        ["evenstack match examples/kart_mm", run(*cli, "match", str(example))],
    ]
    rows += [
        [f"import {name}", run("-c", f"import {name}") - run("-c", "import numpy")]
        for name in ("scipy.constants", "scipy.optimize", "ortools.sat.python.cp_model")
    ]
    show("Start (imports: seconds beyond numpy)", ("what", "median s"), rows)
