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
from optimizer.match.lot_stacks import deal, discs_of, within, worth
from optimizer.match.packets import PacketTable
from optimizer.match.result import Matched, is_loose
from optimizer.match.solve import match, refusal
from optimizer.model.stack import Shims

#: patterns dealt before the best result is taken
MOST_TRIED = 12
#: part of the most sets that counts as the most where the stacks come nearer their target
NEARLY = 0.95
#: discs on which loads at other travels are tabulated
SAMPLE = 40


@dataclass(frozen=True)
class Lots:
    """Matched sets of one pattern, an upper bound on their number, and the share reached.

    The bound holds for sets of one pattern whose nested discs are of like cone height, that
    presses at rest if any set does, and is no greater than the number asked for. `beyond_n` are
    the spreads of sets that were dealt and do not match.
    """

    sets: tuple[Matched, ...]
    bound: int
    share: float
    beyond_n: tuple[float, ...] = ()

    @property
    def note(self) -> str:
        """Say how many sets there are of how many there could be."""
        answer = self.sets[0].answer
        shims = " Each set takes the shims of the job." if any(answer.shims) else ""
        return (
            f"{len(self.sets)} matched sets of {answer.patterns[0]} a stack, {self.share:.1%} of "
            f"the at most {self.bound} that one pattern could give with nested discs of like "
            f"cone height.{shims}"
        )


def match_lots(
    task: Task,
    sets: int | None,
    spread_n: float,
    limits: Limits,
    seed: int = 0,
    report: Report = quiet,
) -> Lots:
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
    lot = _Lot.of(task, sets, spread_n, seed)
    if max((way.bound for way, _ in lot.possible), default=0) == 1:
        # no lot, and a single set can be made better
        return Lots((match(task, limits, seed, report),), 1, 1.0)
    every, bound = lot.best(limits, report)
    best = within(task, every, spread_n)
    if not best:
        raise _refusal(task, limits)
    if not set(task.use.tolist()) <= discs_of(best):
        raise _lacks(task, best)
    beyond = tuple(one.answer.spread_n(task.weight) for one in every[len(best) :])
    return Lots(best[:sets], bound, len(best[:sets]) / bound, beyond)


def dealt_with(task: Task, spread_n: float, limits: Limits, seed: int = 0) -> Matched | None:
    """Deal one set that holds every disc to be used; None where none matches.

    It is not the best there is, as `match` finds it, but soon found whatever is to be used.
    """
    every, _ = _Lot.of(task, 1, spread_n, seed).best(limits, quiet)
    best = within(task, every, spread_n)
    return best[0] if best and set(task.use.tolist()) <= discs_of(best) else None


@dataclass(frozen=True)
class _Lot:
    """A lot to be dealt: packets of like discs of each size, and the layouts with their shims.

    `spread_n` is the spread up to which a set matches.
    """

    task: Task
    like: dict[int, PacketTable]
    possible: list[tuple[LotLayout, Shims]]
    spread_n: float
    seed: int

    @staticmethod
    def of(task: Task, sets: int | None, spread_n: float, seed: int) -> _Lot:
        """List the layouts of sets that a lot may give."""
        like = {k: like_packets(task, k) for k in task.rules.packet_sizes}
        like = {k: table for k, table in like.items() if bears(task, table).any()}
        possible = [
            (way, shims)
            for shims in shims_of(task)
            for way in lot_layouts(_shimmed(task, shims), like, sets or len(task.usable))
        ]
        return _Lot(task, like, possible, spread_n, seed)

    def best(self, limits: Limits, report: Report) -> tuple[tuple[Matched, ...], int]:
        """Return the sets of the best layout and a bound on their number; none where none match.

        A loose stack rattles: such layouts come only where none presses at rest.
        """
        for loose in (False, True):
            of_kind = [one for one in self.possible if one[0].loose == loose]
            bound = max((way.bound for way, _ in of_kind), default=0)
            best = self._dealt(of_kind, bound, limits, report)
            if within(self.task, best, self.spread_n):
                return best, bound
        return (), 0

    def _dealt(
        self, some: list[tuple[LotLayout, Shims]], bound: int, limits: Limits, report: Report
    ) -> tuple[Matched, ...]:
        """Deal the lot in the likeliest layouts; the sets of the one that gives most of `bound`."""
        task, spread_n = self.task, self.spread_n
        nominal = Layouts.of(_sample(task), ()).nominal
        some = sorted(some, key=lambda one: _order(one[0], one[1], bound, task.resolution_n))
        best: tuple[Matched, ...] = ()
        for at, (way, shims) in enumerate(some[:MOST_TRIED]):
            used, count = worth(task, best, spread_n)
            enough = count >= NEARLY * bound or way.bound <= count
            if (enough and used == len(task.use)) or (count and limits.over()):
                break
            report(f"dealing {way.bound} sets", at / MOST_TRIED)
            rng = np.random.default_rng([self.seed, at])
            shimmed = _shimmed(task, shims)
            found = [
                replace(one, answer=replace(one.answer, shims=shims))
                for one in deal(shimmed, self.like, nominal, way, spread_n, limits, rng)
                if way.loose or not is_loose(shimmed, one.answer)
            ]
            best = max(best, tuple(found), key=lambda sets: worth(task, sets, spread_n))
        return best


def _order(way: LotLayout, shims: Shims, most: int, resolution_n: float) -> tuple[float, ...]:
    """Ways that give about the most sets first, of these the one nearest its target."""
    fewer = 0 if way.bound >= NEARLY * most else most - way.bound
    return (fewer, round(way.off_n / resolution_n), sum(map(len, shims)), way.cost)


def _lacks(task: Task, sets: tuple[Matched, ...]) -> CannotBuildError:
    """Name the discs that were to be used and are in none of the sets."""
    names = [task.belief.names[d] for d in sorted(set(task.use.tolist()) - discs_of(sets))]
    return CannotBuildError.of(
        f"No set that matches holds {', '.join(names)}; {len(sets)} sets without would.",
        "[stack] use",
        "Take the name out, or widen spread_tolerance or load_tolerance.",
    )


def _shimmed(task: Task, shims: Shims) -> Task:
    """The same task with rooms shorter by the shims of each shoe."""
    if not any(shims):
        return task
    return replace(task, datum=task.datum.with_shims(np.array([sum(s) for s in shims])))


def _refusal(task: Task, limits: Limits) -> CannotBuildError:
    """Explain on a sample of the lot why there is no set of it."""
    sample = _sample(task)
    headline, *reasons = refusal(sample, "", limits).problems
    first = f"{len(sample.usable)} usable discs of the bag"
    lot = f"lot of {len(task.usable)} usable discs"
    return CannotBuildError(Problem(headline.what.replace(first, lot)), *reasons)


def _sample(task: Task) -> Task:
    """The same task with a few discs from all over the lot."""
    order = task.usable[np.argsort(task.discs.cone_height_mm[task.usable], kind="stable")]
    places = np.unique(np.linspace(0, len(order) - 1, SAMPLE).astype(np.intp))
    return replace(task, usable=order[places])
