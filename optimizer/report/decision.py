"""What the bench decided, as the sheet shows it: the move first, then what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer import text
from optimizer.bench.decide import gains
from optimizer.bench.moves import Exchange, Option
from optimizer.bench.step import Step
from optimizer.estimate.consistency import Suspect
from optimizer.estimate.known import in_order
from optimizer.estimate.problem import members_of
from optimizer.match.workspace import Workspace
from optimizer.mechanics.packet import packets
from optimizer.model.readings import Reading
from optimizer.model.stack import Packs
from optimizer.report.bench_card import (
    contradiction_words,
    in_clutch_words,
    last_spread,
    shown_moves,
    suspect_words,
)
from optimizer.report.drawing import Drawing, common_scale, draw
from optimizer.report.figures import Figures
from optimizer.report.section import StackSection, stack_section
from optimizer.report.shoe import Marks

#: settled readings listed for a shoe, the last of them
LISTED = 4
#: more rivals of a suspect than this are not flagged one by one: it would be all of a stack
RIVALS = 4
#: moves shown, each with its chance
WAYS = 3
#: units of a row in the small drawings before and after a move
SMALL_ROW = 11.0


@dataclass(frozen=True)
class Told:
    """One shoe: its settled readings so far, and the true load believed now."""

    shoe: int
    readings: tuple[str, ...]
    load_n: float
    sd_n: float
    target_n: float
    unread: bool


@dataclass(frozen=True)
class Way:
    """A move that may be made: in words, what the chance is then, how many discs it moves."""

    words: str
    chance: float
    on_target: float
    discs: int


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

    `word` is the decision in capitals, `what` goes on with it in a line; the first of `ways` is
    the one decided on when it is a swap or a rebuild; `round` is the last that was read.
    """

    word: str
    what: str
    why: str
    ways: tuple[Way, ...]
    changes: tuple[Change, ...]
    told: tuple[Told, ...]
    spread: str | None
    chance: float
    chance_reread: float
    chance_then: float | None
    on_target: float
    apart: float
    remarks: tuple[str, ...]
    marks: Marks
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
    shown = shown_moves(advice.moves)
    moved = shown[0] if advice.kind in ("swap", "rebuild") else None
    word, what = _words(step, moved)
    sd = np.sqrt(np.diag(advice.loads.covariance_n2))
    suspects = step.verdict.suspects
    remarks = [suspect_words(s) for s in suspects] + contradiction_words(step)
    every = in_order(step.known.records)
    there = in_clutch_words(step, job)
    return Decision(
        word,
        what,
        _why(step, moved, text.load(job.target.spread_tolerance_n, job.units)),
        tuple(_way(m, m is moved) for m in _offered(shown)),
        () if moved is None or not moved.exchanges else _changes(step, moved, work),
        tuple(
            Told(
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
        advice.odds_now,
        advice.chance_reread,
        advice.chance_then,
        advice.odds_on_target,
        step.odds_if_apart,
        (*remarks, *((f"{there}.",) if there else ())),
        Marks(_opened(step, moved), _discs(suspects), _shoes(suspects)),
        max((row.round for row in every), default=0),
    )


def _discs(suspects: Sequence[Suspect]) -> set[str]:
    """Discs to look at before they are built: a suspect, and its rivals where they are few."""
    found = {s.name for s in suspects if s.kind == "disc"}
    for suspect in suspects:
        rivals = [r.removeprefix("disc ") for r in suspect.rivals if r.startswith("disc ")]
        found |= set(rivals if len(rivals) <= RIVALS else ())
    return found


def _shoes(suspects: Sequence[Suspect]) -> dict[int, str]:
    """Shoes whose seat or build is suspect, and what to do there."""
    what = {
        "seat": "suspect seat: clean it, look at it",
        "build": "suspect as built: dirt, a disc turned over, or a slip",
    }
    found = {}
    for s in suspects:
        shoe = s.name.rpartition("shoe ")[2]
        if s.kind in what and shoe.isdecimal():
            found[int(shoe)] = what[s.kind]
    return found


def _offered(moves: Sequence[Option]) -> list[Option]:
    """The best moves for which there is room, a rebuild among them."""
    anew = [m for m in moves if not m.exchanges][:1]
    kept = [m for m in moves if m.exchanges][: WAYS - len(anew)] + anew
    return [m for m in moves if any(m is k for k in kept)]


def _way(move: Option, chosen: bool) -> Way:
    words = "; ".join(_brief(e) for e in move.exchanges) or "build all stacks anew"
    return Way(
        "this move" if chosen else f"or {words}", move.odds, move.on_target, move.discs_moved
    )


def _words(step: Step, moved: Option | None) -> tuple[str, str]:
    """Say the decision: its word, and the rest of the first line."""
    kind = step.advice.kind
    if kind == "stop":
        return "STOP", "Leave the stacks as they are and do not take them apart."
    if kind == "leave":
        return "LEAVE", "No swap and no rebuild gains anything; reading again hardly settles it."
    if moved is None and step.unread:
        shoes = ", ".join(map(str, step.unread))
        return "READ", f"Shoe {shoes}: no reading of it as it stands counts yet."
    if moved is None:
        return "READ AGAIN", "Push and read every stack once more, without taking it apart."
    count = "1 disc" if moved.discs_moved == 1 else f"{moved.discs_moved} discs"
    if not moved.exchanges:
        return "REBUILD", f"Build all stacks anew as drawn: {count} change their stack."
    return "SWAP", "; ".join(_brief(e) for e in moved.exchanges) + "."


def _brief(e: Exchange) -> str:
    """Say an exchange in few words: where in the stack is drawn beside it."""
    out, bring = f"{text.disc(e.out)} (shoe {e.place[0]})", text.disc(e.bring)
    if e.bring_from is None:
        said = f"{out} for the spare {bring}"
    else:
        said = f"{out} with {bring} (shoe {e.bring_from[0]})"
    return said.replace("shoe ", "shoe\N{NO-BREAK SPACE}").replace("no. ", "no.\N{NO-BREAK SPACE}")


def _why(step: Step, moved: Option | None, width: str) -> str:
    advice = step.advice
    now = f"{text.share(advice.odds_now)} likely within {width} of each other"
    if moved is not None:
        why = f"Now {now}; then {text.share(moved.odds)}."
        if advice.chance_then is not None and not gains(
            moved, advice.odds_now, advice.odds_on_target
        ):
            why += (
                f" It is no likelier to match, but {text.share(advice.chance_then)} likely to be "
                f"settled by a reading, against {text.share(advice.chance_reread)} for what stands."
            )
        return why
    if advice.kind == "stop":
        off = " They agree, but not at the target." if advice.odds_on_target < 0.5 else ""
        return f"They are {now}.{off}"
    if advice.kind == "reread" and advice.chance_reread > 0:
        return f"Now {now}; {text.share(advice.chance_reread)} likely that a reading settles it."
    return f"They are {now}."


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


def _opened(step: Step, moved: Option | None) -> frozenset[tuple[int, str]]:
    """Discs to be placed now: those that come to a stack, all of one never seen as it stands.

    A stack with a reading that does not count stands all the same.
    """
    seen = {(row.shoe, row.packs) for row in in_order(step.known.records)}
    after = step.stacks if moved is None else moved.stacks
    anew = moved is not None and not moved.exchanges
    opened = set()
    for shoe, (old, new) in enumerate(zip(step.stacks, after, strict=True), 1):
        stood = set() if anew or (shoe, old) not in seen else {d for packet in old for d in packet}
        opened |= {(shoe, d) for packet in new for d in packet if d not in stood}
    return frozenset(opened)


def _changes(step: Step, moved: Option, work: Workspace) -> tuple[Change, ...]:
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


def ordered(packs: Packs, names: set[str]) -> tuple[str, ...]:
    """Some discs of a stack, bottom to top."""
    return tuple(d for packet in packs for d in packet if d in names)


def _laid(packs: Packs, shims_mm: Sequence[float], work: Workspace) -> StackSection:
    (stack,) = work.task.numbered([packs])
    p = packets(work.task.discs, members_of((stack,))[0], work.task.model)
    return stack_section(work.task.discs, stack, p.height_mm + p.free_mm, shims_mm)
