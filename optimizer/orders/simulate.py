"""Many draws at once: over cores, or over a cluster, with the same answer everywhere."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from time import monotonic

import numpy as np

from optimizer.assignment.limits import Report, quiet
from optimizer.errors import InputError, Problem
from optimizer.orders.build import Bench, benches
from optimizer.orders.clutch import Clutch
from optimizer.orders.deliver import Making
from optimizer.orders.nominal import Candidate
from optimizer.orders.onhand import OnHand
from optimizer.orders.quantity import Packs, fewest, first
from optimizer.orders.unpack import Draw, Unpacked, learned_factor, unpack
from optimizer.physics.disc import Array
from optimizer.physics.packet import Index

#: draws that one task of a worker makes
CHUNK = 10


@dataclass(frozen=True)
class Study:
    """Candidates of one size for one clutch, to be judged by the same draws."""

    clutch: Clutch
    candidates: tuple[Candidate, ...]
    making: Making
    on_hand: OnHand

    def packs(self, candidate: Candidate, sets: int | None = None) -> Packs:
        """Return the orders that come into question."""
        sets = self.clutch.sets if sets is None else sets
        needed = candidate.pattern.discs * self.clutch.shoes * sets
        return Packs.of(candidate.size.pack, len(self.on_hand), needed)


@dataclass(frozen=True)
class Outcome:
    """What B draws say of one candidate.

    `packs` (B) are the fewest with which all sets are built when one stack goes on the gauge
    first; `blind_packs` (B) the same without a gauge, by the bound alone; `sample_short` (B)
    how far a sample of `sample_packs` lies beyond the load tolerance, in sds of its discs
    (below 0 where its mean is within); `error_n`
    (B) the true less the believed load of an average stack without a gauge; `spread_n` (B)
    the mean true spread of the sets as first built, NaN where they were not.
    """

    packs: Index
    blind_packs: Index
    sample_short: Array
    error_n: Array
    spread_n: Array

    @classmethod
    def joined(cls, parts: list[Outcome]) -> Outcome:
        """Join the outcomes of several ranges of draws."""
        return cls(
            *(
                np.concatenate([getattr(part, name) for part in parts])
                for name in ("packs", "blind_packs", "sample_short", "error_n", "spread_n")
            )
        )


def sample_packs(candidate: Candidate) -> int:
    """Packs of a sample: enough for one stack."""
    return -(-candidate.pattern.discs // candidate.size.pack)


def judge(study: Study, seed: int, numbers: range) -> list[Outcome]:
    """Judge every candidate of a study by the draws of some numbers."""
    rows: list[list[tuple[float, ...]]] = [[] for _ in study.candidates]
    count = max(study.packs(candidate).most_discs for candidate in study.candidates)
    for number in numbers:
        draw = Draw(seed, number)
        size = study.candidates[0].size
        unpacked = unpack(size, study.clutch, study.making, study.on_hand, draw, count)
        for of_candidate, candidate in zip(rows, study.candidates, strict=True):
            of_candidate.append(_row(study, candidate, unpacked, draw))
    return [_outcome(np.array(of_candidate)) for of_candidate in rows]


def _row(study: Study, candidate: Candidate, unpacked: Unpacked, draw: Draw) -> tuple[float, ...]:
    """What one draw says of one candidate, in the order of `Outcome`."""
    new, packs = len(study.on_hand), study.packs(candidate)
    factor = learned_factor(unpacked, new, candidate, study.clutch, study.making, draw)
    gauged, blind = benches(candidate, study.clutch, unpacked, new, factor)
    found, built = fewest(gauged, packs, draw)
    return (
        found,
        first(lambda k: blind.may_do(packs.discs(k)), packs.least, packs.most),
        _sample_short(gauged, new, sample_packs(candidate) * candidate.size.pack),
        blind.error_n,
        np.nan if built is None else float(built.spread_n.mean()),
    )


def _outcome(rows: Array) -> Outcome:
    packs, blind, times, error, spread = rows.T
    return Outcome(packs.astype(np.intp), blind.astype(np.intp), times, error, spread)


def _sample_short(on: Bench, new: int, sample: int) -> float:
    """Sds of a disc by which the mean of a sample is off target beyond the tolerance."""
    lot_sd = float(on.worth[new:].std())
    beyond = abs(on.room_n - on.worth[new : new + sample].mean()) - on.clutch.load_tolerance_n
    return float(beyond) / max(lot_sd, 1e-9)


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
    """
    from joblib import Parallel, delayed

    ranges = [
        range(first_draw + low, first_draw + min(low + CHUNK, draws))
        for low in range(0, draws, CHUNK)
    ]
    tasks = [(study, numbers) for numbers in ranges for study in studies]
    parts: list[list[list[Outcome]]] = [[] for _ in studies]
    started = monotonic()
    results = Parallel(n_jobs=workers or -1, return_as="generator")(
        delayed(judge)(study, seed, numbers) for study, numbers in tasks
    )
    for done, outcomes in enumerate(results, 1):
        parts[(done - 1) % len(studies)].append(outcomes)
        left = (monotonic() - started) * (len(tasks) / done - 1)
        report(f"{draws} deliveries, {left:.0f} s left", done / len(tasks))
    return [
        [Outcome.joined([part[at] for part in of_study]) for at in range(len(of_study[0]))]
        for of_study in parts
    ]


@contextmanager
def on_cluster(address: str | None) -> Iterator[None]:
    """Send the draws to a Dask cluster at `address`; without one they stay here.

    Raises
    ------
    InputError
        when the extra `cluster` is not installed, or nobody answers at the address.
    """
    if address is None:
        yield
        return
    try:
        from dask.distributed import Client
        from joblib import parallel_config
    except ImportError:
        raise InputError(
            Problem(
                "A cluster needs the extra packages of evenstack[cluster].",
                "--cluster",
                "Install them, or leave the option out.",
            )
        ) from None
    try:
        client = Client(address, timeout=10)
    except (OSError, ValueError) as error:
        raise InputError(
            Problem(f"No scheduler answers ({error}).", f"--cluster {address}", "Check it runs.")
        ) from None
    with client, parallel_config(backend="dask"):
        yield
