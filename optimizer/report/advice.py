"""What the bench decided, in words that terminal and sheet share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer import text
from optimizer.bench.decide import gains
from optimizer.bench.moves import Exchange, Move, position
from optimizer.bench.step import Step
from optimizer.estimate.consistency import Suspect
from optimizer.model.job import Job
from optimizer.model.stack import Stack, discs_of, stack_words
from optimizer.report.facts import own_words
from optimizer.report.plan_card import shoes_known
from optimizer.report.shoe import Highlights

#: more rivals of a suspect than this are not flagged one by one: it would be all of a stack
RIVALS = 4
#: chance in the clutch below which it is said how a set gets likelier to agree there
UNLIKELY = 0.5


def decision(step: Step) -> tuple[str, str]:
    """Say the decision: its word in capitals, and how the line goes on."""
    kind, move = step.advice.kind, step.advice.advised
    if kind == "stop":
        return "STOP", "leave the stacks as they are and do not take them apart."
    if kind == "leave":
        return "LEAVE", "no swap and no rebuild gains anything; reading again hardly settles it."
    if move is None and step.unread:
        one = len(step.unread) == 1
        stand, them = ("it stands", "it") if one else ("they stand", "them")
        which = shoes_words(step.unread)
        return "READ", f"{which} as {stand}: no reading of {them} counts yet."
    if move is None:
        return "READ AGAIN", "push and read every stack once more, without taking it apart."
    if not move.exchanges:
        return "REBUILD", f"build all stacks anew as drawn: {count(move)} change their stack."
    return "SWAP", "; ".join(brief(e) for e in move.exchanges) + "."


def shoes_words(shoes: Sequence[int]) -> str:
    """Name some shoes: shoe 3; shoes 1, 2 and 3."""
    *some, last = map(str, shoes)
    return f"shoes {', '.join(some)} and {last}" if some else f"shoe {last}"


def reason(step: Step, width: str) -> str:
    """Say in a line what the decision rests on; `width` is the spread asked for."""
    advice, move = step.advice, step.advice.advised
    own = own_words(step.task)
    now = f"{text.percent(advice.chance_now)} likely within {width} of each other{own}"
    if move is not None:
        why = f"Now {now}; then {text.percent(move.chance)}."
        if advice.chance_then is not None and not gains(
            move, advice.chance_now, advice.chance_on_target
        ):
            why += (
                f" It is no likelier to match, but {text.percent(advice.chance_then)} likely to be "
                f"settled by a reading, against {text.percent(advice.chance_reread)} for what "
                "stands."
                if advice.chance_then > advice.chance_reread
                else " It brings the stacks nearer together, for what is then read to go on from."
            )
        return f"{why} {minutes_words(move)}"
    if advice.kind == "stop":
        off = " They agree, but not at the target." if advice.chance_on_target < 0.5 else ""
        return f"They are {now}.{off}"
    if advice.kind == "reread" and advice.chance_reread > 0:
        return f"Now {now}; {text.percent(advice.chance_reread)} likely that a reading settles it."
    return f"They are {now}."


def minutes_words(move: Move) -> str:
    """Say the minutes of work that are foreseen from a move on until its set is settled."""
    return f"About {move.in_all:.0f} minutes of work until a set is settled, as foreseen."


def remarks(step: Step, job: Job) -> list[str]:
    """Say what is suspect, and what is likely in the clutch where the gauge does not see it."""
    there = in_clutch_words(step, job)
    return suspicions(step) + ([f"{there}."] if there else [])


def suspicions(step: Step) -> list[str]:
    """Say what is suspect, and where readings are beyond belief."""
    every = step.verdict.suspects
    suspects = [suspect_words(one) + seat_words(one, len(step.stacks)) for one in every]
    return suspects + contradiction_words(step)


def marks(step: Step) -> Highlights:
    """Return what is to be placed now, and what is suspect."""
    suspects = step.verdict.suspects
    return Highlights(_opened(step), _discs(suspects), _shoes(suspects))


def _opened(step: Step) -> frozenset[tuple[int, str]]:
    """Discs to be placed now: those that come to a stack, all of what is built anew.

    Without a move none, also of a stack that was not read yet: it is read as it stands.
    """
    moved = step.advice.advised
    if moved is None:
        return frozenset()
    return frozenset(
        (shoe, disc)
        for shoe, (old, new) in enumerate(zip(step.stacks, moved.stacks, strict=True), 1)
        for disc in (discs_of(new) - discs_of(old) if moved.exchanges else discs_of(new))
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


def contradiction_words(step: Step) -> list[str]:
    """Say that the readings are beyond belief, where they are."""
    if not step.verdict.contradiction:
        return []
    then = (
        "Clean the seats, push through a few strokes, check the travel stop and the zero."
        if step.advice.kind == "reread"
        else "They were read again and stay so: what follows goes by them."
    )
    return [
        "These readings contradict the measurements: so far off happens by chance less than "
        f"once in a thousand. {then}"
    ]


def suspect_words(s: Suspect) -> str:
    """Say what would explain the readings, and what would as well."""
    rivals = f" (or {', '.join(s.rivals[:4])}{' ...' if len(s.rivals) > 4 else ''})"
    what = {
        "disc": f"Disc {s.name} is suspect",
        "seat": f"The seat of {s.name} is suspect, or dirt on it",
        "build": f"The build of {s.name} is suspect: dirt, a disc turned over, or a slip",
        "level": "All stacks together are off: check the travel, the zero and the unit of the "
        "gauge, then modulus and flats in the job",
    }[s.kind]
    return f"{what}{rivals if s.rivals else ''}: {abs(s.z):.1f} sd off."


def seat_words(s: Suspect, shoes: int) -> str:
    """Say how a suspect seat is told from the discs on it; nothing of another suspect.

    It is said and never advised: it takes longer than it saves where only a match is wanted.
    """
    if s.kind != "seat" or shoes < 2:
        return ""
    own = int(s.name.rpartition(" ")[2])
    other = next(shoe for shoe in range(1, shoes + 1) if shoe != own)
    return (
        f" To tell it from its discs put the whole stacks of shoes {own} and {other} under each "
        "other, and read both with their discs named: what stays with the shoe is its seat."
    )


def last_spread(step: Step, job: Job) -> str | None:
    """Say how far the last readings lie apart; None where fewer than two shoes were read."""
    every = ((step.known.last(s + 1), w) for s, w in enumerate(step.task.weight))
    read = [w * np.mean([row.load_n for row in rows]) for rows, w in every if rows]
    if len(read) < 2:
        return None
    shoes = "all shoes" if len(read) == len(step.stacks) else f"{len(read)} shoes"
    apart = text.load(float(np.ptp(np.array(read))), job.units)
    own = own_words(step.task)
    return f"Last readings of {shoes}{own}: {apart} between the highest and the lowest."


def in_clutch_words(step: Step, job: Job) -> str:
    """Say what is likely in the clutch, where the gauge beside it does not see its shoes.

    Where a set is settled that yet hardly agrees there, what to do about it.
    """
    if not step.task.unseen:
        return ""
    width = text.load(job.target.spread_tolerance_n, job.units)
    said = (
        f"In the clutch {text.percent(step.chance_in_clutch)} likely truly within {width}, with "
        f"{shoes_known(job)}"
    )
    if step.advice.kind != "stop" or step.chance_in_clutch >= UNLIKELY:
        return said
    return (
        f"{said}: measure each shoe with a dial gauge, write that into the job, then match and "
        "read anew"
    )


def count(move: Move) -> str:
    """Say how many discs a move puts into another stack."""
    return "1 disc" if move.discs_moved == 1 else f"{move.discs_moved} discs"


def move_words(move: Move) -> str:
    """Say a move: which disc from where to where."""
    if move.exchanges:
        return "; ".join(exchange_words(e, move.stacks) for e in move.exchanges)
    return "build all stacks anew: " + "; ".join(
        f"shoe {s + 1}: {stack_words(packs)}" for s, packs in enumerate(move.stacks)
    )


def exchange_words(e: Exchange, stacks: Sequence[Stack]) -> str:
    """Say one exchange of two discs; positions count from the bottom."""
    place, bring = f"{text.disc(e.out)} ({place_words(e.place, stacks)})", text.disc(e.bring)
    if e.bring_from is None:
        return f"take out {place}, put the spare {bring} in its place"
    return f"swap {place} with {bring} ({place_words(e.bring_from, stacks)})"


def place_words(place: tuple[int, int, int], stacks: Sequence[Stack]) -> str:
    """Say where a disc lies: its shoe, and which it is from the bottom."""
    return f"shoe {place[0]}, position {position(stacks, place)}"


def brief(e: Exchange, stacks: Sequence[Stack] = ()) -> str:
    """Say an exchange in few words; with the stacks where no drawing shows where in them."""
    out, bring = text.disc(e.out), text.disc(e.bring)

    def where(place: tuple[int, int, int]) -> str:
        return place_words(place, stacks) if stacks else f"shoe {place[0]}"

    if e.bring_from is None:
        return f"{out} ({where(e.place)}) for the spare {bring}"
    return f"{out} ({where(e.place)}) with {bring} ({where(e.bring_from)})"
