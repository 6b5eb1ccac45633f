"""What the bench decided, as the sheet shows it: the move first, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer import text
from optimizer.bench.chosen import offered
from optimizer.bench.decide import Advice
from optimizer.bench.moves import Move
from optimizer.bench.step import Step
from optimizer.estimate.known import in_order
from optimizer.match.workspace import Workspace
from optimizer.model.readings import Reading
from optimizer.model.stack import Stack
from optimizer.report.advice import brief, decision, last_spread, marks, reason, remarks
from optimizer.report.drawing import Drawing, common_scale, draw
from optimizer.report.figures import Figures
from optimizer.report.section import StackSection, stack_section
from optimizer.report.shoe import Highlights

#: settled readings listed for a shoe, the last of them
LISTED = 4
#: moves shown, each with its chance
WAYS = 3
#: units of a row in the small drawings before and after a move
SMALL_ROW = 11.0


@dataclass(frozen=True)
class ShoeReadings:
    """One shoe: its settled readings so far, and the true load believed now."""

    shoe: int
    readings: tuple[str, ...]
    load_n: float
    sd_n: float
    target_n: float
    unread: bool


@dataclass(frozen=True)
class Change:
    """A stack before and after the move, and the discs that leave it and come."""

    shoe: int
    before: Drawing
    after: Drawing
    out: tuple[str, ...]
    comes: tuple[str, ...]


@dataclass(frozen=True)
class Decision:
    """What to do next and why.

    `word` is the decision in capitals, `what` goes on with it in a line; `ways` are moves in
    words, the first of them decided on when it is a swap or a rebuild; `round` is the last that
    was read.
    """

    word: str
    what: str
    why: str
    advice: Advice
    ways: tuple[tuple[str, Move], ...]
    changes: tuple[Change, ...]
    told: tuple[ShoeReadings, ...]
    spread: str | None
    apart: float
    remarks: tuple[str, ...]
    marks: Highlights
    round: int

    @property
    def moves(self) -> bool:
        """Whether discs are to be moved."""
        return self.word in ("SWAP", "REBUILD")

    @property
    def reads(self) -> bool:
        """Whether the gauge is to be read next."""
        return self.word not in ("STOP", "LEAVE")


def decided(step: Step, work: Workspace) -> Decision:
    """Write the decision of a bench step; `work` is the job as readings taught it."""
    advice, job = step.advice, work.job
    shown = offered(advice)
    moved = advice.advised
    word, what = decision(step)
    sd = np.sqrt(np.diag(advice.loads.covariance_n2))
    every = in_order(step.known.records)
    return Decision(
        word,
        _unparted(what) if moved and moved.exchanges else what[0].upper() + what[1:],
        _unparted(reason(step, text.load(job.target.spread_tolerance_n, job.units))),
        advice,
        tuple((_words(move, move is moved), move) for move in _offered(shown)),
        () if moved is None or not moved.exchanges else _changes(step, moved, work),
        tuple(
            ShoeReadings(
                s + 1,
                _readings(every, s + 1, job.units),
                float(load),
                float(sd[s]),
                float(step.task.target_n[s]),
                s + 1 in step.unread,
            )
            for s, load in enumerate(advice.loads.mean_n)
        ),
        last_spread(step, job),
        step.chance_if_apart,
        tuple(_unparted(said) for said in remarks(step, job)),
        marks(step),
        max((row.round for row in every), default=0),
    )


def _unparted(said: str) -> str:
    """Keep numbers beside what they count."""
    for words in ("shoe ", "no. ", " %"):
        said = said.replace(words, words.replace(" ", "\N{NO-BREAK SPACE}"))
    return said


def _offered(moves: Sequence[Move]) -> list[Move]:
    """The best moves for which there is room, a rebuild among them."""
    anew = [m for m in moves if not m.exchanges][:1]
    kept = [m for m in moves if m.exchanges][: WAYS - len(anew)] + anew
    return [m for m in moves if any(m is k for k in kept)]


def _words(move: Move, chosen: bool) -> str:
    words = _unparted("; ".join(brief(e) for e in move.exchanges)) or "build all stacks anew"
    return "this move" if chosen else f"or {words}"


def _readings(rows: Sequence[Reading], shoe: int, units: str) -> tuple[str, ...]:
    """Say the last settled readings of a shoe: round, load, and whether it counts."""
    figures = Figures(units)
    said = []
    for row in rows:
        if row.shoe != shoe or row.kind != "settled":
            continue
        when = f"round {row.round}" if row.round > 0 else "earlier"
        aside = " (not counted)" if row.trust == "doubted" else ""
        said.append(f"{when}: {figures.load(row.load_n)}{aside}")
    return tuple(said[-LISTED:])


def _changes(step: Step, moved: Move, work: Workspace) -> tuple[Change, ...]:
    """Draw the stacks that a swap changes, before and after."""
    changed = [s for s, (a, b) in enumerate(zip(step.stacks, moved.stacks, strict=True)) if a != b]
    shims = step.known.shims_mm
    drawn = [
        tuple(_laid(which[s], shims[s], work) for which in (step.stacks, moved.stacks))
        for s in changed
    ]
    scale = common_scale((section for pair in drawn for section in pair), SMALL_ROW)
    changes = []
    for s, pair in zip(changed, drawn, strict=True):
        old, new = ({d for p in which[s] for d in p} for which in (step.stacks, moved.stacks))
        out, comes = ordered(step.stacks[s], old - new), ordered(moved.stacks[s], new - old)
        names = work.belief.names
        blank = [""] * len(shims[s])
        before, after = (
            draw(section, names, scale, blank, marked)
            for section, marked in zip(pair, (out, comes), strict=True)
        )
        changes.append(Change(s + 1, before, after, out, comes))
    return tuple(changes)


def ordered(packs: Stack, names: set[str]) -> tuple[str, ...]:
    """Some discs of a stack, bottom to top."""
    return tuple(d for packet in packs for d in packet if d in names)


def _laid(packs: Stack, shims_mm: Sequence[float], work: Workspace) -> StackSection:
    (stack,) = work.task.members([packs])
    p = work.task.packets(stack)
    return stack_section(work.task.discs, stack, p.height_mm + p.free_mm, shims_mm)
