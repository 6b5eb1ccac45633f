"""Many draws at once: over cores, or over a cluster, with the same answer everywhere."""

from __future__ import annotations

import signal
from dataclasses import dataclass
from math import inf
from time import monotonic
from warnings import catch_warnings

import numpy as np

from optimizer.control import Limits, Report, interrupts, keep_best_on_interrupt, quiet
from optimizer.frozen import frozen_arrays, joined
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import Index
from optimizer.orders.build import DiscStream, disc_streams, first_built_n
from optimizer.orders.like_discs import LikeConstants, like_constants
from optimizer.orders.quantity import fewest, least_that, reach_n
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


class Stopped(KeyboardInterrupt):
    """Ctrl-C in the midst of the draws.

    `outcomes` is as `simulate` returns it, from the draws that were done; empty where none
    were done of every study.
    """

    def __init__(self, said: str = "", outcomes: list[list[Outcome]] | None = None) -> None:
        """Keep what was known by then."""
        self.outcomes = outcomes or []
        super().__init__(said)


def draw_outcomes(studies: tuple[Study, ...], seed: int, numbers: range) -> list[Outcome]:
    """Judge studies of one size and clutch by the draws of some numbers; they share deliveries."""
    rows: list[list[tuple[float, ...]]] = [[] for _ in studies]
    count = max(study.packs.most_discs for study in studies)
    sizes = {k for study in studies for k in study.candidate.pattern.sizes}
    for number in numbers:
        draw = DeliveryDraw(seed, number)
        unpacked = unpack(studies[0], draw, count)
        factors = [learned_factor(study, unpacked, draw) for study in studies]
        like = like_constants(studies[0], unpacked, sizes, factors[0])
        for study, factor, of_study in zip(studies, factors, rows, strict=True):
            of_study.append(_row(study, unpacked, like, factor, draw))
    return [_outcome(np.array(of_study)) for of_study in rows]


def _row(
    study: Study, unpacked: Unpacked, like: LikeConstants, factor: float, draw: DeliveryDraw
) -> tuple[float, ...]:
    """What one draw says of one study, in the order of `Outcome`."""
    packs = study.packs
    gauged, blind = disc_streams(study, unpacked, like, factor)
    reach = reach_n(gauged, draw)
    found, built = fewest(gauged, draw)
    shown = built is not None and draw.number % SHOWN_EVERY == 0
    spread = first_built_n(gauged, built, draw.rng(BUILDING)) if built and shown else None
    return (
        found,
        least_that(lambda k: blind.may_do(packs.discs(k), reach), packs.least, packs.most),
        _sample_short(gauged),
        blind.error_n,
        np.nan if spread is None else float(spread.mean()),
        np.nan if built is None else built.shim_mm,
    )


def _outcome(rows: Array) -> Outcome:
    packs, blind, *rest = rows.T
    return Outcome(packs.astype(np.intp), blind.astype(np.intp), *rest)


def _sample_short(on: DiscStream) -> float:
    """Sds of a disc by which the mean of a sample is off target beyond the tolerance."""
    constant_n = on.constant_n[len(on.study.on_hand) :]
    off = np.abs(on.rooms_n - constant_n[: on.study.sample_discs].mean()).min()
    return float(off - on.study.clutch.load_tolerance_n) / max(float(constant_n.std()), 1e-9)


def simulate(
    groups: list[tuple[Study, ...]],
    draws: int,
    seed: int,
    workers: int | None = None,
    report: Report = quiet,
    first_draw: int = 0,
) -> list[list[Outcome]]:
    """Judge groups of studies, each of one size and clutch, by `draws` draws.

    Returns the outcomes in their order; they do not depend on `workers`.

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
    tasks = [(group, numbers) for numbers in ranges for group in groups]
    parts: list[list[list[Outcome]]] = [[] for _ in groups]
    started = monotonic()
    limits = Limits(inf)
    with keep_best_on_interrupt(limits):
        # the processes started meanwhile leave Ctrl-C to this one, which ends them: they inherit
        # that it is ignored; to block it would not do, as joblib unblocks it
        with interrupts(signal.SIG_IGN):
            results = Parallel(n_jobs=workers or -1, return_as="generator")(
                delayed(draw_outcomes)(group, seed, numbers) for group, numbers in tasks
            )
        for done, outcomes in enumerate(results, 1):
            parts[(done - 1) % len(groups)].append(outcomes)
            if limits.stopped:
                with catch_warnings(action="ignore"):  # that tasks under way are dropped
                    results.close()
                whole = done // len(groups)
                raise Stopped(outcomes=_joined([part[:whole] for part in parts]) if whole else [])
            left = (monotonic() - started) * (len(tasks) / done - 1)
            report(f"{draws} deliveries, {left:.0f} s left", done / len(tasks))
    return _joined(parts)


def _joined(parts: list[list[list[Outcome]]]) -> list[list[Outcome]]:
    """Join the outcomes of each group's ranges of draws, study by study."""
    return [[joined(of_study) for of_study in zip(*of_group, strict=True)] for of_group in parts]
