"""A search for any set that knows nothing of the matcher: random dealing and exchanges."""

from __future__ import annotations

from itertools import combinations_with_replacement, permutations

import numpy as np

from optimizer.estimate.problem import Task
from optimizer.match.layouts import shims_of
from optimizer.mechanics.datum import Installed
from optimizer.mechanics.packet import packets
from optimizer.mechanics.stack import deflection, required_deflection
from optimizer.model.pattern import patterns
from optimizer.model.stack import shim_totals
from tests.match.random_jobs import breaks, members_of_deal

#: sets dealt at random in one look, and exchanges tried on the best of them
DEALT, BEST, EXCHANGES = 300, 6, 400


def found_by_chance(task: Task, seed: int, looks: int = 8) -> tuple[np.ndarray, tuple] | None:
    """Look for any set within every limit by random dealing and exchanges."""
    rng = np.random.default_rng([seed, 11])
    most = len(task.usable) // task.shoes
    low, high = task.rules.discs or (1, most)
    kinds = list(patterns(task.rules.packet_sizes, (low, min(high, most))))
    if not kinds:
        return None
    shims = shims_of(task)
    groups = [(p,) * task.shoes for p in kinds]
    if not task.rules.same_pattern and task.shoes > 1:
        near = kinds if len(kinds) <= 6 else [kinds[k] for k in rng.permutation(len(kinds))[:6]]
        groups += [g for c in combinations_with_replacement(near, task.shoes)
                   for g in set(permutations(c)) if len(set(g)) > 1]  # fmt: skip
    scored = []
    for group in groups:
        if sum(p.discs for p in group) > len(task.usable):
            continue
        for choice in shims:
            members = members_of_deal(task, group, rng.permutation(task.usable))
            scored.append((_off(task, members[None], choice)[0], len(scored), group, choice))
    for _, _, group, choice in sorted(scored)[:looks]:
        found = _by_exchange(task, group, choice, rng)
        if found is not None:
            return found, choice
    return None


def _off(task: Task, members: np.ndarray, choice) -> np.ndarray:
    """How far sets (K, S, P, 3) are from the target loads at the worst shoe, in N."""
    shim = np.array(shim_totals(choice))
    k = len(members)
    datum = task.datum
    if isinstance(datum, Installed):
        datum = Installed(np.tile(np.broadcast_to(datum.length_mm, (task.shoes,)), k))
    p = packets(task.discs, members.reshape(-1, *members.shape[2:]), task.model)
    travel, shim = np.tile(task.travel_mm, k), np.tile(shim, k)
    wanted = required_deflection(p, datum, travel, shim)
    target = np.tile(task.target_n, k)
    # how much more the stack yields at its target than the travel gives, as a load
    yields = deflection(p, target)
    step = (deflection(p, 1.01 * target) - yields) / (0.01 * target)
    off = np.abs(yields - wanted) / np.maximum(step, 1e-6)
    return (off * np.tile(task.weight, k)).reshape(k, -1).max(1)


def _by_exchange(task: Task, group, choice, rng) -> np.ndarray | None:
    usable = task.usable
    dealt = np.stack([rng.permutation(usable) for _ in range(DEALT)])
    for row in dealt:  # those that must be used go first, somewhere
        for disc in task.use:
            at, to = (
                int(np.flatnonzero(row == disc)[0]),
                int(rng.integers(sum(p.discs for p in group))),
            )
            row[[at, to]] = row[[to, at]]
    off = _off(task, np.stack([members_of_deal(task, group, row) for row in dealt]), choice)
    used = sum(p.discs for p in group)
    for k in np.argsort(off)[:BEST]:
        row, best = dealt[k].copy(), off[k]
        for _ in range(EXCHANGES // 40):
            tried = np.tile(row, (40, 1))
            for each in tried:
                a, b = int(rng.integers(used)), int(rng.integers(len(row)))
                each[[a, b]] = each[[b, a]]
            sets = np.stack([members_of_deal(task, group, each) for each in tried])
            value = _off(task, sets, choice)
            for at in np.argsort(value)[:4]:
                if value[at] <= 1.3 * task.load_tolerance_n and not breaks(task, sets[at], choice):
                    return sets[at]
            if value.min() < best:
                row, best = tried[value.argmin()], value.min()
    return None
