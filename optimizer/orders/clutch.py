"""What is to be built: so many sets for one clutch, as numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.estimate.problem import datum_of, load_model, seat_sd_mm
from optimizer.match.layouts import shim_choices
from optimizer.mechanics.datum import Datum, Installed
from optimizer.mechanics.disc import Array
from optimizer.mechanics.packet import LoadModel
from optimizer.model.job import Effort, Gauge, Instrument, Job, StackRules, Units
from optimizer.model.pattern import Pattern


@dataclass(frozen=True)
class BenchWork:
    """What the builder will do to every set on the bench.

    `rounds` on the gauge at most, with swaps between them as `evenstack bench` advises; with
    `groups` discs are gauged in groups of so many, which then stay together.
    """

    rounds: int = 3
    groups: int = 0


#: what is done where nothing is said, and the minutes it takes
USUAL, MINUTES = BenchWork(), Effort()


@dataclass(frozen=True)
class OrderedClutch:
    """One clutch of which `sets` are to be built; its shoes count as alike.

    Sets are evened out to `resolution_n` and count as matched, as measured, to `spread_n`.

    `scatter` is the relative load scatter of a disc from build to build, `place_sd_mm` how well
    travel and seat of a shoe are known. `shims_mm` are the thicknesses, none first, that can go
    under every stack of a set alike. `work` is what will be done to every set, `dressed_scatter`
    the scatter that dressed edges would have, `units` those of the job, for words, `effort` the
    minutes of its bench work. In a room every stack is to press at rest where `pressing`.
    """

    name: str
    sets: int
    shoes: int
    target_n: float
    load_tolerance_n: float
    spread_n: float
    resolution_n: float
    travel_mm: float
    worn_travel_mm: float
    datum: Datum
    model: LoadModel
    poisson: float
    rules: StackRules
    instrument: Instrument
    gauge: Gauge
    scatter: float
    place_sd_mm: float = 0.0
    shims_mm: tuple[float, ...] = (0.0,)
    work: BenchWork = USUAL
    dressed_scatter: float = 0.004
    units: Units = "mm"
    effort: Effort = MINUTES
    pressing: bool = True

    def discs(self, pattern: Pattern, sets: int | None = None) -> int:
        """Return the discs in all the stacks of a pattern, those of all sets or of so many."""
        return pattern.discs * self.shoes * (self.sets if sets is None else sets)

    @property
    def rooms_mm(self) -> Array:
        """What the constants of a stack add up to at the target, by shims (R).

        The right-hand side of the linear identity (`mechanics.constant`).
        """
        return self.datum.required_travel_mm(self.travel_mm, np.array(self.shims_mm))


def clutch_name(job: Job) -> str:
    """Name a clutch after its job file or, where that is just job.toml, after its folder."""
    return job.path.stem if job.path.stem != "job" else job.path.resolve().parent.name


def clutch_of(
    job: Job, target_n: Array, sets: int, flat_mm: float, work: BenchWork = USUAL
) -> tuple[OrderedClutch, list[str]]:
    """Pose a job as a clutch to buy for, and say what had to be simplified.

    Parameters
    ----------
    target_n : target load in N of each shoe (S)
    flat_mm : edge flats the ordered discs will get; 0 leaves them sharp
    """
    datum = datum_of(job)
    remarks = []
    travels = np.array([(s.travel_mm, s.worn_travel_mm) for s in job.shoes])
    lengths = datum.lengths_mm(len(job.shoes))
    if np.ptp(travels, axis=0).any() or np.ptp(target_n) or np.ptp(lengths):
        remarks.append(f"{job.path.name}: its shoes differ; the order is planned for their mean.")
    if datum.has_room:
        datum = Installed(float(lengths.mean()))
        if job.stack.shims_mm:
            remarks.append(
                f"{job.path.name}: its shims are taken as those of one clutch; each of the "
                f"{sets} sets wants as many."
            )
    travel, worn = travels.mean(0)
    clutch = OrderedClutch(
        name=clutch_name(job),
        sets=sets,
        shoes=len(job.shoes),
        target_n=float(target_n.mean()),
        load_tolerance_n=job.target.load_tolerance_n,
        spread_n=job.target.spread_tolerance_n,
        resolution_n=job.target.resolution_n,
        travel_mm=float(travel),
        worn_travel_mm=float(worn),
        datum=datum,
        model=load_model(job),
        poisson=job.disc.poisson,
        rules=job.stack,
        instrument=job.instrument,
        gauge=job.gauge,
        scatter=job.model.dressed_scatter if flat_mm > 0 else job.model.sharp_scatter,
        place_sd_mm=_place_sd_mm(job),
        shims_mm=_like_shims(job),
        work=work,
        dressed_scatter=job.model.dressed_scatter,
        units=job.units,
        effort=job.effort,
    )
    return clutch, remarks


def _place_sd_mm(job: Job) -> float:
    """How well travel and, with an installed length, seat of a shoe are known: mean of shoes."""
    travel = np.array([shoe.travel_sd_mm for shoe in job.shoes])
    return float(np.sqrt(np.mean(travel**2 + seat_sd_mm(job) ** 2)))


def _like_shims(job: Job) -> tuple[float, ...]:
    """Thicknesses in mm that the shims on hand can add under all shoes of a clutch."""
    every = shim_choices(job.stack.shims_mm, (0.0,) * len(job.shoes))
    sums = [[round(sum(shims), 4) for shims in choice] for choice in every]
    return tuple(sorted({of_choice[0] for of_choice in sums if len(set(of_choice)) == 1}))
