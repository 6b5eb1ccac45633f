"""A later or earlier hookup: from today's stacks to a new engagement speed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.clutch.engagement import balanced_load_n, rpm_per_newton
from optimizer.control import Interrupted, Limits, Report, quiet
from optimizer.errors import CannotBuildError
from optimizer.estimate.problem import Task
from optimizer.frozen import frozen_arrays
from optimizer.hookup.buy import SoldOption, discs_to_buy, shims_to_buy, sold_ways
from optimizer.hookup.moves import MOST_SEARCHED, distance, packet_changes, rebuilds, shim_changes
from optimizer.hookup.reachable import SpeedRange, ranges
from optimizer.hookup.today import ClutchState, as_told
from optimizer.hookup.way import REACHED_RPM, HookupWay, Kind, completed, rank, tallest_mm, way
from optimizer.hookup.workshop import workshop_ways
from optimizer.match.infeasibility import TARGET
from optimizer.match.plan import plan_stacks
from optimizer.match.result import Assigned
from optimizer.match.solve import match
from optimizer.mechanics.disc import Array
from optimizer.model.catalog import Size
from optimizer.model.job import Effort

#: minutes of work where a job does not say
EFFORT = Effort()
#: ways shown of one kind, and ways shown that come nearer but do not reach
MOST_ALIKE = 2
MOST_MISSING = 2
_NO_DISCS = "No discs of these diameters and this cone height reach it in any pattern allowed: "
_OTHERWISE = {
    True: _NO_DISCS + "take larger discs, or lighter shoes, which come in later.",
    False: _NO_DISCS + "take smaller or flatter discs, or heavier shoes, which come in earlier.",
}
#: steps back from a target out of reach, each to this share of the way from today, and
#: halvings between the last two
STEPS_BACK = 12
STEP_SHARE = 0.75
HALVINGS = 3
#: patterns tried at each of these steps
MOST_NEAREST = 2


@dataclass(frozen=True)
@frozen_arrays
class Retarget:
    """Ways to `target_rpm`, best first; `target_n` (S) are the loads that it takes.

    Where nothing on hand reaches it: `reasons` say what binds, `nearest` is the set nearest
    to it that can be built, `buy` what would reach it; `stopped` says that not all was
    tried. `today_mm` is the tallest of today's stacks with its shims, None where they are not
    known. `workshop` are ways that leave today's stacks as they are and change the clutch,
    `sold` discs of a catalog, `ranges` how far each kind of way leads.
    """

    now: ClutchState
    today_mm: float | None
    target_rpm: float
    target_n: Array
    band_limit_rpm: float
    ways: tuple[HookupWay, ...]
    reasons: tuple[str, ...]
    nearest: HookupWay | None
    buy: tuple[str, ...]
    stopped: bool
    workshop: tuple[HookupWay, ...] = ()
    sold: tuple[SoldOption, ...] = ()
    ranges: tuple[SpeedRange, ...] = ()

    @property
    def reached(self) -> bool:
        """Whether a way on hand comes near enough."""
        return any(_reaches(one, self.target_rpm) for one in self.ways)

    @property
    def numbered(self) -> tuple[HookupWay, ...]:
        """All ways in the order of their numbers, from 1."""
        nearest = () if self.reached or self.nearest is None else (self.nearest,)
        return (*self.ways, *nearest, *self.workshop)


def retarget(
    task: Task,
    spread_tolerance_n: float,
    now: ClutchState,
    target_rpm: float,
    limits: Limits,
    seed: int = 0,
    report: Report = quiet,
    effort: Effort = EFFORT,
    sizes: Sequence[Size] = (),
) -> Retarget:
    """Find ways from today's stacks to a new engagement speed with bag and shims on hand.

    Beside them what is made in a workshop, and `sizes` as they are sold.
    """
    target_n = balanced_load_n(now.pull_kgm, target_rpm)
    wanted = replace(task, target_n=target_n)
    per_newton = float(rpm_per_newton(target_rpm, target_n).mean())
    report("small moves", 0.0)
    found = _small(wanted, now)
    report("other patterns", 0.3)
    found += _rebuilt(wanted, now, limits, seed)
    reasons: tuple[str, ...] = ()
    if not any(_reaches(one, target_rpm) for one in found):
        report("every arrangement", 0.5)
        more, reasons = _everything(wanted, now, limits, seed)
        found += more
    asked = abs(target_rpm - now.hookup.mean_rpm)
    band = per_newton * spread_tolerance_n
    ranked = rank(found, target_rpm, band)
    reach = [one for one in ranked if _reaches(one, target_rpm)]
    even = [one for one in ranked if one.hookup.band_rpm <= band]
    near = [one for one in even if REACHED_RPM < abs(one.misses_rpm(target_rpm)) < asked]
    nearest = None
    if not reach:
        report("nearest that can be built", 0.7)
        nearest = _nearest(task, now, target_rpm, near, limits, seed)

    def told(ways: Iterable[HookupWay]) -> tuple[HookupWay, ...]:
        return tuple(completed(one, wanted, now, effort, spread_tolerance_n) for one in ways)

    return Retarget(
        now,
        None if now.stacks is None else tallest_mm(plan_stacks(task, now.stacks)),
        target_rpm,
        target_n,
        band,
        told(_some(reach, band) or near[:MOST_MISSING]),
        reasons,
        None if nearest is None else told([nearest])[0],
        _buy(wanted, now, reach),
        limits.over(),
        told(workshop_ways(wanted, now, target_rpm)),
        sold_ways(wanted, now, target_rpm, sizes) if sizes else (),
        tuple(ranges(task, now, target_rpm)),
    )


def _small(wanted: Task, now: ClutchState) -> list[HookupWay]:
    if now.stacks is None:
        return []
    kinds: tuple[tuple[Kind, list[tuple[str, Assigned]]], ...] = (
        ("shims", [(w, as_told(wanted, a, now)) for w, a in shim_changes(wanted, now.stacks)]),
        ("packet", list(packet_changes(wanted, now.stacks))),
    )
    made = [
        way(wanted, now.pull_kgm, kind, what, answer, now.stacks)
        for kind, tried in kinds
        for what, answer in tried
    ]
    return [w for w in made if w is not None]


def _rebuilt(
    wanted: Task, now: ClutchState, limits: Limits, seed: int, most: int = MOST_SEARCHED
) -> Iterator[HookupWay]:
    patterns = None if now.stacks is None else now.stacks.patterns
    for answer in rebuilds(wanted, patterns, limits, seed, most):
        made = _described(wanted, now, answer)
        if made is not None:
            yield made


def _described(wanted: Task, now: ClutchState, answer: Assigned) -> HookupWay | None:
    """Say how a rebuilt set differs from today's."""
    kind: Kind = "pattern"
    what = "new pattern"
    if now.stacks is not None:
        apart = distance(answer.patterns, now.stacks.patterns)
        more = sum(p.packets for p in answer.patterns) > sum(p.packets for p in now.stacks.patterns)
        if apart == 0:
            kind, what = "discs", "other discs, same pattern"
        if apart == 1:
            what = f"one packet {'more' if more else 'less'}, all discs chosen anew"
    return way(wanted, now.pull_kgm, kind, what, answer, now.stacks)


def _some(ways: list[HookupWay], band_rpm: float) -> list[HookupWay]:
    """Keep the best few of each kind; wide ones only where there is no other."""
    kept: list[HookupWay] = []
    for one in [w for w in ways if w.hookup.band_rpm <= band_rpm] or ways:
        if sum(one.what == other.what for other in kept) < MOST_ALIKE:
            kept.append(one)
    return kept


def _buy(wanted: Task, now: ClutchState, reach: list[HookupWay]) -> tuple[str, ...]:
    """Shims where the stacks would have to be rebuilt, discs where nothing reaches."""
    if any(one.kind in ("shims", "packet") for one in reach):
        return ()
    shims = () if now.stacks is None else shims_to_buy(wanted, now.stacks)
    if reach:
        return shims
    later = wanted.target_n.mean() > now.load_n.mean()
    return (*shims, *(tuple(discs_to_buy(wanted)) or (_OTHERWISE[later],)))


def _reaches(one: HookupWay, target_rpm: float) -> bool:
    return abs(one.misses_rpm(target_rpm)) <= REACHED_RPM


def _everything(
    wanted: Task, now: ClutchState, limits: Limits, seed: int
) -> tuple[list[HookupWay], tuple[str, ...]]:
    """Ask the whole assignment: a set after all, or the reasons why there is none."""
    try:
        answer = match(wanted, limits, seed).answer
    except CannotBuildError as error:
        # the load follows from the speed asked for: the job's own target is not to blame
        return [], tuple(str(problem) for problem in error.problems if problem.where != TARGET)
    except Interrupted:
        return [], ()
    made = _described(wanted, now, answer)
    return ([] if made is None else [made]), ()


def _nearest(
    task: Task,
    now: ClutchState,
    target_rpm: float,
    near: list[HookupWay],
    limits: Limits,
    seed: int,
) -> HookupWay | None:
    """Find the set nearest to the target by going back from it towards today's speed."""

    def build(rpm: float) -> HookupWay | None:
        wanted = replace(task, target_n=balanced_load_n(now.pull_kgm, rpm))
        return next(_rebuilt(wanted, now, limits, seed, MOST_NEAREST), None)

    best = near[0] if near else None
    start = now.hookup.mean_rpm
    low, high, found = start, target_rpm, None
    for step in range(1, STEPS_BACK + 1):
        low = start + STEP_SHARE**step * (target_rpm - start)
        found = build(low)
        if found is not None or limits.over():
            break
        high = low
    if found is None:
        return best
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        better = build(middle)
        found, low, high = (better, middle, high) if better else (found, low, middle)
    if best is None or abs(found.misses_rpm(target_rpm)) < abs(best.misses_rpm(target_rpm)):
        return found
    return best
