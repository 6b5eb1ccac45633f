"""Random lots: how near the target the sets come, and whether any breaks a limit.

`python -m tests.match.random_lots 50` deals so many and prints what it found. Everything is
invented.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match.check import broken
from optimizer.match.lots import match_lots
from optimizer.match.result import discs_of, is_loose
from optimizer.model.job import StackRules
from optimizer.units import N_PER_LBF
from tests.bags import plain_job, seeded_bag, seeded_task

SHIMS_MM = (0.05, 0.1, 0.15, 0.2, 0.3, 0.5)


def random_lot(number: int) -> Task:
    """Draw a lot of 90 to 300 discs and a job for it, often with shims of many thicknesses.

    Every third has groups of two to five discs that stay together, and one of them in use.
    """
    rng = np.random.default_rng([number, 77])
    sizes = [(1,), (2,), (1, 2), (1, 2, 3)][int(rng.integers(4))]
    installed = [None, 11.7, 12.4, 13.2][int(rng.integers(4))]
    shims = SHIMS_MM * 3 if installed and rng.random() < 0.7 else ()
    limit = [0.75, 0.6, 0.65][int(rng.integers(3))]
    rules = StackRules(packet_sizes=sizes, shims_mm=shims, deflection_limit=limit)
    target = float(rng.uniform(650, 1000))
    bag = seeded_bag([90, 150, 300][int(rng.integers(3))], number)
    if number % 3 == 0:
        names = [disc.name for disc in bag.discs]
        size, step = int(rng.integers(2, 6)), int(rng.integers(5, 12))
        together = tuple(tuple(names[k : k + size]) for k in range(0, len(names) - size, step))
        rules = replace(rules, together=together, use=together[1][:1])
    job = plain_job(installed_mm=installed, target_n=target, tolerance_n=25.0, rules=rules)
    return seeded_task(bag, job)


def main() -> None:
    off, breaks, mixed, refused, kept, groups = [], 0, 0, 0, 0, 0
    count = int(sys.argv[1])
    for number in range(count):
        task = random_lot(number)
        try:
            sets = match_lots(task, None, 2 * N_PER_LBF, Limits()).sets
        except CannotBuildError:
            refused += 1
            continue
        dealt = discs_of(sets)
        breaks += not set(task.use.tolist()) <= dealt
        kept += sum(dealt.issuperset(group.tolist()) for group in task.together)
        groups += len(task.together)
        each = replace(task, use=task.use[:0])
        breaks += sum(bool(broken(each, one.answer)) for one in sets)
        loose = {is_loose(task, one.answer) for one in sets}
        mixed += len(loose) > 1
        off += [float(np.abs(one.answer.work_n - task.target_n).max()) for one in sets]
    print(f"lots {count}, refused {refused}, sets {len(off)}, break a limit {breaks}")
    print(f"groups kept together {groups}, in a set {kept}")
    print(f"lots with loose sets among those that press {mixed}")
    print(f"N from the target: median {np.median(off):.2f}, mean {np.mean(off):.2f}")


if __name__ == "__main__":
    main()
