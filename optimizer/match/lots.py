"""Lots: as many matched sets as hundreds or thousands of discs admit.

One pattern for all sets: the one that the lot admits most sets of. The discs that bring the
mean stack to its target are chosen, nested with their neighbours in cone height, dealt to
all stacks at once and evened out; sorted by load, stacks that follow each other are a set.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.control import Limits, Report, quiet
from optimizer.errors import CannotBuildError, Problem
from optimizer.estimate.problem import Task
from optimizer.match.layouts import Layouts, shims_of
from optimizer.match.lot_layouts import LotLayout, bears, like_packets, lot_layouts
from optimizer.match.lot_stacks import deal, lot_objective, within
from optimizer.match.packets import PacketTable, all_over
from optimizer.match.result import Matched, discs_of, is_loose
from optimizer.match.solve import match, refusal

#: patterns dealt before the best result is taken
MOST_TRIED = 12
#: part of the most sets that counts as the most where the stacks come nearer their target
NEARLY = 0.95
#: discs on which loads at other travels are tabulated
SAMPLE = 40


@dataclass(frozen=True)
class Dealt:
    """Matched sets of a bag and what to say of them.

    `beyond_n` are the spreads of sets of a lot that were dealt and do not match. `bound` is the
    most sets that a lot could give, 0 where that is not known: sets of one pattern whose nested
    discs are of like cone height, that presses at rest if any set does, and no more than asked for.
    """

    sets: tuple[Matched, ...]
    notes: tuple[str, ...] = ()
    beyond_n: tuple[float, ...] = ()
    bound: int = 0


def match_lots(
    task: Task,
    sets: int | None,
    spread_n: float,
    limits: Limits,
    seed: int = 0,
    report: Report = quiet,
) -> Dealt:
    """Deal a lot into `sets` matched sets, or as many as it admits when None.

    Parameters
    ----------
    spread_n : spread up to which a set counts as matched, on the exact mechanics; where there
        is but one set, it is the best there is

    Raises
    ------
    CannotBuildError
        when not one set can be built, or none with a disc that the job asks to use; says what
        binds.
    """
    report("looking at the lot", 0.0)
    like, ways = _ways(task, sets)
    if max((way.bound for way in ways), default=0) == 1:
        # no lot, and a single set can be made better
        one = (match(task, limits, seed, report),)
        return Dealt(one, (_note(one, 1),), bound=1)
    every, bound = _best(task, like, ways, spread_n, limits, seed, report)
    best = within(task, every, spread_n)
    if not best:
        raise _refusal(task, limits)
    if not set(task.use.tolist()) <= discs_of(best):
        raise _lacks(task, best)
    beyond = tuple(one.answer.spread_n(task.weight) for one in every[len(best) :])
    return Dealt(best[:sets], (_note(best[:sets], bound),), beyond, bound)


def dealt_with(task: Task, spread_n: float, limits: Limits, seed: int = 0) -> Matched | None:
    """Deal one set that holds every disc to be used; None where none matches.

    It is not the best there is, as `match` finds it, but soon found whatever is to be used.
    """
    like, ways = _ways(task, 1)
    every, _ = _best(task, like, ways, spread_n, limits, seed, quiet)
    best = within(task, every, spread_n)
    return best[0] if best and set(task.use.tolist()) <= discs_of(best) else None


def _ways(task: Task, sets: int | None) -> tuple[dict[int, PacketTable], list[LotLayout]]:
    """Return packets of like discs of each size, and the layouts of sets that a lot may give."""
    like = {k: like_packets(task, k) for k in task.rules.packet_sizes}
    like = {k: table for k, table in like.items() if bears(task, table).any()}
    most = sets or len(task.usable)
    return like, [way for shims in shims_of(task) for way in lot_layouts(task, like, shims, most)]


def _best(
    task: Task,
    like: dict[int, PacketTable],
    ways: list[LotLayout],
    spread_n: float,
    limits: Limits,
    seed: int,
    report: Report,
) -> tuple[tuple[Matched, ...], int]:
    """Deal a lot in its likeliest layouts; return the most sets and a bound on their number.

    None, and 0, where none match. A loose stack rattles: such layouts come only where none presses
    at rest.
    """
    sample = replace(task, usable=all_over(task, task.usable, SAMPLE))
    nominal = Layouts.of(sample, ()).nominal
    for loose in (False, True):
        some = [way for way in ways if way.loose == loose]
        bound = max((way.bound for way in some), default=0)
        some.sort(key=lambda way: _order(way, bound, task.resolution_n))
        best: tuple[Matched, ...] = ()
        for at, way in enumerate(some[:MOST_TRIED]):
            used, count = lot_objective(task, best, spread_n)
            enough = count >= NEARLY * bound or way.bound <= count
            if (enough and used == len(task.use)) or (count and limits.over()):
                break
            report(f"dealing {way.bound} sets", at / MOST_TRIED)
            rng = np.random.default_rng([seed, at])
            dealt = deal(task, like, nominal, way, spread_n, limits, rng)
            found = tuple(one for one in dealt if loose or not is_loose(task, one.answer))
            best = max(best, found, key=lambda sets: lot_objective(task, sets, spread_n))
        if within(task, best, spread_n):
            return best, bound
    return (), 0


def _order(way: LotLayout, most: int, resolution_n: float) -> tuple[float, ...]:
    """Ways that give about the most sets first, of these the one nearest its target."""
    fewer = 0 if way.bound >= NEARLY * most else most - way.bound
    return (fewer, round(way.off_n / resolution_n), sum(map(len, way.shims)), way.cost)


def _note(sets: tuple[Matched, ...], bound: int) -> str:
    """Say how many sets there are of how many there could be."""
    answer = sets[0].answer
    shims = " Each set takes the shims of the job." if any(answer.shims) else ""
    return (
        f"{len(sets)} matched {'set' if len(sets) == 1 else 'sets'} of {answer.patterns[0]} a "
        f"stack, {len(sets) / bound:.0%} of the at most {bound} that one pattern could give with "
        f"nested discs of like cone height.{shims}"
    )


def _lacks(task: Task, sets: tuple[Matched, ...]) -> CannotBuildError:
    """Name the discs that were to be used and are in none of the sets."""
    names = [task.belief.names[d] for d in sorted(set(task.use.tolist()) - discs_of(sets))]
    return CannotBuildError(
        f"No set that matches holds {', '.join(names)}; {len(sets)} sets without would.",
        "[stack] use",
        "Take the name out, or widen spread_tolerance or load_tolerance.",
    )


def _refusal(task: Task, limits: Limits) -> CannotBuildError:
    """Explain on a sample of the lot why there is no set of it."""
    sample = replace(task, usable=all_over(task, task.usable, SAMPLE))
    headline, *reasons = refusal(sample, "", limits).problems
    first = f"{len(sample.usable)} usable discs of the bag"
    lot = f"the lot of {len(task.usable)} usable discs"
    return CannotBuildError(Problem(headline.what.replace(first, lot)), *reasons)
