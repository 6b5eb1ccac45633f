import csv
import json
from pathlib import Path

import pytest

from tests.shell import evenstack

ROOT = Path(__file__).parents[2]
EXAMPLES = [ROOT / "examples" / name / "job.toml" for name in ("kart_mm", "bench_in")]

#: common practice in three-shoe clutch tuning, no source
COMMON = """\
[bag]
file = "bag.csv"
[clutch]
travel_in = 0.060
[datum]
seating_load_lbf = 6
[target]
load_lbf = 200
load_tolerance_lbf = 5
[stack]
packet_sizes = [1, 2]
free_height_in = [0.50, 0.56]
"""


def inspect(capsys, job):
    ran = evenstack(capsys, "inspect", job, "--json")
    assert ran.code == 0, ran.err
    return json.loads(ran.out)


@pytest.mark.parametrize("job", EXAMPLES, ids=lambda path: path.parent.name)
def test_the_examples_tell_discs_lots_and_patterns(capsys, job):
    told = inspect(capsys, job)
    assert told["schema"] == "evenstack.inspect/1"
    assert sum(lot["discs"] for lot in told["lots"]) == len(told["discs"])
    assert told["patterns"]
    assert told["reasons"] == []
    for lot in told["lots"]:
        assert 0 < lot["thickness_believed"] < 1
        assert 0 < lot["cone_height_believed"] < 1
    for pattern in told["patterns"]:
        assert 0 < pattern["chance"] < pattern["best_chance"] < 1
        assert pattern["best_sd_n"] < pattern["sd_n"]
        assert pattern["share"] <= 0.75


def test_loads_are_told_at_three_quarters_of_the_cone(capsys, tmp_path):
    """EN 16983 series A, 20 x 10.2 x 1.1, cone 0.45: 1530 N (memory), the standard within 2 %."""
    write(tmp_path, [(20, 10.2, 1.1, 0.45)] * 9)
    told = inspect(capsys, tmp_path / "job.toml")
    assert told["reference_share"] == 0.75
    assert told["discs"][0]["reference_load_n"] == pytest.approx(1530, rel=0.02)


def write(folder, sizes):
    rows = [f"D{i:02d},{od},{inside},{t},{h},sharp" for i, (od, inside, t, h) in enumerate(sizes)]
    (folder / "bag.csv").write_text(
        "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge\n" + "\n".join(rows) + "\n"
    )
    (folder / "job.toml").write_text(COMMON)


def test_standard_sizes_fit_common_practice(capsys, tmp_path):
    """Travel 0.060 in, seating 6 lbf, 200 lbf, 0.53 in high (common practice, no source)."""
    with (ROOT / "tests" / "data" / "en16983_discs.csv").open(encoding="utf-8") as file:
        sizes = [
            tuple(float(row[k]) for k in ("od_mm", "id_mm", "thickness_mm", "cone_height_mm"))
            for row in csv.DictReader(file)
        ]
    fit = {}
    for size in sizes:
        if not 18 <= size[0] <= 22.5:
            continue
        write(tmp_path, [size] * 36)
        patterns = inspect(capsys, tmp_path / "job.toml")["patterns"]
        if patterns:  # 6 pairs, 0.5327 in high, 202.6 lbf
            fit[size] = patterns
    assert set(fit) == {(22.5, 11.2, 0.8, 0.65)}  # series B
    for patterns in fit.values():
        assert all(12.7 <= p["free_height_mm"] <= 14.3 for p in patterns)
        assert all(p["share"] <= 0.75 for p in patterns)


def test_a_bag_that_cannot_do_it_is_told_why(capsys, tmp_path):
    write(tmp_path, [(20, 10.2, 0.8, 0.55)] * 5)
    told = inspect(capsys, tmp_path / "job.toml")
    assert told["patterns"] == []
    assert "can be built from the 5 usable discs" in told["reasons"][0]
    said = evenstack(capsys, "inspect", tmp_path / "job.toml").out.split()
    assert "can be built from the 5 usable discs" in " ".join(said)
    assert " ".join(said[:5]) == "NOT ENOUGH: no pattern of"


@pytest.mark.parametrize("job", EXAMPLES, ids=lambda path: path.parent.name)
def test_the_first_words_say_whether_the_bag_reaches_the_target(capsys, job):
    told = inspect(capsys, job)
    best = max(told["patterns"], key=lambda p: (p["chance"], p["best_chance"]))
    words = " ".join(evenstack(capsys, "inspect", job).out.split())
    assert words.startswith(f"ENOUGH: {len(told['patterns'])} pattern")
    assert f"the surest is {best['pattern']}, " in words.partition(". ")[0] + words


@pytest.mark.parametrize("job", EXAMPLES, ids=lambda path: path.parent.name)
def test_plain_text_fits_80_columns(capsys, job):
    ran = evenstack(capsys, "inspect", job)
    assert ran.code == 0
    assert "\x1b" not in ran.out
    assert not [line for line in ran.out.splitlines() if len(line) > 80]
    assert "thickness" in ran.out


def test_what_stands_in_the_job_without_effect_is_shown(capsys, tmp_path):
    source = ROOT / "examples" / "bench_in"
    (tmp_path / "bag.csv").write_bytes((source / "bag.csv").read_bytes())
    text = (source / "job.toml").read_text()
    own = "[[clutch.shoe]]\nseat_depth_in = 0.01\n[datum]"
    (tmp_path / "job.toml").write_text(text.replace("[datum]", own, 1))
    said = inspect(capsys, tmp_path / "job.toml")["warnings"]
    assert any("seat_depth_in = 0.01 has no effect" in line for line in said)
    assert any("1 [[clutch.shoe]] table for 3 shoes" in line for line in said)
