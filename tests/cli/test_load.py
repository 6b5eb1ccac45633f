import json

import numpy as np
import pytest
from scipy.optimize import brentq

from optimizer.mechanics.datum import Seating
from optimizer.mechanics.disc import discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.packet import LoadModel, packets
from optimizer.mechanics.stack import deflection, stack_load
from tests.shell import evenstack

JOB = """\
[bag]
file = "bag.csv"
[clutch]
travel_mm = 1.5
worn_travel_mm = 1.7
{datum}
[target]
load_n = 850
[instrument]
thickness_sd_mm = 0
height_sd_mm = 0
"""
SEATING = "[datum]\nseating_load_n = 27"
INSTALLED = "[datum]\ninstalled_length_mm = 9.95"
#: thickness and cone height of invented discs 20 x 10.2, the last six sharp
SIZES = {f"D{i:02d}": (0.90 + 0.002 * i, 0.48 + 0.004 * i) for i in range(1, 13)}
STACK = "D01+D02 D04+D03 D05 D06 D07 D08"


@pytest.fixture(params=[SEATING])
def job(request, tmp_path):
    rows = [f"{name},20,10.2,{t:.3f},{h:.3f},sharp" for name, (t, h) in SIZES.items()]
    (tmp_path / "bag.csv").write_text(
        "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge\n" + "\n".join(rows) + "\n"
    )
    (tmp_path / "job.toml").write_text(JOB.format(datum=request.param))
    return tmp_path / "job.toml"


installed = pytest.mark.parametrize("job", [INSTALLED], indirect=True)


def load(capsys, job, *words):
    ran = evenstack(capsys, "load", job, "--json", "--stack", *words)
    assert ran.code == 0, ran.err
    return json.loads(ran.out)


def test_loads_are_those_of_the_mechanics(capsys, job):
    told = load(capsys, job, STACK)
    d = discs(20.0, 10.2, *np.array([SIZES[f"D{i:02d}"] for i in range(1, 9)]).T)
    members = np.array([[[0, 1], [2, 3], [4, -1], [5, -1], [6, -1], [7, -1]]])
    p = packets(d, members, LoadModel(en16984))
    for key, travel in (("rest", 0.0), ("working", 1.5), ("worn", 1.7)):
        exact = stack_load(p, Seating(27.0), travel)[0]
        assert told[f"{key}_load_n"] == pytest.approx(exact, abs=1e-5)
    assert told["rest_load_n"] == pytest.approx(27.0)
    assert told["free_height_mm"] == pytest.approx(
        sum(t for t, _ in list(SIZES.values())[:8])
        + sum(h for _, h in [SIZES[f"D{i:02d}"] for i in (2, 4, 5, 6, 7, 8)]),
        abs=0.02,  # nested cones stand some micrometres higher
    )
    pressed = {one["packet"]: one["deflection_mm"] for one in told["discs"]}
    tallest = {one["packet"]: 0.0 for one in told["discs"]}
    for one in told["discs"]:
        tallest[one["packet"]] = max(tallest[one["packet"]], one["deflection_mm"])
        assert one["deflection_share"] == pytest.approx(
            one["deflection_mm"] / SIZES[one["disc"]][1], abs=1e-5
        )
        assert one["rest"]["deflection_share"] < one["deflection_share"]
        assert one["deflection_share"] < one["worn"]["deflection_share"]
        assert one["stress_om_mpa"] < 0 < max(one["stress_ii_mpa"], one["stress_iii_mpa"])
    assert len(pressed) == 6
    assert sum(tallest.values()) == pytest.approx(
        deflection(p, told["working_load_n"])[0], abs=1e-4
    )


def test_the_table_runs_from_rest_to_worn_and_rises(capsys, job):
    told = load(capsys, job, STACK)
    travel, force = np.array(told["table"]).T
    assert (travel[0], travel[-1]) == (0.0, 1.7)
    assert (force[0], force[-1]) == (told["rest_load_n"], told["worn_load_n"])
    assert (np.diff(force) > 0).all()
    slope = (told["worn_load_n"] - told["working_load_n"]) / 0.2
    assert told["rate_n_per_mm"] == pytest.approx(slope, rel=0.1)


@installed
def test_shims_press_an_installed_stack_further(capsys, job):
    bare, shimmed = load(capsys, job, STACK), load(capsys, job, STACK, "--shims", "0.05 0.03")
    assert shimmed["shims_mm"] == [0.05, 0.03]
    more = bare["rate_n_per_mm"] * 0.08
    assert shimmed["working_load_n"] - bare["working_load_n"] == pytest.approx(more, rel=0.05)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("D01 D99",), 'got "D99"'),
        (("D01 D02 D01",), "got D01 twice"),
        (("D01+D02+D03+D04 D05",), "at most 3 nested"),
        (("D01+ D02",), "both sides of +"),
        (("",), "got none"),
        (("D01 D02",), "solid"),
        ((STACK, "--shims", "0.1"), "seating load"),
        ((STACK, "--shims", "thin"), 'got "thin"'),
        ((STACK, "--shoe", "4"), "from 1 to 3"),
    ],
)
def test_what_cannot_be_is_refused_in_words(capsys, job, words, said):
    ran = evenstack(capsys, "load", job, "--stack", *words)
    assert ran.code == 2
    assert said in ran.err
    assert "Traceback" not in ran.err
    assert ran.out == ""


def test_all_wrong_names_are_told_at_once(capsys, job):
    ran = evenstack(capsys, "load", job, "--stack", "D1 D02 D02 X")
    assert ran.err.count("--stack:") == 3
    assert "Did you mean D" in ran.err


def test_a_valley_is_warned_of_with_the_order_to_build(capsys, job):
    told = load(capsys, job, "D05+D01+D09 D02 D03 D04 D06 D07 D08")
    assert any("D09+D05+D01" in warning for warning in told["warnings"])
    told = load(capsys, job, "D09+D05+D01 D02 D03 D04 D06 D07 D08")
    assert not any("between two taller" in warning for warning in told["warnings"])


def test_discs_beyond_the_deflection_limit_are_named(capsys, job):
    assert load(capsys, job, STACK + " D09 D10")["warnings"] == []
    said = " ".join(load(capsys, job, "D01 D02 D03 D04")["warnings"])
    assert "D01" in said
    assert "0.75 h at the travel" in said


def test_plain_text_fits_80_columns(capsys, job):
    ran = evenstack(capsys, "load", job, "--stack", STACK)
    assert ran.code == 0
    assert "\x1b" not in ran.out
    assert all(len(line) <= 80 for line in ran.out.splitlines())


def formula_load(travel, t, h, od=20.0, bore=10.2, seating=27.0):
    """EN 16984, formula for the load of a single disc, in series; written anew here."""
    delta = od / bore
    k1 = ((delta - 1) / delta) ** 2 / ((delta + 1) / (delta - 1) - 2 / np.log(delta)) / np.pi

    def force(s, t, h):
        factor = 4 * 206_000 / (1 - 0.3**2) * t**4 / (k1 * od**2)
        return factor * s / t * ((h / t - s / t) * (h / t - s / t / 2) + 1)

    def pressed(load):
        return sum(
            brentq(lambda s, t=one, h=high: force(s, t, h) - load, 0.0, high)
            for one, high in zip(t, h, strict=True)
        )

    flat = min(force(high, one, high) for one, high in zip(t, h, strict=True))
    return brentq(lambda load: pressed(load) - pressed(seating) - travel, seating, 0.999 * flat)


def test_as_measured_goes_by_the_very_values_of_the_bag(capsys, job):
    """Against the standard's formula, solved by another way for seven sharp discs in series."""
    text = job.read_text()
    job.write_text(text.replace("_sd_mm = 0\n", "_sd_mm = 0.02\n"))
    stack = "D01 D02 D03 D04 D05 D06 D07"
    t, h = np.array([SIZES[f"D{i:02d}"] for i in range(1, 8)]).T
    typed = load(capsys, job, stack, "--as-measured")
    assert typed["working_load_n"] == pytest.approx(formula_load(1.5, t, h), abs=1e-3)
    believed = load(capsys, job, stack)
    assert abs(believed["working_load_n"] - typed["working_load_n"]) > 1.0
    told = evenstack(capsys, "inspect", job)
    assert "drawn towards the lot's mean" in told.out
    assert "cone height 0.528 mm" in told.out or "cone height 0.484 mm" in told.out


def test_discs_of_unlike_size_do_not_nest(capsys, job):
    bag = job.parent / "bag.csv"
    bag.write_text(bag.read_text().replace("D02,20,", "D02,21,"))
    said = load(capsys, job, STACK)["warnings"]
    assert "D01+D02: diameters differ by 1.000 mm; they do not nest." in said
