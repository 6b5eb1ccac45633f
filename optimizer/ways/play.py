"""One way played to its end on one bench: the real rules, what they see and nothing more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from optimizer.bench.decide import judged, next_move
from optimizer.bench.groups import choose_groups, kept_together
from optimizer.errors import CannotBuildError
from optimizer.estimate.learn import Learned, in_clutch, loads
from optimizer.estimate.problem import Task
from optimizer.model.readings import Reading
from optimizer.model.stack import Shims, Stack, StackSet, shim_totals
from optimizer.ways.first import Prepared, prepare
from optimizer.ways.hidden import Hidden
from optimizer.ways.rebuild import built_first, rebuilt
from optimizer.ways.start import StartingPoint
from optimizer.ways.way import Clock, Played, Way

#: rounds on the gauge after which a way is given up
MOST_ROUNDS = 12


@dataclass
class _Bench:
    """What stands, what was read, and what a person knows of it."""

    start: StartingPoint
    now: Prepared
    hidden: Hidden
    clock: Clock
    stacks: tuple[Stack, ...]
    shims: Shims

    def know(self) -> tuple[Learned, Task]:
        """Learn from all readings so far."""
        now = self.now
        learned, task = self.start.learned(now.task, now.readings, self.shims, now.keep_groups)
        return learned, kept_together(task, learned)

    def put(self, stacks: tuple[Stack, ...], shims: Shims, learned: Learned) -> list[int]:
        """Build what does not stand yet, or has other shims; returns the shoes of those stacks."""
        touched = [
            shoe
            for shoe, (before, after) in enumerate(zip(self.shims, shims, strict=True), 1)
            if before != after
        ]
        self.hidden.shims_mm = np.array(shim_totals(shims))
        for shoe, packs in enumerate(stacks, 1):
            stands = learned.standing.stands(shoe, packs) and shoe in self.hidden.stands
            if not stands:
                self.hidden.build(packs, learned.standing.anew(shoe, packs), shoe)
                touched.append(shoe)
        self.stacks, self.shims = stacks, shims
        return sorted(set(touched))

    def read(self, number: int, shoes: Sequence[int]) -> None:
        """Read some stacks once."""
        for shoe in shoes:
            packs = self.stacks[shoe - 1]
            seen = self.hidden.read_n(packs, shoe)
            shim = sum(self.shims[shoe - 1])
            row = Reading(number, shoe, packs, "settled", seen, shims_mm=shim)
            self.now.readings.append(row)
        self.clock.presses(len(shoes))

    def anew(self, learned: Learned, task: Task, seed: int) -> StackSet | None:
        """The best set of what is known: of groups that stay together, or of all discs."""
        groups = tuple(learned.standing.groups)
        totals = shim_totals(self.shims)
        width = self.start.job.target.spread_tolerance_n
        if groups:
            each = len(self.start.stacks[0]) // len(groups[0])
            return choose_groups(learned, task, groups, each, totals, width, seed), self.shims
        return rebuilt(task, self.stacks, self.shims, seed)


def play(start: StartingPoint, way: Way, hidden: Hidden, stop_at: float, seed: int = 0) -> Played:
    """Play a way on one bench until the set is good enough, nothing helps, or too many rounds.

    Raises
    ------
    CannotBuildError
        when there is no set after what the way does first.
    """
    clock = Clock(start.job.effort)
    now = prepare(start, way, hidden, clock)
    on = _Bench(start, now, hidden, clock, start.stacks, start.shims)
    width = start.job.target.spread_tolerance_n
    rounds = max((r.round for r in now.readings), default=0)
    first, every = rounds, range(1, len(start.stacks) + 1)
    learned, task = on.know()
    if not (start.stands and now.stands):
        built: StackSet | None = (start.stacks, start.shims)
        if now.changed and now.keep_groups:
            built = on.anew(learned, task, seed)
        elif now.changed:
            built = built_first(task, start.stacks, start.shims, seed, on_target=way.dress)
        if built is None:
            raise CannotBuildError(f"There is no set after this: {way.name}.")
        clock.builds(len(on.put(*built, learned)))
        rounds += 1
        on.read(rounds, every)
        learned, task = on.know()
    while True:
        totals = shim_totals(on.shims)
        anew = partial(on.anew, learned, task, seed)
        advice = next_move(learned, task, on.stacks, totals, width, anew, stop_at, clock.effort)
        if advice.kind in ("stop", "leave") or rounds - first >= MOST_ROUNDS:
            break
        asked: Sequence[int] = every
        if advice.kind != "reread":  # the others stand, and the command asks for them no more
            best = advice.moves[0]
            asked = on.put(best.stacks, best.shims or on.shims, learned)
            clock.moves(best.discs_moved, len(asked))
        rounds += 1
        on.read(rounds, asked)
        learned, task = on.know()
    read = loads(learned, on.stacks, shim_totals(on.shims))
    weight = task.weight
    return Played(
        clock.minutes,
        clock.discs,
        rounds - first,
        judged(read, task, width)[0],
        bool(np.ptp(hidden.loads_n(on_gauge=True) * weight) <= width),
        judged(in_clutch(learned.rig, read), task, width)[0],
    )
