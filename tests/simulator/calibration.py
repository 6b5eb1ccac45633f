"""Tables that hold what was said against what came true."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

#: lines of moves by the minutes foreseen
FIFTHS = 5


def table(header: list[str], rows: list[list[str]]) -> list[str]:
    lines = ["| " + " | ".join(header) + " |", "|" + "---|" * len(header)]
    return lines + ["| " + " | ".join(row) + " |" for row in rows]


def odds(rows: Mapping[str, list[Any]]) -> list[str]:
    parts = [
        "\n## Are the chances true, before any reading?\n",
        "Sets with predicted spreads from 0 to 4 lbf, each of its own bag. Each bin: sets, mean "
        "chance said, share truly within, and whether it is inside the binomial 95 % band of what "
        "was said. A bench that carries what the formula says stands last, for what the friction "
        "that no chance knows of does to the row it belongs to.\n",
    ]
    return parts + [
        line
        for world, r in rows.items()
        for line in _bins(world, [outcome for bag in r for outcome in bag])
    ]


def foreseen(rows: Mapping[str, list[Any]]) -> list[str]:
    lines = []
    for row, r in rows.items():
        if row.endswith("| learning"):
            left, taken = np.array([one for play in r for one in play["foreseen"]]).T
            for some in np.array_split(np.argsort(left, kind="stable"), FIFTHS):
                figures = (f"{each[some].mean():.1f}" for each in (left, taken))
                lines.append([row.split(" | ")[0], str(len(some)), *figures])
    return [
        "\n## Are the minutes true that are foreseen?\n",
        "Minutes of work until a set is settled, as foreseen at every move of every play, and as "
        "then taken: a fifth of the moves a line, those of the fewest minutes first.\n",
        *table(["discs", "moves", "foreseen", "taken"], lines),
    ]


def after_readings(rows: Mapping[str, list[Any]]) -> list[str]:
    parts = ["\n## Are the chances true, after readings?\n", "Every reading of every play.\n"]
    for row, r in rows.items():
        if row.endswith("| learning"):
            said = [{"odds": o, "within": w} for play in r for o, w in play["said"]]
            parts += _bins(row.split(" | ")[0], said)
    return parts


def _bins(world: str, outcomes: list[dict[str, Any]]) -> list[str]:
    odds = np.array([o["odds"] for o in outcomes])
    within = np.array([o["within"] for o in outcomes], dtype=float)
    rng = np.random.default_rng(0)
    lines = []
    for low in np.arange(0, 1, 0.1):
        chosen = (odds >= low) & (odds < low + 0.1 + (low > 0.85))
        n = int(chosen.sum())
        if not n:
            continue
        # the band of a sum of draws of unlike chances: drawn, since they differ inside a bin
        drawn = (rng.random((4000, n)) < odds[chosen]).sum(1)
        low_n, high_n = np.percentile(drawn, [2.5, 97.5])
        hits = within[chosen].sum()
        lines.append([
            f"{low:.1f}-{low + 0.1:.1f}", str(n), f"{odds[chosen].mean():.3f}",
            f"{within[chosen].mean():.3f}", f"{low_n / n:.3f}-{high_n / n:.3f}",
            "yes" if low_n <= hits <= high_n else "NO",
        ])  # fmt: skip
    return [f"\n{world}:\n", *table(["chance", "sets", "said", "true", "band", "inside"], lines)]
