"""The rest of a lot is dealt without touching what is built."""

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from optimizer.errors import InputError
from optimizer.face.matching import match
from optimizer.io.documents import to_json
from optimizer.match.mid_work import mid_work
from tests.shell import evenstack

EXAMPLE = Path(__file__).parents[2] / "examples" / "spring_order"


@pytest.fixture(scope="module")
def lot(tmp_path_factory):
    """A seeded lot of 170 discs like those of the example, all invented, dealt into sets."""
    folder = tmp_path_factory.mktemp("lot")
    rng = np.random.default_rng(7)
    with (folder / "bag.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["disc", "od_mm", "id_mm", "thickness_mm", "cone_height_mm", "edge"])
        for number in range(170):
            t, h = rng.normal(1.0, 0.007), rng.normal(0.4, 0.012)
            rows.writerow([f"D{number:03d}", 18, 9.2, f"{t:.4f}", f"{h:.4f}", "sharp"])
    (folder / "job.toml").write_text((EXAMPLE / "job.toml").read_text())
    plan = match(folder / "job.toml", sets=None).plan
    (folder / "plan.json").write_text(to_json(replace(plan, solve_seconds=None)))
    return folder, plan


def discs(sets):
    return {d for one in sets for stack in one.stacks for packet in stack.packets for d in packet}


def test_built_sets_stay_and_lost_discs_are_not_used(lot):
    folder, plan = lot
    assert len(plan.sets) >= 5
    stands = discs(plan.sets[:2])
    lost = sorted(discs(plan.sets[2:]))[:3]
    again = match(
        folder / "job.toml", sets=None, standing=mid_work([folder / "plan.json"], [2], lost)
    ).plan
    assert not discs(again.sets) & (stands | set(lost))
    assert len(again.sets) >= len(plan.sets) - 3
    assert discs(again.sets) | set(again.unused) | stands | set(lost) == {
        f"D{n:03d}" for n in range(170)
    }
    [note] = [w for w in again.warnings if "stand with" in w]
    assert f"2 sets of plan.json stand with {len(stands)} discs" in note
    assert "from 3 on; 3 discs are lost" in note


def test_what_is_built_and_lost_at_once_is_refused(lot):
    folder, plan = lot
    name = min(discs(plan.sets[1:2]))
    with pytest.raises(InputError, match=f"Disc {name} is said to be lost, and to stand in set 2"):
        mid_work([folder / "plan.json"], [3], [name])
    assert mid_work([folder / "plan.json"], [1], [name]).standing == (("plan.json", 1),)
    with pytest.raises(InputError, match="Expected at most the"):
        mid_work([folder / "plan.json"], [99], [])
    with pytest.raises(InputError, match="once for each of 1 plans, got it 2 times"):
        mid_work([folder / "plan.json"], [1, 2], [])
    with pytest.raises(InputError, match=r"Disc \w+ stands in set 1, and in set 1 of "):
        mid_work([folder / "plan.json"] * 2, [1, 1], [])


def test_the_command_says_what_it_left_alone(capsys, lot):
    folder, plan = lot
    words = ("match", folder / "job.toml", "--sets", "max", "--built", folder / "plan.json")
    spare = plan.unused[0]
    ran = evenstack(capsys, *words, "--built-sets", 4, "--lost", f"{spare}, ", "--json")
    assert ran.code == 0, ran.err
    assert "4 sets of plan.json stand" in ran.out
    assert "1 discs are lost" in ran.out
    ran = evenstack(capsys, *words, "--built-sets", 0, "--lost", "nobody", "--json")
    assert ran.code == 2
    assert "Expected a disc of the bag, got nobody" in ran.err
