"""`match` of several jobs: one bag dealt into the sets of all, no disc in two plans."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from time import monotonic

from optimizer.control import Limits, Report, quiet
from optimizer.errors import CannotBuildError, InputError, Problem, raise_if
from optimizer.face.matching import MatchResult, dealt_of, written
from optimizer.face.sources import JobLike, open_job
from optimizer.match.lots import Dealt
from optimizer.match.mid_work import MidWork, set_aside
from optimizer.match.result import discs_of
from optimizer.match.workspace import Workspace
from optimizer.orders.clutch import clutch_name

#: jobs of which every order of dealing is tried
MOST_ORDERED = 3


@dataclass(frozen=True)
class JobPart:
    """What one of several jobs gets of a bag, None with a reason where it gets no set."""

    work: Workspace
    notes: tuple[str, ...]
    dealt: Dealt | None
    refused: CannotBuildError | None = None

    @property
    def discs(self) -> frozenset[str]:
        """Return the names of the discs that it gets."""
        names = self.work.belief.names
        return frozenset(names[d] for d in discs_of(self.dealt.sets if self.dealt else ()))


def match_jobs(
    jobs: Sequence[JobLike],
    sets: Sequence[int | None],
    seed: int = 0,
    fresh: bool = False,
    limits: Limits | None = None,
    report: Report = quiet,
    standing: MidWork | None = None,
) -> tuple[MatchResult, ...]:
    """Deal one bag into the sets of several jobs; no disc is in two of their plans.

    The jobs are dealt one after the other, in the order in which all of them get what was asked
    for, or the most sets in all; one whose `sets` is None takes what the others leave. Discs that
    a job asks to use are kept for it.

    Raises
    ------
    CannotBuildError
        when one of them gets no set in any order, with what binds it.
    InputError
        as in `match`, and where they have other bags or want the same disc.
    """
    started = monotonic()
    works = [open_job(job, None, fresh) for job in jobs]
    _check_shared(works, sets)
    limits = limits or Limits()
    lost = frozenset() if standing is None else standing.lost
    built = frozenset() if standing is None else standing.built
    best: list[JobPart] = []
    for order in _orders(sets):
        parts = _shared(works, sets, order, built, lost, seed, limits, report)
        best = max(best or parts, parts, key=lambda of: (all(s.dealt for s in of), _count(of)))
        if limits.over() or all(
            s.dealt and (n is None or len(s.dealt.sets) == n)
            for s, n in zip(parts, sets, strict=True)
        ):
            break
    for part in best:
        if part.refused is not None:
            raise part.refused
    discs = [part.discs for part in best]
    names = [clutch_name(work.job) for work in works]
    found = []
    for at, part in enumerate(best):
        assert part.dealt is not None  # those without were raised
        others = [name for k, name in enumerate(names) if k != at]
        away = frozenset().union(built, lost, *(d for k, d in enumerate(discs) if k != at))
        notes = (
            *(() if standing is None else (standing.note,)),
            *part.notes,
            f"dealt from one bag with {', '.join(others)}: no disc is in two of their plans.",
        )
        work = replace(part.work, elsewhere=away)
        seconds = monotonic() - started
        found.append(written(work, part.dealt, seed, seconds, limits, away, notes))
    return tuple(found)


def _count(parts: Sequence[JobPart]) -> int:
    return sum(len(part.dealt.sets) for part in parts if part.dealt)


def _orders(sets: Sequence[int | None]) -> Iterable[tuple[int, ...]]:
    """Orders in which to deal, as given first; who takes the rest is last."""
    at = sorted(range(len(sets)), key=lambda k: sets[k] is None)
    every = permutations(at) if len(at) <= MOST_ORDERED else (tuple(at), tuple(at[::-1]))
    return (o for o in every if all(sets[k] is not None for k in o[:-1]))


def _shared(
    works: Sequence[Workspace],
    sets: Sequence[int | None],
    order: Sequence[int],
    built: frozenset[str],
    lost: frozenset[str],
    seed: int,
    limits: Limits,
    report: Report,
) -> list[JobPart]:
    """Deal the jobs in an order; each is dealt what those before it and wishes of others leave."""
    parts: dict[int, JobPart] = {}
    for k in order:
        taken = frozenset().union(built, *(part.discs for part in parts.values()))
        wishes = (w.job.stack.use for j, w in enumerate(works) if j != k and j not in parts)
        work, notes = set_aside(works[k], taken.union(*wishes) - lost, lost)
        try:
            parts[k] = JobPart(work, notes, dealt_of(work, sets[k], seed, limits, report))
        except CannotBuildError as error:
            parts[k] = JobPart(work, notes, None, error)
    return [parts[k] for k in range(len(works))]


def _check_shared(works: Sequence[Workspace], sets: Sequence[int | None]) -> None:
    """Refuse jobs that have no bag in common, two that take the rest, and a disc that two want."""
    bags = {work.bag.path.resolve() for work in works}
    if len(bags) > 1:
        raise InputError(
            f"Expected one bag for all jobs, got {', '.join(sorted(p.name for p in bags))}.",
            ", ".join(work.job.path.name for work in works),
            "Name the same file under [bag], or match the jobs one by one.",
        )
    if list(sets).count(None) > 1:
        raise InputError(
            "Expected max of one job alone, as it takes what the others leave.",
            "--sets",
            "Write a number for the others.",
        )
    uses = Counter(name for work in works for name in set(work.job.stack.use))
    raise_if(
        Problem(
            f"Disc {name} is to be used by {count} jobs.", "[stack] use", "Leave it to one of them."
        )
        for name, count in uses.items()
        if count > 1
    )
