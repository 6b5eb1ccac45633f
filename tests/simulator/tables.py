"""The experiment tables: `python -m tests.simulator.tables --bags 200`.

Every play is kept in a file of JSON lines as soon as it is done, so a run that was stopped
goes on where it ended. The tables are printed, or written with --out, as markdown.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from optimizer.units import N_PER_LBF
from tests.simulator import gauged, play, sets, slips, travels
from tests.simulator.setup import job_for
from tests.simulator.truth import Truth, World
from tests.simulator.write import SECTIONS, markdown

WORLDS = {
    "sharp + caliper": World(True, 0.010, flat_sd_mm=0.02, place_sd_mm=0.02),
    "sharp + micrometer": World(True, 0.002, flat_sd_mm=0.02, place_sd_mm=0.005),
    "dressed + caliper": World(False, 0.010, flat_sd_mm=0.02, place_sd_mm=0.02),
    "dressed + micrometer": World(False, 0.002, flat_sd_mm=0.02, place_sd_mm=0.005),
}
RULES = {
    "best swap, all read": (play.best_swap, True),
    "best swap, only what changed read": (play.best_swap, False),
    "swap of highest and lowest, all read": (play.high_low_swap, True),
}
#: sds assumed as multiples of the true ones, of which all stand in the job
WRONG: dict[str, dict[str, float]] = {
    "all x 0.5": {"instrument": 0.5, "edges": 0.5, "rest": 0.5},
    "all x 2": {"instrument": 2.0, "edges": 2.0, "rest": 2.0},
    "edges x 2": {"edges": 2.0},
    "instrument x 0.5": {"instrument": 0.5},
}
#: pressed by themselves before the first build, and matched and swapped by what that tells
GAUGED = {"groups of three gauged first": 3, "each disc pressed first": 1}
WAYS_TO_ADVISE = (
    "as they are", "measure three times more", "a micrometer", "dress", "groups of three",
)  # fmt: skip


@dataclass(frozen=True)
class Trial:
    """One row of one table: how a bag of a seed is played, and with how many bags at most."""

    section: str
    row: str
    run: Callable[[int], Any]
    most: int | None = None


def trials() -> Iterator[Trial]:
    """Every row of every table."""
    for name, world in WORLDS.items():
        yield Trial("rounds", f"{name} | learning", _learning(world))
        yield Trial("rounds", f"{name} | learning, all read", _learning(world, whole=True))
        for rule_name, (rule, whole) in RULES.items():
            yield Trial("rounds", f"{name} | {rule_name}", _rule(world, rule, whole))
        yield Trial("rounds", f"{name} | groups of three by rule", _grouped(world))
        for way_name, size in GAUGED.items():
            if name == "dressed + caliper":
                yield Trial("rounds", f"{name} | {way_name}", _gauged(world, size))
        yield Trial("first", name, _first(world))
        yield Trial("odds", name, _odd_sets(world))
    frictionless = replace(WORLDS["sharp + micrometer"], friction=0.0)
    yield Trial("odds", "sharp + micrometer, a bench without friction", _odd_sets(frictionless))
    for name in ("sharp + caliper", "dressed + caliper"):
        for what in WAYS_TO_ADVISE:
            if name.startswith("dressed") and what == "dress":
                continue
            yield Trial("advice", f"{name} | {what}", _advised(WORLDS[name], what))
    for name, world in WORLDS.items():
        for junction in (0.0, 0.5):
            yield Trial("groups", f"{name} | {junction:g}", _groups(world, junction))
    for name in ("sharp + caliper", "dressed + micrometer"):
        for wrong, factors in WRONG.items():
            yield Trial("wrong", f"{name} | {wrong}", _learning(WORLDS[name], **factors))
    for name, world in WORLDS.items():
        yield Trial("suspects", f"{name} | nothing wrong", _suspects(world, 0.0), 100)
        yield Trial("suspects", f"{name} | a seat 6 lbf off", _suspects(world, 6.0), 50)
        for slip in slips.SLIPS:
            yield Trial("slips", f"{name} | {slip} | reads again", _slips(world, slip, False), 100)
        for slip in slips.ASKED:
            yield Trial("slips", f"{name} | {slip} | insists", _slips(world, slip, True), 100)
    yield Trial("travels", "the example", travels.example, 1)
    yield Trial("travels", "seeded bag", travels.seeded, 20)


def _learning(
    world: World,
    instrument: float = 1.0,
    edges: float = 1.0,
    rest: float = 1.0,
    whole: bool = False,
) -> Callable[[int], Any]:
    assumed = replace(
        world,
        instrument_sd_mm=instrument * world.instrument_sd_mm,
        sharp_scatter=edges * world.sharp_scatter,
        dressed_scatter=edges * world.dressed_scatter,
        stiffness_sd=rest * world.stiffness_sd,
        flat_sd_mm=rest * world.flat_sd_mm,
        place_sd_mm=rest * world.place_sd_mm,
    )
    return lambda seed: asdict(
        play.with_learning(Truth.draw(world, seed), job_for(world, assumed), whole=whole)
    )


def _suspects(world: World, seat_lbf: float) -> Callable[[int], Any]:
    seat_n = seat_lbf * N_PER_LBF
    return lambda seed: asdict(play.suspects(Truth.draw(world, seed), job_for(world), seat_n))


def _slips(world: World, slip: str, insists: bool) -> Callable[[int], Any]:
    how = slips.SLIPS[slip]
    return lambda seed: asdict(
        slips.session(Truth.draw(world, seed), job_for(world), how, insists, seed)
    )


def _rule(world: World, rule: play.Rule, whole: bool) -> Callable[[int], Any]:
    return lambda seed: asdict(
        play.without_learning(Truth.draw(world, seed), job_for(world), rule, whole)
    )


def _grouped(world: World) -> Callable[[int], Any]:
    return lambda seed: asdict(gauged.by_rule(Truth.draw(world, seed), job_for(world), seed))


def _gauged(world: World, size: int) -> Callable[[int], Any]:
    return lambda seed: asdict(gauged.first(Truth.draw(world, seed), job_for(world), size))


def _first(world: World) -> Callable[[int], Any]:
    return lambda seed: {k: asdict(v) for k, v in sets.first_builds(world, seed).items()}


def _odd_sets(world: World) -> Callable[[int], Any]:
    return lambda seed: [asdict(outcome) for outcome in sets.odd_sets(world, seed)]


def _advised(world: World, what: str) -> Callable[[int], Any]:
    return lambda seed: asdict(sets.advised(world, seed, what))


def _groups(world: World, junction: float) -> Callable[[int], Any]:
    return lambda seed: asdict(sets.of_groups(world, seed, junction))


def main() -> None:
    """Run what is missing and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bags", type=int, default=200, help="seeded bags a row")
    parser.add_argument("--rows", default="", help="only rows whose name holds this text")
    parser.add_argument("--sections", nargs="*", default=list(SECTIONS), help="only these tables")
    parser.add_argument("--store", type=Path, default=Path("simulator.jsonl"))
    parser.add_argument("--out", type=Path, help="write the tables here")
    asked = parser.parse_args()
    done: dict[tuple[str, str, int], Any] = {}
    if asked.store.exists():
        for line in asked.store.read_text(encoding="utf-8").splitlines():
            section, row, seed, result = json.loads(line)
            done[section, row, seed] = result
    chosen = [t for t in trials() if t.section in asked.sections and asked.rows in t.row]
    with asked.store.open("a", encoding="utf-8") as store:
        for first in range(0, asked.bags, 20):  # all rows grow together
            for trial in (t for t in chosen if t.most is None or first < t.most):
                for seed in range(first, min(first + 20, trial.most or asked.bags, asked.bags)):
                    key = (trial.section, trial.row, seed)
                    if key not in done:
                        done[key] = trial.run(seed)
                        store.write(json.dumps([*key, done[key]]) + "\n")
                store.flush()
                print(f"{first + 20:4d} {trial.section}: {trial.row}", file=sys.stderr)
    text = markdown(done, asked.bags)
    if asked.out:
        asked.out.write_text(text, encoding="utf-8")
    else:
        print(text)


if __name__ == "__main__":
    main()
