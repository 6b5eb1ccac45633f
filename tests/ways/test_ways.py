import json
from dataclasses import replace

import numpy as np
import pytest

from optimizer.errors import CannotBuildError
from optimizer.estimate.learn import learn, loads
from optimizer.face.sources import open_job
from optimizer.io.known_file import write_known
from optimizer.mechanics.disc import lever_ratio
from optimizer.model.job import Effort
from optimizer.model.readings import Reading, Record
from optimizer.report.ways_card import look_sentence, ways_card
from optimizer.report.ways_picture import curve
from optimizer.ways.compare import Comparison, WayResult
from optimizer.ways.first import SECOND_LOOK, prepare, second_look, ways_from
from optimizer.ways.hidden import Believed
from optimizer.ways.play import MOST_ROUNDS, play
from optimizer.ways.start import StartingPoint
from optimizer.ways.way import Clock, Played, Way
from tests.shell import evenstack
from tests.simulator.truth import World
from tests.ways.small import DISCS, small_job, small_work

SHARP = World(True, 0.010, place_sd_mm=0.005)
SURE = World(False, 0.0001, stiffness_sd=0.0, dressed_scatter=0.0)
NONE = np.zeros(3)


def believed(start):
    rig = start.task
    return learn(rig, start.readings, NONE, start.keep_groups)


@pytest.fixture(scope="module")
def start(tmp_path_factory):
    return StartingPoint.of(small_work(tmp_path_factory.mktemp("ways"), SHARP))


@pytest.fixture
def found(start):
    """Three ways as they might have gone on four benches."""
    look = second_look(start)
    gone = {
        Way("match as measured"): (40.0, 0.97),
        Way(SECOND_LOOK, again=look.discs): (41.0, 0.98),
        Way("quick and unsure"): (20.0, 0.6),
    }
    told = tuple(
        WayResult(way, tuple(Played(m + k, 9, 3, said, True, said - 0.1) for k in range(4)))
        for way, (m, said) in gone.items()
    )
    return Comparison(start, 0.9, told, look, np.array([1.0, 2.0]), (Way("dress"),), None)


def test_benches_are_drawn_as_the_loads_are_believed(start):
    """Mean and covariance of the drawn loads against those of the linear-Gaussian state."""
    learned = believed(start)
    told, state = loads(learned, start.stacks, NONE), Believed.of(learned)
    drawn = []
    for number in range(100):
        bench = state.draw(NONE, 5, number)
        for shoe, packs in enumerate(start.stacks, 1):
            bench.build(packs, (1.0,) * len(packs), shoe)
        drawn.append(bench.loads_n(on_gauge=True))
    apart = np.diff(np.array(drawn), axis=1)
    cover = np.diff(np.diff(told.covariance_n2, axis=0), axis=1)
    sd = np.sqrt(np.diag(cover))
    assert apart.std(0) == pytest.approx(sd, rel=0.22)  # 3 standard errors of 100 draws
    assert (np.abs(apart.mean(0) - np.diff(told.mean_n)) < 3.5 * sd / np.sqrt(100)).all()


def test_the_same_number_is_the_same_bench(start):
    state = Believed.of(believed(start))
    benches = [state.draw(NONE, 0, number) for number in (1, 1, 2)]
    first, again, other = (b.rig.belief.thickness_mm for b in benches)
    assert (first == again).all()
    assert (first != other).any()


def test_minutes_of_a_sure_bench_are_those_of_building_and_reading_once(tmp_path):
    one = StartingPoint.of(small_work(tmp_path, SURE))
    one = replace(one, job=replace(one.job, effort=Effort(reading=2.0, build=5.0)))
    bench = Believed.of(believed(one)).draw(NONE, 0, 0)
    went = play(one, Way("as measured"), bench, 0.9)
    assert went.within
    assert (went.minutes, went.discs, went.rounds) == (3 * 5.0 + 3 * 2.0, 0, 1)


def test_what_is_done_first_costs_its_minutes():
    clock = Clock(Effort(caliper=0.5, micrometer=1.0, dressing=3.0, reading=1.5, exchange=1.5))
    clock.measures(10, "micrometer")
    clock.dresses(4)
    clock.presses(6, 6)
    clock.moves(2, 1)
    assert (clock.minutes, clock.discs) == (10 + 12 + 9 + 3, 22)
    clock.moves(9, 2)  # two stacks are built anew sooner than nine discs are exchanged
    assert clock.minutes == 34 + 2 * 3.0


@pytest.mark.parametrize("way", [Way("alone", groups=1), Way("three", groups=3)])
def test_discs_pressed_first_are_built_and_read_until_they_match(start, way):
    went = play(start, way, Believed.of(believed(start)).draw(NONE, 0, 1), 0.9)
    assert 1 <= went.rounds <= MOST_ROUNDS
    pressed = DISCS if way.groups == 1 else DISCS // way.groups
    assert went.minutes >= pressed * 1.5 + 3 * 3.0 + 3 * 1.5
    assert went.within or went.said < 0.9


def test_after_a_move_only_what_it_changed_is_read(start, monkeypatch):
    some = 0
    for number in range(2):
        bench = Believed.of(believed(start)).draw(NONE, 0, number)
        log = []
        build, read = bench.build, bench.read_n

        def built(packs, anew, shoe=None, *more, build=build, log=log):
            log.append(("built", shoe))
            build(packs, anew, shoe, *more)

        def seen(packs, shoe, *more, read=read, log=log):
            log.append(("read", shoe))
            return read(packs, shoe, *more)

        monkeypatch.setattr(bench, "build", built)
        monkeypatch.setattr(bench, "read_n", seen)
        play(start, Way("match as measured"), bench, 0.9)
        assert [what for what, _ in log[:6]] == ["built"] * 3 + ["read"] * 3
        fresh = []
        for what, shoe in log[6:]:
            if what == "built":
                fresh.append(shoe)
            elif fresh:  # then those are read, and no others
                assert shoe == fresh.pop(0)
                some += 1
        assert not fresh
    assert some


def test_ways_fit_what_is_there(start, tmp_path):
    names = [way.name for way in ways_from(start, second_look(start))]
    assert names[0] == "match as measured"
    assert f"dress the {DISCS} sharp discs" in names
    assert "groups of three that stay together" in names
    assert "groups of two that stay together" not in names  # three discs a stack
    sure = StartingPoint.of(small_work(tmp_path, World(False, 0.002, place_sd_mm=0.005)))
    fine = [way.name for way in ways_from(sure, second_look(sure))]
    assert not any("sharp" in name or name[-13:] == "by micrometer" for name in fine[3:])


def test_the_card_says_best_first_and_whether_measuring_is_enough(found):
    said = ways_card(found)
    assert said.startswith("Fewest minutes: match as measured, 42 minutes (nine in ten within 43)")
    assert all(len(line) <= 80 for line in said.splitlines())
    assert "What was measured is enough" in said
    assert "Leads to no set within the limits of the job: dress." in said
    assert "In the clutch" in said
    dear = replace(found, saved=np.array([30.0, 40.0]))
    assert look_sentence(dear).startswith("Worth a second look")
    assert dear.look.discs[0] in look_sentence(dear)


def test_a_curve_ends_at_the_chance_of_its_way(found):
    minutes, chance = curve(found.best)
    assert minutes == [0.0, 40.0, 41.0, 42.0, 43.0]
    assert chance[-1] == pytest.approx(found.best.chance)


def test_the_command_plays_a_bag_and_draws_it(tmp_path, capsys):
    job = small_job(tmp_path, World(False, 0.002, stiffness_sd=0.0, dressed_scatter=0.0))
    picture = tmp_path / "ways.png"
    words = ("ways", job, "--draws", 2, "--workers", 1, "--stop-at", 0.6)  # one round or two
    told = evenstack(capsys, *words, "--plot", picture, "--json")
    assert told.code == 0, told.err
    assert picture.read_bytes()[:4] == b"\x89PNG"
    answer = json.loads(told.out)
    reaching = [w["minutes"] for w in answer["ways"] if w["chance"] >= 0.6]
    assert reaching == sorted(reaching)
    assert len(reaching) > 1
    assert "match as measured" in {w["way"] for w in answer["ways"]}
    assert 0 < len(answer["second_look"]) <= 8


def test_a_wrong_file_is_said_in_words(tmp_path, capsys):
    refused = evenstack(capsys, "ways", tmp_path / "none.toml")
    assert refused.code == 2
    assert "none.toml" in refused.err


def test_dressed_discs_push_as_dressed_ones_and_cost_their_minutes(start):
    bench = Believed.of(believed(start)).draw(NONE, 0, 2)
    every, sharp = np.arange(DISCS), bench.rig.discs
    clock = Clock(start.job.effort)
    known = prepare(start, Way("dress", dress=True), bench, clock)
    dressed = bench.rig.discs.take(every)
    # EN 16984, flats: the lever arm is shorter by the ratio of the radial widths
    width = (sharp.od_mm - sharp.id_mm)[every]
    assert lever_ratio(dressed) == pytest.approx(width / (width - 4 * dressed.flat_mm))
    assert dressed.flat_mm == pytest.approx(start.job.disc.default_flat_mm, rel=0.5)
    assert bench.rig.belief.scatter[every] == pytest.approx(start.job.model.dressed_scatter)
    # flats and cones are known as they were measured, each with its error
    flat_sd = start.job.instrument.flat_sd_mm
    assert known.task.belief.flat_mm[every] == pytest.approx(dressed.flat_mm, abs=4 * flat_sd)
    assert (known.changed, known.stands, known.readings) == (True, False, [])
    each = start.job.effort.dressing + start.job.effort.caliper
    assert (clock.minutes, clock.discs) == (pytest.approx(DISCS * each), 2 * DISCS)
    # stiffer by their shorter arm these discs press the target no more
    with pytest.raises(CannotBuildError, match="There is no set after this: dress"):
        play(start, Way("dress", dress=True), bench, 0.9)


def test_a_job_that_was_read_goes_on_from_what_stands(start, tmp_path):
    work = small_work(tmp_path, SHARP)
    rows = tuple(
        Reading(1, shoe, packs, "settled", float(work.task.target_n[shoe - 1]) + 2.0 * shoe)
        for shoe, packs in enumerate(start.stacks, 1)
    )
    record = Record("readings.csv", start.stacks, start.shims, False, rows)
    write_known(work.job, work.bag, (record,), None)
    on = StartingPoint.of(open_job(work.job.path))
    assert (on.stands, on.stacks, on.shims, on.readings) == (True, start.stacks, start.shims, rows)
    assert ways_from(on, second_look(on))[0].name == "go on from what stands"
    bench = Believed.of(believed(on)).draw(NONE, 0, 0)
    assert bench.stands == dict(enumerate(start.stacks, 1))
    # what was read of them is kept: the benches scatter about it as far as the gauge errs
    load = [Believed.of(believed(on)).draw(NONE, 0, n).loads_n(True) for n in range(20)]
    seen = np.array([row.load_n for row in rows])
    assert np.mean(load, axis=0) == pytest.approx(seen, abs=4.0)
