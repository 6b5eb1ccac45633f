"""Tables of the plays, as markdown."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import numpy as np

from tests.simulator.calibration import after_readings, foreseen, odds, table

SECTIONS = (
    "rounds", "first", "odds", "advice", "groups", "wrong", "suspects", "slips", "travels",
)  # fmt: skip
Done = Mapping[tuple[str, str, int], Any]


def markdown(done: Done, bags: int) -> str:
    """Write every table for which there are plays."""
    rows: dict[str, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
    for (section, row, seed), result in sorted(done.items(), key=lambda item: item[0][2]):
        if seed < bags:
            rows[section][row].append(result)
    writers = {
        "rounds": _rounds, "first": _first, "odds": odds,
        "advice": _advice, "groups": _groups, "wrong": _wrong,
        "suspects": _suspects, "slips": _slips, "travels": _travels,
    }  # fmt: skip
    parts = [INTRODUCTION]
    for section in SECTIONS:
        if rows[section]:
            parts += writers[section](rows[section])
    if rows["rounds"]:
        parts += foreseen(rows["rounds"])
        parts += after_readings(rows["rounds"]) + _apart(rows["rounds"])
    return "\n".join(parts) + "\n"


INTRODUCTION = """# What the simulator says

Made by `python -m tests.simulator.tables --bags 100 --out FILE`, seeded.
A hidden-truth bench, everything invented: 40 discs 20 x 10.2 mm, nine in series, three shoes,
some 200 lbf, 2 lbf asked. True thickness and cone height differ by 8 and 15 um (sd), stiffness
by 1 %, the lot's modulus by 1.5 %; edges scatter by 2 % (sharp) or 0.4 % (dressed) a disc at
every build; friction 2 %; gauge zero off by 0.5 lbf (sd), 1 lbf steps, 0.2 lbf noise, travel
stop 2 um. A caliper errs by 10 um, a micrometer by 2 um (sd); dressed flats are measured to 20 um,
the travel of each shoe to 20 um beside a caliper and 5 um beside a micrometer, and the gauge reads
in the clutch, on its own shoes. Shares carry a standard error of some 3 to 5 %, means of rounds of
some 0.1. The bench carries 2 % more than the formula says: no chance before readings knows it."""


def _of(results: list[Any], name: str) -> np.ndarray:
    return np.array([r[name] for r in results], dtype=float)


def _share(values: np.ndarray) -> str:
    return f"{100 * values.mean():.1f} %"


def _rounds(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = []
    for row, r in rows.items():
        minutes = _of(r, "minutes")
        lines.append([
            *row.split(" | "), str(len(r)),
            f"{minutes.mean():.1f} +- {minutes.std() / np.sqrt(len(r)):.1f}",
            f"{np.percentile(minutes, 90):.0f}",
            f"{_of(r, 'rounds').mean():.2f}", f"{_of(r, 'builds').mean():.2f}",
            f"{_of(r, 'moved').mean():.2f}", _share(_of(r, "within")),
        ])  # fmt: skip
    return [
        "\n## Minutes until a set is done\n",
        "From the bag as measured to the way's own stop: a chance of 90 % for learning, readings "
        "within 2 lbf for the others. Minutes by the usual values of `[effort]`, with the standard "
        "error of their mean; a round is one in which anything was read.\n",
        *table(
            ["discs", "way", "bags", "minutes", "ninth decile", "rounds", "with building",
             "discs moved", "truly within at stop"],
            lines,
        ),
    ]  # fmt: skip


def _first(rows: Mapping[str, list[Any]]) -> list[str]:
    ways = list(next(iter(rows.values()))[0])
    lines = [
        [world, str(len(r)), *(_share(np.array([x[w]["within"] for x in r])) for w in ways),
         _share(np.array([x["by chance"]["odds"] for x in r]))]
        for world, r in rows.items()
    ]  # fmt: skip
    return [
        "\n## The first build truly within 2 lbf\n",
        *table(["discs", "bags", *ways, "chance said of by chance"], lines),
    ]


def _advice(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = []
    for row, r in rows.items():
        lines.append([*row.split(" | "), str(len(r)), _share(_of(r, "odds")),
                      _share(_of(r, "within"))])  # fmt: skip
    return [
        "\n## Is the advice right?\n",
        "The first build after each way, with the chance that it promises.\n",
        *table(["discs", "way", "bags", "chance said", "truly within"], lines),
    ]


def _groups(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = [
        [*row.split(" | "), str(len(r)), _share(_of(r, "odds")), _share(_of(r, "within"))]
        for row, r in rows.items()
    ]
    return [
        "\n## Groups of three that stay together\n",
        "Assumed: a group that is not taken apart keeps how its edges settled, but for the "
        "outer faces of its end discs, which draw half of their scatter (variance) anew.\n",
        *table(["discs", "drawn anew at the ends", "bags", "chance said", "truly within"], lines),
    ]


def _apart(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = [
        [row.split(" | ")[0], str(len(r)), _share(_of(r, "within")), _share(_of(r, "apart_odds")),
         _share(_of(r, "apart_within"))]
        for row, r in rows.items() if row.endswith("| learning")
    ]  # fmt: skip
    return [
        "\n## Does a match survive being taken apart?\n",
        "The certified set, built again of the same discs.\n",
        *table(["discs", "bags", "within at the stop", "chance said if rebuilt", "true"], lines),
    ]


def _wrong(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = []
    for row, r in rows.items():
        world, wrong = row.split(" | ")
        long = [x for x in r if len(x["said"]) > 1]
        lines.append([
            world, wrong, str(len(r)), _share(_of(r, "odds")),
            _share(_of(r, "first_within")), f"{_of(r, 'minutes').mean():.1f}",
            f"{_of(r, 'builds').mean():.2f}", _share(_of(r, "within")),
            _share(_of(long, "scatter_told")) if long else "",
        ])  # fmt: skip
    return [
        "\n## Wrong assumptions\n",
        "Sds assumed half or twice the true ones: all, or those of edges or instrument alone.\n",
        *table(
            ["discs", "assumed", "bags", "chance said of the first build", "true",
             "minutes", "builds at stop", "truly within at stop",
             "scatter noticed (plays of several rounds)"],
            lines,
        ),
    ]  # fmt: skip


def _suspects(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = [
        [*row.split(" | "), str(len(r)), f"{_of(r, 'rounds').mean():.1f}", _share(_of(r, "any")),
         _share(_of(r, "seat"))]
        for row, r in rows.items()
    ]  # fmt: skip
    return [
        "\n## Is a suspect named when, and only when, something is wrong?\n",
        "Bench sessions until the advice is to stop, at most six rounds; a seat that is off adds "
        "to every reading of its shoe. Aimed at: a suspect in about one honest session of twenty, "
        "and the bad seat named in most.\n",
        *table(
            ["discs", "bench", "sessions", "rounds", "a suspect named", "that seat named"], lines
        ),
    ]


def _slips(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = [
        [*row.split(" | "), str(len(r)), f"{_of(r, 'slips').sum():.0f}",
         f"{_of(r, 'asked_wrong').sum():.0f}", f"{_of(r, 'asked_right').sum():.0f}",
         f"{_of(r, 'builds').mean():.2f}", f"{_of(r, 'rounds').mean():.2f}",
         _share(_of(r, "within"))]
        for row, r in rows.items()
    ]  # fmt: skip
    return [
        "\n## A hand that slips once in twenty readings\n",
        "Sessions until the advice is to stop. Who is asked reads the gauge again, or always "
        "insists. A load on the wrong shoe is that of the next shoe. Aimed at: truly within in "
        "95 %, at most half a round more than without slips.\n",
        *table(
            ["discs", "slip", "who is asked", "sessions", "slips", "slips asked about",
             "right readings asked about", "rounds of building", "rounds read",
             "truly within at stop"],
            lines,
        ),
    ]  # fmt: skip


#: spreads in lbf asked for when three travels are matched at once, and chance that it may cost
TRAVELS_ASKED = {"work": 0.1, "worn": 0.1, "rest": 0.3}
ODDS_COST = 0.02


def _travels(rows: Mapping[str, list[Any]]) -> list[str]:
    bags = {
        row if len(r) == 1 else f"{row} {seed}": bag
        for row, r in rows.items() for seed, bag in enumerate(r)
    }  # fmt: skip
    ways = {way: [bag[way] for bag in bags.values()] for way in ("three travels", "work only")}
    cost = _of(ways["work only"], "odds") - _of(ways["three travels"], "odds")
    total = []
    for way, sets in ways.items():
        spread = {travel: _of(sets, travel) for travel in TRAVELS_ASKED}
        inside = [spread[t] < limit + 0.005 for t, limit in TRAVELS_ASKED.items()]
        total.append([
            way, *(f"{np.median(s):.2f} / {s.max():.2f}" for s in spread.values()),
            *(f"{i.sum()} of {len(bags)}" for i in (*inside, np.all(inside, axis=0))),
            f"{100 * np.median(_of(sets, 'odds')):.1f} %",
        ])  # fmt: skip
    each = [
        [name, bag["three travels"]["pattern"], f"{bag['three travels']['rest_load']:.0f}"]
        + [f"{bag[way][travel]:.2f}" for way in ways for travel in TRAVELS_ASKED]
        + [f"{100 * bag[way]['odds']:.1f} %" for way in ways]
        for name, bag in bags.items()
    ]
    return [
        "\n## Three travels at once\n",
        "Spreads in lbf at the travel, on a worn drum and at rest, median / worst, of bags of 40 "
        "discs in a room that presses the stacks at rest; predicted, on the exact mechanics. Asked "
        "for: 0.1 at the travel and worn, 0.3 at rest, at no more than 2 points of chance.\n",
        *table(
            ["matched at", "work", "worn", "rest", "work within", "worn within", "rest within",
             "all within", "chance, median"],
            total,
        ),
        f"\nMatching all three costs {100 * np.median(cost):.1f} points of chance in the median "
        f"and {100 * cost.max():.1f} at worst; {(cost <= ODDS_COST).sum()} of {len(cost)} bags "
        "lose no more than 2. Bag by bag, three travels then work only:\n",
        *table(
            ["bag", "pattern", "load at rest", "work", "worn", "rest", "work", "worn", "rest",
             "chance", "chance, work only"],
            each,
        ),
    ]  # fmt: skip
