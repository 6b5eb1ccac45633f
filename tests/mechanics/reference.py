"""The published values of tests/data as discs and arrays; tests/data/README.md has the sources."""

import csv
from pathlib import Path

import numpy as np

from optimizer.mechanics.disc import Discs, discs

DATA = Path(__file__).parents[1] / "data"


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def column(table: list[dict[str, str]], name: str) -> np.ndarray:
    return np.array([float(row[name] or "nan") for row in table])


def sizes(table: list[dict[str, str]]) -> Discs:
    """Discs of rows with the columns od_mm, id_mm, thickness_mm, cone_height_mm [, flat_mm]."""
    names = ["od_mm", "id_mm", "thickness_mm", "cone_height_mm", "flat_mm"]
    return discs(*(column(table, n) for n in names if n in table[0]))


def nested(text: str) -> Discs:
    """Discs of the column discs_bottom_to_top: od/id/thickness/cone height, blank between."""
    return discs(*np.array([[float(v) for v in one.split("/")] for one in text.split()]).T)
