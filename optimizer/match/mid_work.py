"""A lot in the midst of its work: built sets stay, lost discs are gone, the rest is dealt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from optimizer.errors import InputError, Problem, raise_if
from optimizer.io.documents import read_plan
from optimizer.match.workspace import Workspace
from optimizer.model.plan import Plan


@dataclass(frozen=True)
class MidWork:
    """What is not dealt again: the discs of sets that stand, and those lost.

    `standing` are the plans, by their files, and how many sets of each stand, from the first on.
    """

    standing: tuple[tuple[str, int], ...]
    built: frozenset[str]
    lost: frozenset[str] = frozenset()

    @property
    def note(self) -> str:
        """Say what was left alone."""
        each = " and ".join(f"{sets} sets of {file}" for file, sets in self.standing if sets)
        first = sum(sets for _, sets in self.standing) + 1
        built = (
            f"{each} stand with {len(self.built)} discs and were not touched: count the sets of "
            f"this plan from {first} on"
            if each
            else "no set stands"
        )
        return f"{built}; {len(self.lost)} discs are lost."


def mid_work(plans: Sequence[Path], sets: Sequence[int], lost: Sequence[str]) -> MidWork:
    """Read which sets of each plan are built (all where not said) and take off the discs lost.

    Raises
    ------
    InputError
        when a plan cannot be read or has fewer sets, or a disc stands twice, or is lost and
        stands.
    """
    gone = frozenset(name.strip() for name in lost if name.strip())
    if sets and len(sets) != len(plans):
        raise InputError(
            f"Expected --built-sets once for each of {len(plans)} plans, got it {len(sets)} times.",
            "--built-sets",
            "Give them in the order of --built.",
        )
    counts, of_set = [], dict[str, tuple[Path, int]]()
    for at, path in enumerate(plans):
        read = read_plan(path)
        count = sets[at] if sets else len(read.sets)
        if count > len(read.sets):
            raise InputError(
                f"Expected at most the {len(read.sets)} sets of the plan, got {count}.",
                f"--built-sets, {path}",
                "Count the sets that stand, from the first one on.",
            )
        built = {n: one.discs for n, one in enumerate(read.sets[:count], 1)}
        raise_if(_clashes(path, built, of_set, gone))
        of_set |= {disc: (path, n) for n, discs in built.items() for disc in discs}
        counts.append(count)
    return MidWork(tuple(zip(_files(plans), counts, strict=True)), frozenset(of_set), gone)


def _clashes(
    path: Path,
    sets: dict[int, set[str]],
    before: dict[str, tuple[Path, int]],
    lost: frozenset[str],
) -> Iterator[Problem]:
    """Say which discs of sets that stand are lost as well, or stand in another set."""
    for number, discs in sets.items():
        for name in sorted(discs & lost):
            yield Problem(
                f"Disc {name} is said to be lost, and to stand in set {number}.",
                f"--lost, {path}",
                f"Name --built-sets {number - 1} if that set does not stand.",
            )
        for name in sorted(discs & before.keys()):
            other, its = before[name]
            yield Problem(
                f"Disc {name} stands in set {number}, and in set {its} of {other}.",
                f"--built, {path}",
                "Name with --built-sets how many sets of each plan stand.",
            )


def _files(plans: Sequence[Path]) -> list[str]:
    """Name plans by their folders too where there are several: most are called plan.json."""
    if len(plans) < 2:
        return [path.name for path in plans]
    return [str(Path(path.resolve().parent.name, path.name)) for path in plans]


def set_aside(
    work: Workspace, stands: frozenset[str], lost: frozenset[str] = frozenset()
) -> tuple[Workspace, tuple[str, ...]]:
    """Return the workspace without discs that are not there to deal, and what is to say of it.

    What belongs to a disc that stands, in a group or by `keep_with`, is not dealt either.

    Raises
    ------
    InputError
        when the bag has none of that name, or a lost disc is to be used.
    """
    task, number, stack = work.task, work.belief.numbers, work.job.stack
    raise_if(
        Problem(f"Expected a disc of the bag, got {name}.", "--built, --lost", "Correct the name.")
        for name in sorted((stands | lost) - number.keys())
    )
    raise_if(
        Problem(
            f"Disc {name} is said to be lost, and is to be used.",
            f"--lost, {work.job.path.name} [stack] use",
            "Take its name out of one of them.",
        )
        for name in sorted(lost.intersection(stack.use))
    )
    marks = {d.keep_with for d in work.bag.discs if d.name in stands} - {""}
    bound = {d.name for d in work.bag.discs if d.keep_with in marks}
    bound |= {name for group in stack.together if not stands.isdisjoint(group) for name in group}
    bound -= stands | lost
    groups = [[n for n in group if n not in lost] for group in stack.together]
    away = np.array([number[name] for name in stands | lost | bound], dtype=np.intp)
    task = replace(
        task,
        usable=np.setdiff1d(task.usable, away),
        use=np.setdiff1d(task.use, away),
        together=tuple(
            np.array([number[name] for name in group], dtype=np.intp)
            for group in groups
            if len(group) > 1 and not (stands | bound).intersection(group)
        ),
    )
    said = (
        f"{', '.join(sorted(bound))}: left in the bag, for they are kept with discs that stand.",
    )
    away_now = work.elsewhere | stands | lost
    return replace(work, task=task, elsewhere=away_now), said if bound else ()


def told(plan: Plan, elsewhere: frozenset[str], notes: tuple[str, ...] = ()) -> Plan:
    """Return the plan with some notes, and with discs elsewhere off the list of those left over."""
    left = tuple(name for name in plan.unused if name not in elsewhere)
    return replace(
        plan, unused=left, elsewhere=tuple(sorted(elsewhere)), warnings=(*plan.warnings, *notes)
    )
