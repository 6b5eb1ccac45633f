"""Many draws at once: over cores, or over a cluster, with the same answer everywhere."""

from __future__ import annotations

import signal
from dataclasses import dataclass, fields
from math import inf
from time import monotonic
from warnings import catch_warnings

import numpy as np

from optimizer.control import Limits, Report, interrupts, keep_best_on_interrupt, quiet
from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.orders.build import (
    DiscStream,
    disc_streams,
    first_built_n,
)
from optimizer.orders.like_discs import LikeConstants, like_constants
from optimizer.orders.nominal import Candidate
from optimizer.orders.quantity import fewest, first, reach_n
from optimizer.orders.study import Study
from optimizer.orders.unpack import BUILDING, DeliveryDraw, Unpacked, learned_factor, unpack

#: draws that one task of a worker makes
CHUNK = 10
#: of so many deliveries one is built on the bench, to tell the mean spread as first built
SHOWN_EVERY = 5


@dataclass(frozen=True)
@frozen_arrays
class Outcome:
    """What B draws say of one candidate.

    `packs` (B) are the fewest with which all sets are built when one stack goes on the gauge
    first; `blind_packs` (B) the same without a gauge, by the bound alone; `sample_short` (B)
    how far a sample of `sample_discs` lies beyond the load tolerance, in sds of its discs
    (below 0 where its mean is within); `error_n`
    (B) the true less the believed load of an average stack without a gauge; `spread_n` (B)
    the mean true spread of the sets as first built, of a part of the draws, and `shim_mm` (B)
    the shims under their stacks, NaN where they were not built.
    """

    packs: Index
    blind_packs: Index
    sample_short: Array
    error_n: Array
    spread_n: Array
    shim_mm: Array

    @classmethod
    def none(cls) -> Outcome:
        """Return what no draws say."""
        return cls(*np.zeros((2, 0), dtype=np.intp), *np.zeros((4, 0)))

    @classmethod
    def joined(cls, parts: list[Outcome]) -> Outcome:
        """Join the outcomes of several ranges of draws."""
        return cls(
            *(
                np.concatenate([getattr(part, field.name) for part in parts])
                for field in fields(cls)
            )
        )


class Stopped(KeyboardInterrupt):
    """Ctrl-C in the midst of the draws.

    `outcomes` is as `simulate` returns it, from the draws that were done; empty where none
    were done of every study.
    """

    def __init__(self, said: str = "", outcomes: list[list[Outcome]] | None = None) -> None:
        """Keep what was known by then."""
        self.outcomes = outcomes or []
        super().__init__(said)


def sample_discs(candidate: Candidate) -> int:
    """Discs of a sample, in whole steps of its packs: enough for one stack."""
    step = candidate.size.step
    return -(-candidate.pattern.discs // step) * step


def draw_outcomes(study: Study, seed: int, numbers: range) -> list[Outcome]:
    """Judge every candidate of a study by the draws of some numbers."""
    rows: list[list[tuple[float, ...]]] = [[] for _ in study.candidates]
    count = max(study.packs(candidate).most_discs for candidate in study.candidates)
    sizes = {k for candidate in study.candidates for k in candidate.pattern.sizes}
    for number in numbers:
        draw = DeliveryDraw(seed, number)
        unpacked = unpack(study, draw, count)
        factors = [
            learned_factor(study, candidate, unpacked, draw) for candidate in study.candidates
        ]
        like = like_constants(study, unpacked, sizes, factors[0])
        for at, candidate in enumerate(study.candidates):
            rows[at].append(_row(study, candidate, unpacked, like, factors[at], draw))
    return [_outcome(np.array(of_candidate)) for of_candidate in rows]


def _row(
    study: Study,
    candidate: Candidate,
    unpacked: Unpacked,
    like: LikeConstants,
    factor: float,
    draw: DeliveryDraw,
) -> tuple[float, ...]:
    """What one draw says of one candidate, in the order of `Outcome`."""
    new, packs = len(study.on_hand), study.packs(candidate)
    gauged, blind = disc_streams(candidate, study.clutch, unpacked, like, factor)
    reach = reach_n(gauged, draw)
    found, built = fewest(gauged, packs, draw)
    shown = built is not None and draw.number % SHOWN_EVERY == 0
    spread = first_built_n(gauged, built, draw.rng(BUILDING)) if built and shown else None
    return (
        found,
        first(lambda k: blind.may_do(packs.discs(k), None, reach), packs.least, packs.most),
        _sample_short(gauged, new, sample_discs(candidate)),
        blind.error_n,
        np.nan if spread is None else float(spread.mean()),
        np.nan if built is None else built.shim_mm,
    )


def _outcome(rows: Array) -> Outcome:
    packs, blind, *rest = rows.T
    return Outcome(packs.astype(np.intp), blind.astype(np.intp), *rest)


def _sample_short(on: DiscStream, new: int, sample: int) -> float:
    """Sds of a disc by which the mean of a sample is off target beyond the tolerance."""
    lot_sd = float(on.worth[new:].std())
    off = np.abs(on.rooms_n - on.worth[new : new + sample].mean()).min()
    return float(off - on.clutch.load_tolerance_n) / max(lot_sd, 1e-9)


def simulate(
    studies: list[Study],
    draws: int,
    seed: int,
    workers: int | None = None,
    report: Report = quiet,
    first_draw: int = 0,
) -> list[list[Outcome]]:
    """Judge studies by `draws` draws; the answer does not depend on `workers`.

    Returns the outcomes in the order of the studies and of their candidates.

    Raises
    ------
    Stopped
        on Ctrl-C, with the outcomes of the draws that were done by then.
    """
    from joblib import Parallel, delayed

    ranges = [
        range(first_draw + low, first_draw + min(low + CHUNK, draws))
        for low in range(0, draws, CHUNK)
    ]
    tasks = [(study, numbers) for numbers in ranges for study in studies]
    parts: list[list[list[Outcome]]] = [[] for _ in studies]
    started = monotonic()
    limits = Limits(inf)
    with keep_best_on_interrupt(limits):
        # the processes started meanwhile leave Ctrl-C to this one, which ends them: they inherit
        # that it is ignored; to block it would not do, as joblib unblocks it
        with interrupts(signal.SIG_IGN):
            results = Parallel(n_jobs=workers or -1, return_as="generator")(
                delayed(draw_outcomes)(study, seed, numbers) for study, numbers in tasks
            )
        for done, outcomes in enumerate(results, 1):
            parts[(done - 1) % len(studies)].append(outcomes)
            if limits.stopped:
                with catch_warnings(action="ignore"):  # that tasks under way are dropped
                    results.close()
                whole = done // len(studies)
                raise Stopped(outcomes=_joined([part[:whole] for part in parts]) if whole else [])
            left = (monotonic() - started) * (len(tasks) / done - 1)
            report(f"{draws} deliveries, {left:.0f} s left", done / len(tasks))
    return _joined(parts)


def _joined(parts: list[list[list[Outcome]]]) -> list[list[Outcome]]:
    """Join the outcomes of each study's ranges of draws, candidate by candidate."""
    return [
        [Outcome.joined([part[at] for part in of_study]) for at in range(len(of_study[0]))]
        for of_study in parts
    ]
