"""The cheapest order for several clutches from several sizes: an integer programme."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: price of a disc beside that of packs: of two orders at one cost the smaller is taken
TIE = 1e-6


@dataclass(frozen=True)
class Ware:
    """A size as bought: discs and cost of a pack, discs of it on hand."""

    pack: int
    cost: float
    held: int = 0


@dataclass(frozen=True)
class Part:
    """A way to build sets: for a clutch, of a ware; `discs[n]` are needed for n sets.

    The discs needed for a number of sets may be infinite: no quantity does.
    """

    clutch: int
    ware: int
    discs: tuple[float, ...]


@dataclass(frozen=True)
class Choice:
    """Sets built by each part, packs bought of each ware, and what they cost."""

    sets: tuple[int, ...]
    packs: tuple[int, ...]
    cost: float


def choose(
    parts: tuple[Part, ...], wares: tuple[Ware, ...], sets: tuple[int, ...], most_wares: int = 2
) -> Choice | None:
    """Choose how many sets each part builds and how many packs are bought, at least cost.

    Parameters
    ----------
    sets : sets asked for, by clutch
    most_wares : sizes that one order may mix

    Returns
    -------
    None when no choice builds all sets.

    Notes
    -----
    Binaries z_pn choose that part p builds n sets. The discs of each ware cover what its
    parts need: held + pack * packs >= sum discs_p(n) z_pn.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    cells = [
        (p, n)
        for p, part in enumerate(parts)
        for n in range(sets[part.clutch] + 1)
        if n < len(part.discs) and np.isfinite(part.discs[n])
    ]
    z, w = len(cells), len(wares)
    part_of, count = np.array(cells, dtype=np.intp).reshape(-1, 2).T
    needs = np.array([parts[p].discs[n] for p, n in cells])
    clutch_of = np.array([parts[p].clutch for p, _ in cells], dtype=np.intp)
    ware_of = np.array([parts[p].ware for p, _ in cells], dtype=np.intp)
    wanted = np.array(
        [needs[ware_of == s].sum(initial=0.0) / ware.pack for s, ware in enumerate(wares)]
    )

    def rows(match: np.ndarray, values: np.ndarray) -> np.ndarray:
        return np.hstack([match * values, np.zeros((len(match), 2 * w))])

    one_each = rows(part_of == np.arange(len(parts))[:, None], np.ones(z))
    all_sets = rows(clutch_of == np.arange(len(sets))[:, None], count)
    supply = rows(ware_of == np.arange(w)[:, None], -needs)
    supply[:, z : z + w] = np.diag([ware.pack for ware in wares])
    opened = np.hstack([np.zeros((w, z)), -np.eye(w), np.diag(np.ceil(wanted) + 1)])
    mixed = np.concatenate([np.zeros(z + w), np.ones(w)])[None]
    used = np.hstack(
        [
            -1.0 * (ware_of == np.arange(w)[:, None]) * (count > 0),
            np.zeros((w, w)),
            len(cells) * np.eye(w),
        ]
    )
    cost = np.concatenate([TIE * needs, [ware.cost for ware in wares], np.zeros(w)])
    solved = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, np.concatenate([np.ones(z), np.full(w, np.inf), np.ones(w)])),
        constraints=[
            LinearConstraint(one_each, 1, 1),
            LinearConstraint(all_sets, sets, sets),
            LinearConstraint(supply, [-ware.held for ware in wares], np.inf),
            LinearConstraint(opened, 0, np.inf),
            LinearConstraint(used, 0, np.inf),
            LinearConstraint(mixed, 0, most_wares),
        ],
        options={"mip_rel_gap": 0.0},
    )
    if solved.x is None:
        return None
    taken = np.round(solved.x).astype(int)
    built = np.zeros(len(parts), dtype=int)
    np.add.at(built, part_of, taken[:z] * count)
    packs = tuple(int(k) for k in taken[z : z + w])
    total = sum(k * ware.cost for k, ware in zip(packs, wares, strict=True))
    return Choice(tuple(int(n) for n in built), packs, float(total))
