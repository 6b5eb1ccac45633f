"""Chances against draws of everything that a job declares to be in doubt.

What is drawn here is written anew from the job's own words: nothing of the program's propagation
or learning is used, only the exact load of discs that are known. Every disc is a lot of its own,
so that what is believed of it is what was measured. Readings are conditioned on by the regression
of true loads on readings over the draws.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from optimizer.estimate.learn import in_clutch, learn, loads
from optimizer.estimate.loads import load_uncertainty
from optimizer.estimate.prior import believe
from optimizer.estimate.probability import spread_within
from optimizer.estimate.problem import pose
from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import LAWS
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import stack_load
from optimizer.model.job import Datum, Instrument
from optimizer.model.readings import Reading
from tests.estimate.sets import a_bag, a_job

DRAWS = 10_000
#: what finite elements leave open of the level of each law, and a lot's modulus
LEVEL = {"en16984": 0.05, "thick": 0.025}
NO_SHIMS = (0.0, 0.0, 0.0)


USUAL = Instrument(0.004, 0.006, flat_sd_mm=0.02)
CALIPER = Instrument(0.01, 0.01, 0.01, 0.01, flat_sd_mm=0.03)


@dataclass(frozen=True)
class Case:
    """One job: its law and datum, how discs and shoes were measured, where the gauge reads."""

    law: str = "en16984"
    datum: str = "seating"
    overall: bool = True
    sharp: float = 0.4
    tool: Instrument = USUAL
    travel_sd_mm: float = 0.02
    seat_sd_mm: float = 0.0
    reads: str = "in the clutch"
    singles: int = 6
    pairs: int = 0


CASES = {
    "usual": Case(),
    "beside": Case(reads="beside it"),
    "caliper": Case(tool=CALIPER, overall=False),
    "sharp": Case(sharp=1.0, travel_sd_mm=0.005),
    "dressed": Case(sharp=0.0, tool=Instrument(0.002, 0.002, flat_sd_mm=0.02)),
    "installed": Case(datum="installed", seat_sd_mm=0.01),
    "installed beside": Case(datum="installed", seat_sd_mm=0.02, reads="beside it"),
    "thick": Case(law="thick"),
    "thick installed": Case(law="thick", datum="installed", seat_sd_mm=0.02, tool=CALIPER),
    "pairs": Case(datum="installed", singles=4, pairs=2, seat_sd_mm=0.01, overall=False),
}


@pytest.fixture(scope="module", params=CASES, ids=str)
def drawn(request):
    """A case, the program's set, true loads and settled readings (DRAWS, 3) in N."""
    case = CASES[request.param]
    job = a_job(case.datum, case.law, case.tool)
    if case.datum == "installed":
        job = replace(job, datum=Datum(None, room_mm(case)))
    shoe = replace(job.shoes[0], travel_sd_mm=case.travel_sd_mm, seat_sd_mm=case.seat_sd_mm)
    job = replace(job, shoes=(shoe,) * 3, gauge=replace(job.gauge, reads=case.reads))
    bag = a_bag(case.overall, case.sharp)
    bag = replace(bag, discs=tuple(replace(d, lot=d.name) for d in bag.discs))
    order = sorted(range(40), key=lambda k: -bag.discs[k].cone_height_mm)
    dealt = iter(order)
    stacks = [[(next(dealt), next(dealt), -1) for _ in range(case.pairs)] for _ in range(3)]
    for _ in range(case.singles):
        for stack in stacks:
            stack.append((next(dealt), -1, -1))
    stacks = np.array(stacks)
    true, read = everything_drawn(case, job, bag, stacks)
    return case, job, bag, stacks, true, read


def room_mm(case):
    """Room that stacks of six packets fill at rest with some 250 N."""
    return 9.95 if case.pairs else 8.1


def everything_drawn(case, job, bag, stacks):
    rng = np.random.default_rng(20261127)
    n, tool = len(bag.discs), job.instrument

    def off(sd, step, *shape):
        return sd * rng.standard_normal(shape) + step * rng.uniform(-0.5, 0.5, shape)

    t_off = off(tool.thickness_sd_mm, tool.thickness_resolution_mm, DRAWS, n)
    h_off = off(tool.height_sd_mm, tool.height_resolution_mm, DRAWS, n)
    dressed = np.array([d.edge == "dressed" for d in bag.discs])
    t, h, flat = np.array([(d.thickness_mm, d.cone_height_mm, d.flat_mm) for d in bag.discs]).T
    scatter = np.where(dressed, job.model.dressed_scatter, job.model.sharp_scatter)
    stiff = job.model.disc_stiffness_sd * rng.standard_normal((DRAWS, n))
    stiff += scatter * rng.standard_normal((DRAWS, n))
    stiff += LEVEL[case.law] * rng.standard_normal((DRAWS, 1))
    own = discs(
        20.0,
        10.2,
        (t + t_off).ravel(),
        (h + h_off - (t_off if case.overall else 0.0)).ravel(),
        (flat + dressed * tool.flat_sd_mm * rng.standard_normal((DRAWS, n))).ravel(),
        factor=np.exp(stiff).ravel(),
    )
    places = stacks[..., : 2 if case.pairs else 1]
    places = np.where(places >= 0, places + n * np.arange(DRAWS)[:, None, None, None], -1)
    p = packets(own, places, LoadModel(LAWS[case.law]))
    seated = case.datum == "seating"
    datum = Seating(27.0) if seated else Installed(room_mm(case))
    place = case.travel_sd_mm * rng.standard_normal((DRAWS, 3))
    place += (not seated) * case.seat_sd_mm * rng.standard_normal((DRAWS, 3))
    true = stack_load(p, datum, 1.5 + place)
    stop = job.gauge.travel_stop_mm * rng.standard_normal((DRAWS, 3))
    pressed = 1.5 + stop + (place if case.reads == "in the clutch" else 0.0)
    read = stack_load(p, datum, pressed) + job.gauge.repeatability_n * rng.standard_normal(
        (DRAWS, 3)
    )
    return true, np.round(read / job.gauge.resolution_n) * job.gauge.resolution_n


def share_within(mean, covariance, width):
    """Share of draws of a normal whose largest and smallest lie within a width."""
    deviations = np.random.default_rng(3).multivariate_normal(mean, covariance, 400_000)
    return float((np.ptp(deviations, axis=1) <= width).mean())


def test_before_any_reading(drawn):
    case, job, bag, stacks, true, _ = drawn
    task = pose(believe(bag, job), job, np.full(3, 850.0))
    load = stack_load(packets(task.discs, stacks, task.model), task.datum, 1.5)
    uncertainty = load_uncertainty(task, stacks, load)
    sd = np.sqrt(np.diag(uncertainty.covariance_n2(LEVEL[case.law])))
    # the sd of 10,000 draws is itself known to 0.7 %
    np.testing.assert_allclose(sd, true.std(axis=0), rtol=0.025)
    # the loads as if they were matched: their differences from what is believed, side by side
    off = true - load
    for width in (9.0, 30.0):
        said = float(
            spread_within(uncertainty.shift_n, uncertainty.covariance_n2(LEVEL[case.law]), width)
        )
        assert said == pytest.approx((np.ptp(off, axis=1) <= width).mean(), abs=0.01)


def test_after_a_reading_of_each_stack(drawn):
    _, job, bag, stacks, true, read = drawn
    task = pose(believe(bag, job), job, np.full(3, 850.0))
    rig = task
    named = task.named(stacks)
    seen = np.round(read.mean(axis=0)) + np.array([3.0, -2.0, 1.0])
    rows = [Reading(1, s + 1, named[s], "settled", float(seen[s])) for s in range(3)]
    believed = in_clutch(rig, loads(learn(rig, rows, NO_SHIMS), named, NO_SHIMS))
    # regression of what is true on what was read
    both = np.cov(np.concatenate([true, read], axis=1).T)
    gain = both[:3, 3:] @ np.linalg.inv(both[3:, 3:])
    mean = true.mean(axis=0) + gain @ (seen - read.mean(axis=0))
    covariance = both[:3, :3] - gain @ both[3:, :3]
    np.testing.assert_allclose(believed.mean_n, mean, atol=0.35)
    np.testing.assert_allclose(
        np.sqrt(np.diag(believed.covariance_n2)), np.sqrt(np.diag(covariance)), rtol=0.03
    )
    for width in (4.0, 9.0):
        level = believed.mean_n - mean + np.array([0.5, 0.0, -0.5])
        said = float(spread_within(level, believed.covariance_n2, width))
        assert said == pytest.approx(share_within(level, covariance, width), abs=0.01)
