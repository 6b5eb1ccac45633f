"""Random jobs, what an answer may break, and a search that knows nothing of the matcher.

`python -m tests.match.random_jobs 200` matches so many jobs twice and prints what it found;
RESULTS.md beside this file has the figures. Everything is invented.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace

import numpy as np

from optimizer.control import Limits
from optimizer.errors import CannotBuildError, EvenstackError
from optimizer.estimate.problem import Task
from optimizer.match.result import Assigned
from optimizer.match.solve import match
from optimizer.mechanics.datum import Installed
from optimizer.mechanics.packet import nesting_order, packets, residual_cone_height
from optimizer.mechanics.stack import free_height, stack_load
from optimizer.model.job import Datum, StackRules
from optimizer.model.pattern import Pattern, patterns
from optimizer.model.stack import shim_totals
from tests.bags import exact_shoe, plain_job, seeded_bag, seeded_task

#: what rounding may add to a load or length before a limit counts as broken
N, MM, SHARE = 1e-6, 1e-9, 1e-9


@dataclass(frozen=True)
class Random:
    """One random job: its number and the task it poses."""

    number: int
    task: Task

    @property
    def small(self) -> bool:
        """Whether a search by chance is likely to find a set where there is one."""
        return len(self.task.belief) <= 16


def random_job(number: int) -> Random:
    """Draw a job; even numbers are small."""
    rng = np.random.default_rng([number, 7])
    shoes = int(rng.integers(1, 7 if number % 2 else 4))
    count = int(rng.integers(24, 49)) if number % 2 else int(rng.integers(3 * shoes, 17))
    sizes = [(1,), (1, 2), (1, 3), (1, 2, 3), (2,)][int(rng.integers(5))]
    law = ("en16984", "thick")[int(rng.integers(2))]
    bag = seeded_bag(
        max(count, shoes * sizes[0]), number, spread=float(rng.choice([0.3, 1.0, 2.0]))
    )
    each = len(bag.discs) // shoes
    like = [p for p in patterns(sizes, (1, each)) if p.packets <= 9]
    pattern = like[int(rng.integers(len(like)))]
    travel = float(rng.uniform(0.12, 0.2)) * pattern.packets
    job = plain_job(travel_mm=travel, worn_mm=travel * float(rng.choice([1.0, 1.06])), shoes=shoes)
    job = replace(job, model=replace(job.model, law=law))
    names = [disc.name for disc in bag.discs]
    rules = StackRules(
        packet_sizes=sizes,
        same_pattern=bool(rng.random() < 0.7),
        deflection_limit=float(rng.choice([0.6, 0.75, 0.85])),
    )
    pick = list(rng.permutation(names))
    if rng.random() < 0.25:
        rules = replace(rules, use=(pick.pop(),))
    if rng.random() < 0.25 and len(pick) > 3:
        rules = replace(rules, leave=(pick.pop(), pick.pop()))
    if rng.random() < 0.25 and each >= 2 and len(pick) > 3:
        rules = replace(rules, together=((pick.pop(), pick.pop()),))
    if rng.random() < 0.3:
        rules = replace(rules, discs=(max(pattern.discs - 1, 1), pattern.discs + 1))
    if rng.random() < 0.3:
        unlike = rng.uniform(0.9, 1.1, shoes)
        job = replace(
            job,
            shoes=tuple(exact_shoe(travel * k, job.shoes[0].worn_travel_mm * k) for k in unlike),
        )
    # a target near what a stack of this pattern carries, and a room that it fills or not
    task = seeded_task(bag, replace(job, stack=rules))
    middle = _stack_of(task, pattern, rng)
    load = float(stack_load(middle, task.datum, travel)[0])
    height = float(free_height(middle)[0])
    if rng.random() < 0.5:
        gap = float(rng.uniform(-0.05, 0.15)) * pattern.packets
        shims = tuple(
            float(s) for s in rng.choice([0.05, 0.1, 0.2, 0.3, 0.5], int(rng.integers(4)))
        )
        job = replace(job, datum=Datum(None, height + 0.02 - gap))
        rules = replace(rules, shims_mm=shims)
        squeezed = gap + travel - 0.02
        task = seeded_task(bag, replace(job, stack=rules))
        try:
            load = float(stack_load(middle, Installed(height), squeezed)[0])
        except EvenstackError:
            load = 800.0
    if rng.random() < 0.25:
        rules = replace(rules, free_height_mm=(0.97 * height, 1.03 * height))
    target = max(load, 30.0) * float(rng.choice([0.97, 1.0, 1.0, 1.02]))
    aim = replace(job.target, load_n=target, load_tolerance_n=float(rng.choice([2.0, 9.0, 25.0])))
    task = seeded_task(bag, replace(job, stack=rules, target=aim))
    if rng.random() < 0.2:
        task = replace(task, target_n=task.target_n * rng.uniform(0.95, 1.05, shoes))
    return Random(number, task)


def _stack_of(task: Task, pattern: Pattern, rng: np.random.Generator):
    return packets(
        task.discs, members_of_deal(task, (pattern,), rng.permutation(len(task.belief))), task.model
    )


def members_of_deal(task: Task, group: tuple[Pattern, ...], discs) -> np.ndarray:
    """Deal discs in order to stacks of these patterns: (S, P, 3), nested tallest first."""
    cone = task.discs.cone_height_mm
    members = np.full((len(group), max(p.packets for p in group), 3), -1, dtype=np.intp)
    at = 0
    for i, pattern in enumerate(group):
        for k, size in enumerate(pattern.sizes):
            taken = np.asarray(discs[at : at + size])
            members[i, k, :size] = taken[nesting_order(cone[taken])]
            at += size
    return members


def breaks(task: Task, members: np.ndarray, shims) -> list[str]:
    """Say what a set breaks: every rule looked at by itself, on the exact mechanics."""
    rules, found = task.rules, []
    used = members[members >= 0].tolist()
    if len(set(used)) < len(used):
        found.append("a disc twice")
    if set(used) - set(task.usable.tolist()):
        found.append("a disc left out")
    if set(task.use.tolist()) - set(used):
        found.append("a disc not used")
    stacks = [set(stack[stack >= 0].tolist()) for stack in members]
    for group in task.together:
        held = [len(stack & set(group.tolist())) for stack in stacks]
        if sum(held) and max(held) < len(group):
            found.append("a group parted")
    count = np.array([len(stack) for stack in stacks])
    low, high = rules.discs or (1, 10**6)
    if (count < low).any() or (count > high).any():
        found.append("number of discs")
    sizes = (members >= 0).sum(-1)
    if set(sizes[sizes > 0].tolist()) - set(rules.packet_sizes):
        found.append("packet size")
    kinds = {tuple(sorted(row[row > 0].tolist())) for row in sizes}
    if rules.same_pattern and len(kinds) > 1:
        found.append("unlike patterns")
    on_hand = list(rules.shims_mm)
    for shim in (s for each in shims for s in each):
        if shim not in on_hand:
            found.append("a shim twice or not on hand")
            break
        on_hand.remove(shim)
    p = packets(task.discs, members, task.model)
    height = free_height(p)
    low, high = rules.free_height_mm or (0.0, np.inf)
    if (height < low - MM).any() or (height > high + MM).any():
        found.append("free height")
    try:
        work = stack_load(p, task.datum, task.travel_mm, np.array(shim_totals(shims)))
        stack_load(p, task.datum, task.worn_travel_mm, np.array(shim_totals(shims)))
    except EvenstackError:
        return [*found, "pressed solid"]
    off = np.abs(work - task.target_n) * task.weight
    if off.max() > task.load_tolerance_n + N:
        found.append(f"load {off.max() - task.load_tolerance_n:.3g} N beyond the tolerance")
    free = np.where(p.free_mm > 0, p.free_mm, 1.0)
    share = np.where(p.free_mm > 0, 1 - residual_cone_height(p, work[:, None]) / free, 0.0).max()
    if share > rules.deflection_limit + SHARE:
        found.append(f"pressed to {share:.4f} h, not {rules.deflection_limit:g} h")
    return found


@dataclass(frozen=True)
class Outcome:
    """What became of one job; `seconds` are of the processor, first of two runs."""

    number: int
    built: bool
    broken: tuple[str, ...]
    differs: bool
    claims_proof: bool
    by_chance: bool
    seconds: float
    said: str


def play(job: Random, twice: bool = True, search: bool = True) -> Outcome:
    """Match a job and look at the answer."""
    started = time.process_time()
    first = _answer(job.task)
    seconds = time.process_time() - started
    differs = twice and repr(_answer(job.task)[0]) != repr(first[0])
    answer, said = first
    if answer is not None:
        broken = breaks(job.task, answer.stacks, answer.shims)
        return Outcome(job.number, True, tuple(broken), differs, False, False, seconds, said)
    from tests.match.by_chance import found_by_chance

    chance = search and job.small and found_by_chance(job.task, job.number) is not None
    proof = "not proven" not in said
    return Outcome(job.number, False, (), differs, proof, chance, seconds, said)


def _answer(task: Task) -> tuple[Assigned | None, str]:
    try:
        return match(task, Limits(600.0)).answer, ""
    except CannotBuildError as error:
        return None, str(error)


def main() -> None:
    """Print what became of so many jobs."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    played = []
    for number in range(first, first + count):
        one = play(random_job(number))
        played.append(one)
        if one.broken or one.differs or one.by_chance or one.seconds > 8:
            print(
                number,
                f"{one.seconds:.1f} s",
                one.broken,
                "differs" * one.differs,
                "refused though there is one" * one.by_chance,
                one.said[:160],
                flush=True,
            )
    seconds = np.array([one.seconds for one in played])
    refused = [one for one in played if not one.built]
    print(f"jobs {len(played)}, built {len(played) - len(refused)}, refused {len(refused)}")
    print(f"break a limit {sum(bool(o.broken) for o in played)}")
    print(f"differ between two runs {sum(o.differs for o in played)}")
    print(
        f"refused with proof {sum(o.claims_proof for o in refused)}, "
        f"refused though a set was found by chance {sum(o.by_chance for o in refused)}"
    )
    print(
        f"seconds of the processor: median {np.median(seconds):.2f}, "
        f"nine in ten below {np.quantile(seconds, 0.9):.2f}, worst {seconds.max():.1f}"
    )


if __name__ == "__main__":
    main()
