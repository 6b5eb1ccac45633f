"""What is known of a job: the readings of every bench session, and what they teach together.

The readings are kept, not what was concluded from them: whatever is believed is learned anew
from all of them, so nothing counts twice and a bag that has grown, or another load law, simply
gives another lesson.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isclose

from optimizer.estimate.learn import Learned, Loads, in_clutch, learn, loads
from optimizer.estimate.problem import Task
from optimizer.estimate.repeats import SCALE_SD
from optimizer.mechanics.datum import Datum
from optimizer.mechanics.disc import Array
from optimizer.model.readings import Reading, Record, Speed
from optimizer.model.stack import Shims, Stack, discs_of, shim_totals


@dataclass(frozen=True)
class Known:
    """What the records teach.

    `stacks` and `shims_mm` stand under the shoes (S); a stack is empty where its discs were
    last seen under another shoe. `unread` are the shoes of whose stack no reading counts.
    """

    records: tuple[Record, ...]
    speed: Speed | None
    learned: Learned
    stacks: tuple[Stack, ...]
    shims_mm: Shims
    unread: tuple[int, ...]

    @property
    def stands(self) -> bool:
        """Whether every shoe has a stack."""
        return bool(self.stacks) and all(self.stacks)

    @property
    def factor_sd(self) -> float | None:
        """Relative uncertainty of the load factor; None while no settled reading told it."""
        if not self.learned.evidence.count:
            return None
        return self.learned.load_factor_sd / self.learned.load_factor

    def loads(self, stacks: tuple[Stack, ...], shims_mm: Shims) -> Loads:
        """Loads of one stack a shoe in the clutch as believed, standing or to be built."""
        read = loads(self.learned, stacks, shim_totals(shims_mm))
        return in_clutch(self.learned.rig, read)

    def last(self, shoe: int) -> tuple[Reading, ...]:
        """Return the last settled readings of what stands under a shoe, of one round."""
        rows = [
            (number, row)
            for number, record in enumerate(self.records)
            for row in record.rows
            if row.kind == "settled" and row.shoe == shoe and row.trust != "doubted"
        ]
        if not rows or shoe in self.unread:
            return ()
        number, last = rows[-1]
        return tuple(r for k, r in rows if k == number and r.round == last.round)


def as_built(load_n: Array, alone_n: Array | float, told_n: Array | float, datum: Datum) -> Array:
    """Loads of stacks at any travel, once they carry `told_n` at theirs and not `alone_n`.

    `load_n` and `alone_n` are what their discs alone tell. Where travel is zeroed at a seating
    load, that load is the same however the stack was put together: only what is beyond it counts.
    """
    base = datum.load_n
    return base + (load_n - base) * ((told_n - base) / (alone_n - base))


def teach(rig: Task, records: Sequence[Record], speed: Speed | None = None) -> Known:
    """Learn from all records, oldest first; `rig` holds the discs as measured.

    Raises
    ------
    MechanicsError
        when a stack that was read would be pressed solid in the model.
    """
    keep = any(record.groups for record in records)
    learned = learn(rig, in_order(records), (0.0,) * len(rig.travel_mm), keep, scale_sd=SCALE_SD)
    if not records:
        return Known((), speed, learned, (), (), ())
    stacks, unread = _standing(learned, records[-1])
    return Known(tuple(records), speed, learned, stacks, _shims(records[-1]), unread)


def _shims(now: Record) -> Shims:
    """Return the shims under each shoe: those of its last reading, else those of the plan."""
    last = {r.shoe: r.shims_mm for r in now.rows if r.kind == "settled" and r.trust != "doubted"}
    shims = []
    for shoe, planned in enumerate(now.shims_mm, 1):
        total = last.get(shoe)
        if total is None or isclose(total, sum(planned), abs_tol=1e-6):
            shims.append(planned)
        else:
            shims.append((total,) if total > 0 else ())
    return tuple(shims)


def record(
    source: str,
    stacks: Sequence[Stack],
    shims_mm: Sequence[Sequence[float]],
    groups: bool,
    rows: Sequence[Reading],
) -> Record:
    """Write down a session; every reading keeps the shims that lay under its stack."""
    shims = tuple(tuple(s) for s in shims_mm)
    kept = tuple(
        replace(row, line=0, shims_mm=sum(shims[row.shoe - 1]) if row.shoe else 0.0)
        if row.shims_mm is None
        else replace(row, line=0)
        for row in rows
    )
    return Record(source, tuple(stacks), shims, groups, kept)


def earlier(records: Sequence[Record], now: Record) -> tuple[Record, ...]:
    """Return the records that came before this one.

    Records of the same file, and those whose readings this one repeats (a file that was taken
    on to the next plan), are the same session.
    """
    for at, old in enumerate(records):
        if _rows(old) == _rows(now):
            return tuple(records[:at])
    read = set(_rows(now))
    return tuple(
        old for old in records if old.source != now.source and not read.issuperset(_rows(old))
    )


def with_record(records: Sequence[Record], now: Record) -> tuple[Record, ...]:
    """Add a session as the latest; one that is known word for word stays in its place."""
    if any(_rows(old) == _rows(now) for old in records):
        return tuple(now if _rows(old) == _rows(now) else old for old in records)
    return (*earlier(records, now), now)


def _rows(one: Record) -> list[tuple[object, ...]]:
    """What makes readings the same, whatever digits a file of them was written with."""
    return [
        (row.round, row.shoe, row.packs, row.kind, f"{row.load_n:.6g}", row.rebuilt)
        for row in one.rows
    ]


def in_order(records: Sequence[Record]) -> tuple[Reading, ...]:
    """All readings, oldest first; the rounds of earlier sessions are numbered up to 0."""
    rows: list[Reading] = []
    first = 1
    for one in reversed(records):
        last = max((row.round for row in one.rows), default=0)
        by = 0 if one is records[-1] else first - 1 - last
        rows[:0] = [replace(row, round=row.round + by) for row in one.rows]
        first = min([first, *(row.round for row in rows)])
    return tuple(rows)


def _standing(learned: Learned, now: Record) -> tuple[tuple[Stack, ...], tuple[int, ...]]:
    """Return what stands under each shoe, last readings first, then the plan; and the unread.

    A stack read in an earlier session stands only where the plan of this one has it too.
    """
    read_now = {row.shoe for row in now.rows if row.kind == "settled"}
    seen = learned.standing.shoes
    taken = {d for shoe, built in seen.items() if shoe in read_now for p in built.packs for d in p}
    stacks, unread = [], []
    for shoe, planned in enumerate(now.stacks, 1):
        if shoe in seen and (shoe in read_now or learned.standing.stands(shoe, planned)):
            stacks.append(seen[shoe].packs if shoe in read_now else planned)
            if not learned.heard(shoe):
                unread.append(shoe)
            continue
        unread.append(shoe)
        lost = bool(taken & discs_of(planned))
        stacks.append(() if lost else planned)
    return tuple(stacks), tuple(unread)
