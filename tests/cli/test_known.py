"""What the bench taught is one state of knowledge, and every command goes by it."""

import json
import shutil

import numpy as np
import pytest

from optimizer.bench.session import open_session
from optimizer.control import Limits, quiet
from optimizer.face.curves import load_curve
from optimizer.face.sources import open_job
from optimizer.io.documents import to_json
from optimizer.match.plan import plan as write_plan
from optimizer.match.result import Matched, exact
from optimizer.units import N_PER_LBF
from tests.cli.test_bench import answers, hidden, rows
from tests.cli.test_bench import solved as solved
from tests.report.html_checks import read_html
from tests.shell import evenstack

MASSES = "shoe_mass_g = 80.0\ncg_radius_mm = 30.0\n"


def numbers(packs):
    return np.array([int(disc[1:]) for packet in packs for disc in packet])


@pytest.fixture(scope="module")
def ended(solved, tmp_path_factory):
    """A bench session played to its stop, in each round only the stacks that were changed.

    It starts from discs as they lie in the bag, which takes more than one round.
    """
    folder = tmp_path_factory.mktemp("ended")
    shutil.copytree(solved, folder, dirs_exist_ok=True)
    job, plan = folder / "job.toml", folder / "first" / "plan.json"
    work = open_job(job)
    dealt = np.full((3, 9, 3), -1)
    dealt[..., 0] = np.arange(27).reshape(3, 9)
    found = Matched(exact(work.task, dealt, ((),) * 3, 0.0), False, 0.0, None, ())
    plan.write_text(to_json(write_plan(work.job, work.task, (found,), (), 0, None)))
    job.write_text(job.read_text().replace("[datum]", MASSES + "[datum]"))
    log = plan.with_name("readings.csv")
    truth = hidden()
    lines = ["round,shoe,discs,kind,load_lbf"]
    session = open_session(job, plan, None, 1, 0, 0.9, 0, False)
    stacks = list(session.planned.values())
    changed = [0, 1, 2]
    for number in range(1, 12):
        for shoe in changed:
            truth.build(numbers(stacks[shoe]))
        read = rows(truth, [numbers(packs) for packs in stacks], number)
        lines += [read[shoe] for shoe in changed or range(3)]
        log.write_text("\n".join(lines) + "\n")
        done = session.advise(session.read().rows, Limits(), quiet)
        session.keep(done)
        if done.advice.kind == "stop":
            return folder, done
        new = [stack.packets for stack in done.next.sets[0].stacks]
        changed = [s for s in range(3) if new[s] != stacks[s]]
        stacks = new
    raise AssertionError("never stopped")


@pytest.fixture
def shop(ended, tmp_path):
    shutil.copytree(ended[0], tmp_path, dirs_exist_ok=True)
    return tmp_path, ended[1]


def ran(capsys, *words):
    told = evenstack(capsys, *words)
    assert told.code == 0, told.err
    return told


def document(capsys, *words):
    return json.loads(ran(capsys, *words, "--json").out)


def test_the_session_was_more_than_one_round(ended):
    folder, done = ended
    text = (folder / "first" / "readings.csv").read_text().splitlines()
    last = int(text[-1].split(",")[0])
    assert last > 1
    assert sum(line.startswith(f"{last},") for line in text) < 3  # an unchanged shoe was not read
    assert abs(done.learned.load_factor - 1) > 0.01


def test_taking_up_a_finished_session_says_the_same_words_again(shop, capsys, monkeypatch):
    folder, done = shop
    answers(monkeypatch, [])
    words = ("bench", folder / "job.toml", "--plan", folder / "first" / "plan.json", "--why")
    told = ran(capsys, *words)
    assert "STOP: leave the stacks as they are" in told.out
    assert "(not read)" not in told.out
    assert "SWAP" not in told.out
    again = ran(capsys, *words)
    assert again.out == told.out
    assert f"{done.learned.load_factor:.4f} +- " in told.out


def test_engage_and_retarget_start_from_what_the_bench_left(shop, capsys):
    folder, done = shop
    loads = done.advice.loads.mean_n
    found = document(capsys, "engage", folder / "job.toml")
    assert found["hookup"]["work_n"] == pytest.approx(loads, abs=1e-3)
    by_plan = folder / "next.json"

    by_plan.write_text(to_json(done.next))
    named = document(capsys, "engage", folder / "job.toml", "--plan", by_plan)
    assert named["hookup"] == found["hookup"]
    assert "readings" in found["source"]
    fresh = document(capsys, "engage", folder / "job.toml", "--plan", by_plan, "--fresh")
    assert np.abs(np.subtract(fresh["hookup"]["work_n"], loads)).min() > 1
    way = document(capsys, "retarget", folder / "job.toml", "--later", 100)
    assert way["now"]["work_n"] == pytest.approx(loads, abs=1e-3)
    assert way["target_rpm"] == pytest.approx(found["mean_rpm"] + 100, abs=1e-3)


def test_load_and_inspect_tell_of_a_stack_what_it_reads(shop, capsys):
    folder, done = shop
    stack = " ".join(disc for packet in done.stacks[1] for disc in packet)
    told = document(capsys, "load", folder / "job.toml", "--stack", stack, "--shoe", 2)
    assert told["working_load_n"] == pytest.approx(done.advice.loads.mean_n[1], abs=1e-4)
    sd = np.sqrt(done.advice.loads.covariance_n2[1, 1])
    assert told["working_load_sd_n"] == pytest.approx(sd, abs=1e-4)
    assert dict(map(tuple, told["table"]))[told["travel_mm"]] == told["working_load_n"]
    apart = document(capsys, "load", folder / "job.toml", "--stack", stack, "--shoe", 2, "--fresh")
    assert abs(apart["working_load_n"] - told["working_load_n"]) > 2
    held = document(capsys, "inspect", folder / "job.toml")["known"]
    assert held["load_factor"] == pytest.approx(done.learned.load_factor, abs=1e-6)
    assert [s["load_n"] for s in held["stacks"]] == pytest.approx(
        done.advice.loads.mean_n, abs=1e-4
    )
    assert held["chance_within_tolerance"] == pytest.approx(done.advice.chance_now, abs=1e-6)
    last = (folder / "first" / "readings.csv").read_text().splitlines()[-1].split(",")
    read = held["stacks"][int(last[1]) - 1]["read_n"]
    assert read == pytest.approx([float(last[-1]) * N_PER_LBF], abs=1e-4)
    words = ran(capsys, "inspect", folder / "job.toml").out
    assert "What the bench taught" in words
    assert "What the bench taught" not in ran(
        capsys, "inspect", folder / "job.toml", "--fresh").out  # fmt: skip


def test_match_goes_by_the_bench_until_told_not_to(shop, capsys):
    folder, done = shop
    told = ran(capsys, "match", folder / "job.toml", "--out", folder / "a").out
    assert "after readings" in told
    assert "--fresh" in told
    (used,) = json.loads((folder / "a" / "plan.json").read_text())["sets"]
    assert used["common_sd"] == pytest.approx(
        done.learned.load_factor_sd / done.learned.load_factor, abs=1e-6
    )
    fresh = ran(capsys, "match", folder / "job.toml", "--out", folder / "b", "--fresh").out
    assert "before any reading" in fresh
    assert "settled readings" not in fresh


def test_the_sheet_of_the_bench_says_one_thing(shop, capsys):
    folder, _ = shop
    log, out = folder / "first" / "readings.csv", folder / "second"
    words = ("bench", folder / "job.toml", "--plan", folder / "first" / "plan.json")
    ran(capsys, *words, "--readings", log, "--out", out)
    plan = json.loads((out / "plan.json").read_text())["sets"][0]
    loads = np.array([stack["working_load_n"] for stack in plan["stacks"]])
    root, _ = read_html((out / "sheet.html").read_text(encoding="utf-8"))
    (table,) = (t for t in root.all("table") if "less the mean" in t.words())
    (row,) = (r for r in table.all("tr") if "working" in r.words())
    said = [float(cell.words().replace("\u2212", "-")) for cell in row.all("td")]
    assert said[-3:] == pytest.approx(loads - loads.mean(), abs=0.006)
    assert np.ptp(said[-3:]) == pytest.approx(plan["spread_n"], abs=0.011)


def test_nothing_counts_twice(shop, capsys):
    folder, done = shop
    job, plan = folder / "job.toml", folder / "first" / "plan.json"
    log = plan.with_name("readings.csv")
    known = (folder / "job.known.json").read_text()
    ran(capsys, "bench", job, "--plan", plan, "--readings", log, "--out", folder / "second")
    assert (folder / "job.known.json").read_text() == known
    # the readings were taken on to the next plan, and one more was added
    taken = folder / "second" / "readings.csv"
    lines = taken.read_text().splitlines()
    number = int(lines[-1].split(",")[0]) + 1
    more = lines[-1].split(",")
    taken.write_text("\n".join([*lines, ",".join([str(number), *more[1:]])]) + "\n")
    plan_2 = folder / "second" / "plan.json"
    told = document(capsys, "bench", job, "--plan", plan_2, "--readings", taken)
    assert told["readings"] == len(done.learned.evidence.readings) + 1
    (only,) = json.loads((folder / "job.known.json").read_text())["sessions"]
    assert only["source"] == "second/readings.csv"


def test_a_second_session_knows_the_first(shop, capsys):
    folder, done = shop
    job = folder / "job.toml"
    ran(capsys, "match", job, "--out", folder / "again", "--seed", 1)
    log = folder / "again.csv"
    log.write_text("round,shoe,kind,load_lbf\n1,1,settled,200\n1,2,settled,201\n1,3,settled,200\n")
    words = ("bench", job, "--plan", folder / "again" / "plan.json", "--readings", log)
    told = document(capsys, *words)
    assert told["readings"] == len(done.learned.evidence.readings) + 3
    fresh = document(capsys, *words, "--fresh")
    assert fresh["readings"] == 3
    # sessions that disagree widen all doubt: what is known is not what one of them says alone
    assert told["load_factor"] != pytest.approx(fresh["load_factor"], abs=1e-4)
    # what one answer goes without is not lost to the next
    assert document(capsys, *words) == told


@pytest.mark.parametrize(
    ("file", "old", "new", "says"),
    [
        ("bag.csv", "D{0},", "D{0}x,", "no longer in the bag"),
        ("job.toml", "travel_mm = 1.", "travel_mm = 1.1", "travel"),
        ("job.toml", "seating_load_lbf = ", "seating_load_lbf = 1", "[datum]"),
    ],
)
def test_what_was_read_of_something_else_is_refused(shop, capsys, file, old, new, says):
    folder, done = shop
    disc = done.stacks[0][0][0][1:]
    path = folder / file
    text = path.read_text()
    assert old.format(disc) in text
    path.write_text(text.replace(old.format(disc), new.format(disc)))
    for command in (("match",), ("inspect",), ("engage",)):
        told = evenstack(capsys, command[0], folder / "job.toml")
        assert told.code == 2
        assert says in told.err
        assert "--fresh" in told.err
    assert evenstack(capsys, "inspect", folder / "job.toml", "--fresh").code == 0


def test_a_disc_measured_again_is_named_with_both_values(shop, capsys):
    folder, done = shop
    disc = done.stacks[0][0][0]
    bag = folder / "bag.csv"
    lines = bag.read_text().splitlines()
    at = next(k for k, line in enumerate(lines) if line.startswith(f"{disc},"))
    cells = lines[at].split(",")
    cells[3] = f"{float(cells[3]) + 0.0003:.6f}"
    bag.write_text("\n".join([*lines[:at], ",".join(cells), *lines[at + 1 :]]) + "\n")
    told = evenstack(capsys, "inspect", folder / "job.toml")
    assert told.code == 2
    assert f"bag.csv line {at + 1}: Disc {disc} was read on the bench with thickness" in told.err


def test_discs_that_came_since_are_welcome(shop, capsys):
    folder, _ = shop
    bag = folder / "bag.csv"
    lines = bag.read_text().splitlines()
    bag.write_text("\n".join([*lines, "NEW" + lines[-1][lines[-1].index(",") :]]) + "\n")
    assert "NEW" in ran(capsys, "inspect", folder / "job.toml").out


@pytest.mark.parametrize("damage", [b"{", b"[]", b"\xff", b'{"schema": "evenstack.known/1"}'])
def test_a_damaged_file_is_refused_with_a_way_on(shop, capsys, damage):
    folder, _ = shop
    (folder / "job.known.json").write_bytes(damage)
    told = evenstack(capsys, "match", folder / "job.toml")
    assert told.code == 2
    assert "job.known.json" in told.err
    assert "--fresh" in told.err


def test_as_measured_goes_by_the_bag_whatever_the_bench_taught(shop):
    folder, done = shop
    stack = " ".join(disc for packet in done.stacks[1] for disc in packet)
    taught, fresh = (open_job(folder / "job.toml", fresh=fresh) for fresh in (False, True))
    assert taught.known is not None
    told = [
        load_curve(work, stack, shoe=2, as_measured=True).stack.working_load_n
        for work in (taught, fresh)
    ]
    assert told[0] == told[1]
    assert abs(load_curve(taught, stack, shoe=2).stack.working_load_n - told[0]) > 2
