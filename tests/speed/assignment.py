"""Time to a spread of 0.1 lbf on the exact mechanics, and the variance stage."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from statistics import median

import numpy as np

from optimizer.control import Limits
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.match.bounds import Relaxation
from optimizer.match.layouts import Layouts, arrangements
from optimizer.match.local_search import Descent
from optimizer.match.minimise_variance import matched_by_descents
from optimizer.match.packets import columns
from optimizer.match.queue import Queue
from optimizer.match.result import exact
from optimizer.match.solve import match
from optimizer.match.subproblem import Subproblem
from optimizer.units import N_PER_LBF
from tests.speed import peers
from tests.speed.cases import KINDS, Kind, free_task, task_of
from tests.speed.table import show, timed

COUNTS = (24, 36, 48, 60)
SECONDS = 5.0


def lead_of(task: Task) -> Relaxation | None:
    """Prepare what all of them work on: packets, pattern, rows, relaxation."""
    queue = Queue(Layouts.of(task), task.resolution_n / 2)
    return queue.next(np.inf, Limits())


def patterns(seeds: int) -> None:
    """Print how long it takes to list all patterns and to bound those that could be best."""

    def rows() -> Iterator[list[object]]:
        for count in COUNTS:
            tasks = [free_task(count, seed) for seed in range(seeds)]
            listed = [timed(lambda t=task: arrangements(t, columns(t))) for task in tasks]
            bounded = [timed(lambda t=task: lead_of(t)) for task in tasks]
            yield [
                count,
                median(len(found) for _, found in listed),
                median(s for s, _ in listed),
                median(s for s, _ in bounded),
                max(s for s, _ in bounded),
            ]

    head = ("discs", "patterns that fit", "listed s", "bounded s", "worst s")
    show("Patterns of singles, pairs and triples, any number of discs", head, rows())


def spread(task: Task, made: Subproblem, chosen: peers.Answer) -> float | None:
    """Exact spread in lbf of the working loads."""
    if chosen is None:
        return None
    answer = exact(task, made.stacks(chosen), made.shims, 0.0)
    return answer.spread_n(task.weight) / N_PER_LBF


def ours(task: Task, lead: Relaxation) -> peers.Answer:
    """Descents to a set that keeps the work and the worn row."""
    rng = np.random.default_rng(0)
    return matched_by_descents(Descent(task, lead.subproblem), lead, rng, Limits())


def to_a_tenth(seeds: int) -> None:
    """Print the time to 0.1 lbf, given the subproblem; medians over seeds, spreads the worst."""

    def rows() -> Iterator[list[object]]:
        for kind in KINDS:
            for count in COUNTS:
                yield from _compared(kind, count, seeds)

    head = ("bag", "way", "reached", "median s", "worst s", "median spread lbf")
    show(
        "To a spread of 0.1 lbf (given packets and pattern; peers: working travel only)",
        head,
        rows(),
    )


def _compared(kind: Kind, count: int, seeds: int) -> Iterator[list[object]]:
    cases = [(task, lead_of(task)) for task in (task_of(kind, count, s) for s in range(seeds))]
    ready = [(task, lead) for task, lead in cases if lead is not None]
    if not ready:
        yield [f"{kind.name} {count}", "no pattern has a relaxed answer", 0, None, None, None]
        return
    ways: list[tuple[str, Callable[[Task, Relaxation], peers.Answer]]] = [
        ("ours, with the worn travel", ours),
        ("HiGHS milp", lambda t, x: peers.highs(t, x.subproblem, SECONDS, True)),
        ("CP-SAT min max-min", lambda t, x: peers.minimise_spread(t, x.subproblem, SECONDS)[0]),
        ("greedy snake", lambda t, x: peers.snake(t, x.subproblem)),
        ("10,000 random swaps", lambda t, x: peers.random_swaps(t, x.subproblem, 0)),
    ]
    if kind.sizes == (1,):
        ways.append(("Karmarkar-Karp", lambda t, x: peers.differencing(t, x.subproblem)))
    for name, way in ways:
        runs = [timed(lambda w=way, t=task, x=lead: w(t, x)) for task, lead in ready]
        spreads = [
            spread(task, lead.subproblem, chosen)
            for (task, lead), (_, chosen) in zip(ready, runs, strict=True)
        ]
        known = [s for s in spreads if s is not None]
        reached = sum(s <= 0.1005 for s in known)
        seconds = [s for s, _ in runs]
        yield [
            f"{kind.name} {count}",
            name,
            f"{reached}/{len(ready)}",
            median(seconds),
            max(seconds),
            median(known) if known else None,
        ]


def whole_match(seeds: int) -> None:
    """Print `match` from the posed task: preparation, match and variance stage together."""

    def rows() -> Iterator[list[object]]:
        for kind in KINDS:
            for count in COUNTS:
                tasks = [task_of(kind, count, seed) for seed in range(seeds)]
                prepared = [timed(lambda t=task: lead_of(t)) for task in tasks]
                lead = next((x for _, x in prepared if x is not None), None)
                runs = [timed(lambda t=task: _matched(t)) for task in tasks]
                gaps = [g for _, (_, g) in runs if g is not None]
                spreads = [s for _, (s, _) in runs if s is not None]
                there = lead is not None
                cost, bound = (
                    peers.direct(tasks[0], lead.subproblem, SECONDS) if there else (1.0, 1.0)
                )
                yield [
                    f"{kind.name} {count}",
                    median(s for s, _ in prepared),
                    median(s for s, _ in runs),
                    max(s for s, _ in runs),
                    f"{len(spreads)}/{len(tasks)}",
                    max(spreads) if spreads else None,
                    f"{median(gaps):.3%}" if gaps else None,
                    f"{max(gaps):.3%}" if gaps else None,
                    f"{1 - bound / cost:.2%}" if there and np.isfinite(cost) else "no set",
                ]

    head = (
        "bag",
        "preparation s",
        "match s",
        "worst s",
        "matched",
        "worst spread lbf",
        "median gap",
        "worst gap",
        f"direct CP-SAT gap at {SECONDS:g} s (first bag)",
    )
    show("The whole match with its variance stage", head, rows())


def _matched(task: Task) -> tuple[float | None, float | None]:
    try:
        matched = match(task, Limits())
    except CannotBuildError:
        return None, None
    return matched.answer.spread_n(task.weight) / N_PER_LBF, matched.variance_gap


def refusals(seeds: int) -> None:
    """Print how long it takes to know that a bag cannot do it."""

    def rows() -> Iterator[list[object]]:
        from dataclasses import replace

        for kind in KINDS:
            tasks = [task_of(kind, 40, seed) for seed in range(seeds)]
            far = [replace(t, target_n=t.target_n * 1.25) for t in tasks]
            known = [timed(lambda t=task: lead_of(t)) for task in far]
            told = [timed(lambda t=task: _matched(t)) for task in far]
            refused = sum(s is None for _, (s, _) in told)
            yield [
                kind.name,
                f"{sum(x is None for _, x in known)}/{len(far)}",
                median(s for s, _ in known),
                f"{refused}/{len(far)}",
                median(s for s, _ in told),
            ]

    head = (
        "bag of 40, target 1.25 times",
        "certified",
        "median s",
        "refused with reasons",
        "median s with reasons",
    )
    show("Infeasible targets", head, rows())
