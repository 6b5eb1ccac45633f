"""Single discs on the gauge, against the dense normal conditional and against readings."""

from dataclasses import replace

import numpy as np
import pytest

from optimizer.errors import InputError
from optimizer.estimate.direct import Direct, alone, folded
from optimizer.estimate.learn import learn
from optimizer.estimate.prior import LEVEL_SD
from optimizer.face.sources import open_job
from optimizer.model.readings import Reading
from tests.simulator.play import NO_SHIMS
from tests.simulator.setup import job_for, rig_for
from tests.simulator.truth import TRAVEL_MM, Truth, World

WORLD = World(sharp=True, instrument_sd_mm=0.010, discs=8)
AT_MM = TRAVEL_MM / 9
LEVEL = LEVEL_SD["en16984"]


@pytest.fixture(scope="module")
def rig():
    return rig_for(Truth.draw(WORLD, 3), job_for(WORLD))


def pressed(rig, loads_n, which):
    disc = np.array(which)
    seen = Direct(disc, np.full(len(disc), AT_MM), np.asarray(loads_n), np.ones(len(disc)))
    return folded(rig, seen)


def test_one_by_one_is_what_all_at_once_would_be(rig):
    """The normal conditional of all discs and the factor together (any textbook)."""
    which = [0, 2, 3, 5]
    disc, at = np.array(which), np.full(4, AT_MM)
    one = alone(rig, disc, at)
    loads = one.load_n * (1 + 0.004 * np.array([1.0, -2.0, 3.0, 2.0]))  # small: hardly curved
    n = len(rig.belief)
    prior = np.zeros((3 * n + 1, 3 * n + 1))
    for d in range(n):
        prior[3 * d : 3 * d + 3, 3 * d : 3 * d + 3] = rig.belief.covariance[d]
    prior[-1, -1] = LEVEL**2
    h = np.zeros((4, 3 * n + 1))
    for row, d in enumerate(which):
        h[row, 3 * d : 3 * d + 3] = one.slope[row]
        h[row, -1] = one.slope[row, 2]
    gain = np.linalg.solve(h @ prior @ h.T + np.diag(one.noise_n2), h @ prior).T
    state = gain @ (loads - one.load_n)
    left = prior - gain @ h @ prior
    after = pressed(rig, loads, which)
    assert after.thickness_mm - rig.belief.thickness_mm == pytest.approx(
        state[0 : 3 * n : 3], abs=2e-5
    )
    assert np.log(after.factor) == pytest.approx(state[2 : 3 * n : 3] + state[-1], abs=2e-4)
    assert after.level_sd == pytest.approx(np.sqrt(left[-1, -1]), rel=0.01)
    assert (np.linalg.eigvalsh(after.covariance) > -1e-12).all()


def test_a_bag_of_loads_tells_what_readings_of_the_same_discs_tell(rig):
    """`learn` takes each as a sub-stack of one, by another road."""
    names, which = rig.belief.names, range(8)
    disc = np.array(which)
    one = alone(rig, disc, np.full(8, AT_MM))
    loads = one.load_n * np.array([1.02, 0.99, 1.01, 1.03, 1.0, 0.98, 1.02, 1.01])
    readings = [
        Reading(1, None, ((names[d],),), "settled", loads[d], AT_MM, rebuilt=True) for d in which
    ]
    learned = learn(rig, readings, NO_SHIMS)
    after = pressed(rig, loads, which)
    told = alone(learned.rig, disc, np.full(8, AT_MM))
    mine = alone(rig.believing(after), disc, np.full(8, AT_MM))
    assert mine.load_n == pytest.approx(told.load_n, rel=2e-3)
    assert after.level_sd == pytest.approx(learned.load_factor_sd / learned.load_factor, rel=0.1)


def test_a_disc_of_known_load_is_known_to_the_gauge(rig):
    """Without edges and with a fine gauge the believed load is the load that was read."""
    sure = replace(rig.belief, scatter=np.zeros(8))
    fine = replace(rig.gauge, resolution_n=0.01, repeatability_n=0.01, travel_stop_mm=0.0)
    sure = replace(rig.believing(sure), gauge=fine)
    disc, at = np.arange(8), np.full(8, AT_MM)
    one = alone(sure, disc, at)
    loads = one.load_n * np.linspace(0.97, 1.05, 8)
    seen = Direct(disc, at, loads, np.ones(8))
    after = folded(sure, seen)
    assert alone(sure.believing(after), disc, at).load_n == pytest.approx(loads, abs=0.1)


FOLDER_JOB = """[bag]
file = "bag.csv"
[clutch]
travel_mm = 1.524
[datum]
seating_load_n = 27
[target]
load_n = 890
[disc]
od_mm = 20
id_mm = 10.2
{nominal}
[instrument]
thickness_sd_mm = 0.01
height_sd_mm = 0.01
"""


def opened(tmp_path, header, rows, nominal=""):
    (tmp_path / "job.toml").write_text(FOLDER_JOB.format(nominal=nominal))
    (tmp_path / "bag.csv").write_text("\n".join([header, *rows]) + "\n")
    return open_job(tmp_path / "job.toml")


def loads_of(truth, which):
    return [truth.load_n(np.array([d]), AT_MM) for d in which]


def test_a_gauge_alone_tells_discs_that_were_not_measured(tmp_path):
    """Against the hidden truth: a bag of names and loads knows what a micrometer would."""
    truth = Truth.draw(replace(WORLD, discs=24, sharp=False, friction=0.0), 11)
    rows = [f"D{d:02d},sharp,{n:.1f},{AT_MM:.4f}" for d, n in enumerate(loads_of(truth, range(24)))]
    nominal = "thickness_mm = 1.06\ncone_height_mm = 0.5"
    work = opened(tmp_path, "disc,edge,load_n,at_mm", rows, nominal)
    rig = work.task
    disc, at = np.arange(24), np.full(24, AT_MM)
    told = alone(rig, disc, at)
    true = np.array(loads_of(truth, disc))
    assert work.bag.discs[0].nominal == ("thickness", "cone_height")
    assert np.std(told.load_n / true) < 0.35 * np.std(true / true.mean())
    assert work.task.level_sd < LEVEL / 3


def test_a_load_beside_a_caliper_halves_the_doubt_of_a_disc(tmp_path):
    truth = Truth.draw(WORLD, 12)
    header = "disc,thickness_mm,cone_height_mm,edge"
    discs = [
        f"D{d:02d},{truth.measured_t_mm[d]:.3f},{truth.measured_h_mm[d]:.3f},dressed"
        for d in range(8)
    ]
    plain = opened(tmp_path, header, discs)
    loads = [
        f"{row},{n:.1f},{AT_MM:.4f}"
        for row, n in zip(discs, loads_of(truth, range(8)), strict=True)
    ]
    both = opened(tmp_path, f"{header},load_n,at_mm", loads)
    disc, at = np.arange(8), np.full(8, AT_MM)

    def sd_n(work):
        rig = work.task
        slope = alone(rig, disc, at).slope
        return np.sqrt(np.einsum("ki,kij,kj->k", slope, work.belief.covariance, slope))

    assert (sd_n(both) < 0.6 * sd_n(plain)).all()


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("D00,1.05,0.42,sharp,900,", "Expected at beside load"),
        ("D00,1.05,0.42,sharp,,0.17", "Expected load beside at"),
        ("D00,1.05,0.42,sharp,900,0.4", "Expected at below 0.9 of the cone height"),
        ("D00,1.05,0.42,sharp,-9,0.17", "Expected load > 0"),
        ("D00,,,sharp,900,0.17", "Expected a number for thickness, found none"),
        ("D00,1.05,0.42,sharp,9000,0.17", "Look at the unit of the load"),
    ],
)
def test_a_load_that_tells_nothing_is_refused(tmp_path, row, said):
    with pytest.raises(InputError) as refused:
        opened(tmp_path, "disc,thickness_mm,cone_height_mm,edge,load_n,at_mm", [row])
    assert any(said in line for line in refused.value.lines())


def test_repeated_loads_of_a_disc_are_averaged_and_counted(tmp_path):
    rows = ["D00,1.05,0.42,sharp,900,0.17", "D00,,,sharp,904,0.17", "D01,1.05,0.42,sharp,,"]
    bag = opened(tmp_path, "disc,thickness_mm,cone_height_mm,edge,load_n,at_mm", rows).bag
    assert (bag.discs[0].load_n, bag.discs[0].loads, bag.discs[0].repeats) == (902.0, 2, 1)
    assert (bag.discs[1].load_n, bag.discs[1].loads) == (None, 0)
