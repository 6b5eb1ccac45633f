"""What the bench step says in words, of at most 80 columns."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer import text, wrapping
from optimizer.bench.decide import gains
from optimizer.bench.moves import Exchange, Option
from optimizer.bench.step import Step
from optimizer.estimate.consistency import OFF, Suspect
from optimizer.estimate.shift import deflection_shift
from optimizer.estimate.words import load_words, whose_words
from optimizer.mechanics.disc import Array
from optimizer.model.job import Job, Units
from optimizer.model.readings import Reading
from optimizer.model.stack import Packs, stack_words
from optimizer.report.plan_card import shoes_known, stopped_early

#: discs listed as those that moved most
MOST_DISCS = 5
#: swaps listed
MOST_MOVES = 3
#: least shift worth a line, in sds before the readings
WORTH = 0.25


def bench_text(step: Step, job: Job) -> str:
    """Say what to do next, then why: what stands, and what was learned."""
    parts = [
        *stopped_early(step.next),
        *_advice(step, job),
        "",
        *_standing(step, job),
        "",
        *_learned(step, job),
        *_verdict(step, job),
    ]
    return wrapped(parts)


def _learned(step: Step, job: Job) -> list[str]:
    learned = step.learned
    e = learned.evidence
    before = sum(r.round < 1 for r, told in zip(e.readings, e.heard, strict=True) if told)
    if not e.count:
        return ["No settled reading yet: what follows is predicted from the measurements alone."]
    lines = [
        f"Learned from {e.count} settled readings"
        f"{f', {before} of them of earlier sessions' if before else ''}:",
        f"  load factor {learned.load_factor:.4f} +- {learned.load_factor_sd:.4f} "
        f"(the job has {job.model.load_factor:g})",
    ]
    shift, sd = shifts_um(step)
    was = _prior_sd_um(step)
    order = [int(d) for d in np.argsort(-np.abs(shift))[:MOST_DISCS]]
    names = learned.rig.belief.names
    told = [
        f"{names[d]} {_small(shift[d], job.units):+.1f} +- {_small(sd[d], job.units):.1f}"
        for d in order
        if abs(shift[d]) > WORTH * was[d]
    ]
    if told:
        unit = "0.0001 in" if job.units == "in" else "um"
        lines.append(
            f"  discs that moved most, in {unit} of deflection at work (+ is softer): "
            f"{', '.join(told)}"
        )
    return lines


def _small(um: float, units: Units) -> float:
    """A small length in um or, for inch users, in ten-thousandths of an inch."""
    return um / 2.54 if units == "in" else um


def shifts_um(step: Step) -> tuple[Array, Array]:
    """Shift of every disc (n) in um of deflection at the working load, and its sd now."""
    shift, sd = deflection_shift(step.learned, float(step.task.target_n.mean()))
    return 1000 * shift, 1000 * sd


def _prior_sd_um(step: Step) -> Array:
    learned = step.learned
    before = replace(learned, covariance=learned.evidence.prior)
    return 1000 * deflection_shift(before, float(step.task.target_n.mean()))[1]


def _verdict(step: Step, job: Job) -> list[str]:
    v, lines = step.verdict, []
    if v.repeatability_n is not None:
        lines.append(f"  gauge repeatability seen {text.load(v.repeatability_n, job.units, 2)}")
    if v.seating_drop:
        drops = ", ".join(f"shoe {shoe} {drop:.1%}" for shoe, drop in v.seating_drop.items())
        lines.append(f"  seating drop from first push to settled: {drops}")
    if v.scatter_told and v.scatter_factor is not None:
        lines.append(
            f"Edges scatter about {v.scatter_factor:.1f} times what the job assumes "
            f"(off by {OFF:g} or more): set sharp_scatter and dressed_scatter under [model]."
        )
    lines += [suspect_words(s) for s in v.suspects]
    lines += contradiction_words(step)
    lines += [
        f"{whose_words(r)}: {load_words(r.load_n, job.units)}, insisted on, fits nothing else that "
        "was read or measured, so it moves nothing until a reading again bears it out: look for "
        "a wrong disc, dirt on the seat or a stop that moved."
        for r in step.learned.evidence.not_borne_out
    ]
    return lines


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


def _standing(step: Step, job: Job) -> list[str]:
    u = job.units
    now = step.advice.loads
    sd = np.sqrt(np.diag(now.covariance_n2))
    lines = ["What stands, true loads at the travel as believed now:"]
    for s, load in enumerate(now.mean_n):
        unread = " (not read)" if s + 1 in step.unread else ""
        lines.append(
            f"  shoe {s + 1}: {text.load(load, u)} +- {text.load(sd[s], u)} "
            f"(target {text.load(step.task.target_n[s], u)}){unread}"
        )
    apart = last_spread(step, job)
    if apart is not None:
        lines.append(f"  {apart}")
    width = text.load(job.target.spread_tolerance_n, u)
    kind = "after readings" if step.learned.evidence.count else "before any reading"
    lines.append(f"  {text.share(step.advice.odds_now)} likely truly within {width} ({kind})")
    lines.append(
        f"  {text.share(step.advice.odds_on_target)} likely that the mean is within "
        f"{text.load(job.target.load_tolerance_n, u)} of the target"
    )
    if there := in_clutch_words(step, job):
        lines.append(f"  {there}")
    lines.append(
        f"  {text.share(step.odds_if_apart)} likely once all are taken apart and built again "
        "with the same discs"
    )
    return lines


def last_spread(step: Step, job: Job) -> str | None:
    """Say how far the last readings lie apart; None where fewer than two shoes were read."""
    read = [np.mean([row.load_n for row in rows]) for rows in _last_read(step)]
    if len(read) < 2:
        return None
    shoes = "all shoes" if len(read) == len(step.stacks) else f"{len(read)} shoes"
    apart = text.load(float(np.ptp(np.array(read))), job.units)
    return f"last readings of {shoes}: {apart} between the highest and the lowest"


def in_clutch_words(step: Step, job: Job) -> str:
    """Say what is likely in the clutch, where the gauge beside it does not see its shoes."""
    if not step.task.unseen:
        return ""
    width = text.load(job.target.spread_tolerance_n, job.units)
    return (
        f"{text.share(step.odds_in_clutch)} likely truly within {width} in the clutch, with "
        f"{shoes_known(job)}"
    )


def _last_read(step: Step) -> list[tuple[Reading, ...]]:
    """The last settled readings of every shoe that was read as it stands."""
    every = (step.known.last(s + 1) for s in range(len(step.stacks)))
    return [rows for rows in every if rows]


def _advice(step: Step, job: Job) -> list[str]:
    advice = step.advice
    if advice.kind == "stop":
        lines = ["STOP: leave the stacks as they are, and do not take them apart."]
        if advice.odds_on_target < 0.5:
            lines.append(
                "They agree, but not at the target: if the level matters run match again, which "
                "goes by the load factor above."
            )
        return lines
    if advice.kind == "leave":
        return [
            "LEAVE the stacks as they are: no swap and no rebuild gains anything, and reading them "
            "again hardly settles it."
        ]
    if advice.kind == "reread":
        if step.unread:
            shoes = ", ".join(str(shoe) for shoe in step.unread)
            lines = [f"READ shoe {shoes}: no reading of it as it stands counts yet."]
        else:
            lines = ["READ AGAIN: push and read every stack once more, without taking it apart."]
        if advice.chance_reread > 0:
            lines.append(f"  {text.share(advice.chance_reread)} likely that this settles it.")
        return lines
    lines = [f"{advice.kind.upper()}:"]
    for rank, move in enumerate(shown_moves(advice.moves), 1):
        lines.append(
            f"  {'' if rank == 1 else 'or '}{move_words(move)} "
            f"({_count(move.discs_moved)}, then {text.share(move.odds)} likely"
            + (f", {text.share(move.on_target)} on target)" if move.on_target < 0.9 else ")")
        )
    if advice.chance_then is not None and not gains(
        advice.moves[0], advice.odds_now, advice.odds_on_target
    ):
        lines.append(
            f"  It is no likelier to match than what stands, but {text.share(advice.chance_then)} "
            f"likely to be settled by a reading, against {text.share(advice.chance_reread)} for "
            "what stands."
        )
    return lines


def shown_moves(moves: tuple[Option, ...]) -> list[Option]:
    """The best few swaps, and a rebuild wherever it ranks."""
    return [m for rank, m in enumerate(moves) if rank < MOST_MOVES or not m.exchanges]


def _count(discs: int) -> str:
    return "1 disc moved" if discs == 1 else f"{discs} discs moved"


def move_words(move: Option) -> str:
    """Say a move: which disc from where to where."""
    if move.exchanges:
        return "; ".join(exchange_words(e) for e in move.exchanges)
    return "build all stacks anew: " + "; ".join(
        f"shoe {s + 1}: {stack_words(packs)}" for s, packs in enumerate(move.stacks)
    )


def exchange_words(e: Exchange) -> str:
    """Say one exchange of two discs; positions count from the bottom."""
    place, bring = f"{text.disc(e.out)} ({_place(e.place)})", text.disc(e.bring)
    if e.bring_from is None:
        return f"take out {place}, put the spare {bring} in its place"
    return f"swap {place} with {bring} ({_place(e.bring_from)})"


def _place(place: tuple[int, int, int]) -> str:
    return f"shoe {place[0]}, position {place[1]}"


def groups_text(groups: tuple[Packs, ...], travel_mm: float, odds: float, units: Units) -> str:
    """Say which groups to gauge, how far to press them, and what that promises."""
    lines = [
        f"Gauge these {len(groups)} groups by themselves, in series, zeroed at the seating load, "
        f"each at a travel of {text.length(travel_mm, units)}, and keep each together from then "
        "on (a dab of grease or a clip):",
        *(f"  {stack_words(group)}" for group in groups),
        f"Stacks built of them are {text.share(odds)} likely truly within the tolerance, provided "
        "that a group is never taken apart.",
    ]
    return wrapped(lines)


def wrapped(lines: list[str]) -> str:
    """Break lines at the width of the text; what is left of a line hangs."""
    broken = (wrapping.wrapped(line, hang="    ") or [""] for line in lines)
    return "\n".join(part for parts in broken for part in parts) + "\n"
