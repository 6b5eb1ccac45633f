"""The three arms of a shoe, against moments about its pivot and figures worked by hand."""

from dataclasses import replace
from math import pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from scipy.optimize import brentq

from optimizer.clutch.engine import torque
from optimizer.clutch.shoes import linings_of, shoes_of
from optimizer.errors import InputError
from optimizer.face.sources import open_job
from optimizer.io.job.reader import read_job
from tests.bags import exact_shoe, plain_job
from tests.mechanics.strategies import between
from tests.shell import evenstack

KART = Path(__file__).parents[2] / "examples" / "kart_mm" / "job.toml"


def pivoted(centre, stack, lining, travel=1.5):
    shoe = exact_shoe(
        travel, travel, mass_g=210.0, cg_radius_mm=52.0, drum_radius_mm=63.5, friction=0.3,
        friction_sd=0.0, arm_centre_mm=centre, arm_stack_mm=stack, arm_lining_mm=lining,
    )  # fmt: skip
    return replace(plain_job(shoes=1), shoes=(shoe,))


@given(between(10, 80), between(10, 80), between(10, 80), between(200, 2000))
def test_speed_and_torque_balance_the_moments_about_the_pivot(centre, stack, lining, load):
    job = pivoted(centre, stack, lining)
    shoes, linings = shoes_of(job), linings_of(job)

    def moment(rpm, on_drum=0.0):
        """In N mm: what throws the shoe out less what the stack and the drum push back."""
        turned = 1.5 / stack  # the angle that moves the stack by its travel
        radius_m = (52.0 + centre * turned) / 1000
        thrown = 0.210 * radius_m * (2 * pi * rpm / 60) ** 2
        return thrown * centre - load * stack - on_drum * lining

    touch = brentq(moment, 1, 1e6)
    pull = shoes.contact_pull_kgm
    assert sqrt(load / pull[0]) * 30 / pi == pytest.approx(touch, rel=1e-9)
    on_drum = moment(1.4 * touch) / lining
    told = torque(pull, linings, np.array([load]), np.array([1.4 * touch]))
    assert told.total_nm[0] == pytest.approx(0.3 * 0.0635 * on_drum, rel=1e-9)


def test_a_shoe_without_arms_slides_out_as_a_whole():
    job = read_job(KART)
    plain = replace(job.shoes[0], arm_centre_mm=1.0, arm_stack_mm=1.0, arm_lining_mm=1.0)
    shoes = shoes_of(replace(job, shoes=(plain,)))
    # 210 g at 52 + 1.5 mm
    assert shoes.contact_pull_kgm == pytest.approx([0.210 * 0.0535])


def test_the_centre_moves_by_its_own_share_of_the_travel():
    # by hand: 0.65 x 210 g x (52 + 0.65 x 1.5) mm holds 890 N at 3350.1 rpm;
    # with all of the travel it would be 3334
    pull = shoes_of(read_job(KART)).contact_pull_kgm[0]
    assert pull == pytest.approx(0.65 * 0.210 * 0.052975)
    assert sqrt(890 / pull) * 30 / pi == pytest.approx(3350.1, abs=0.1)
    assert open_job(KART).task.target_n == pytest.approx([890.0] * 3)


def test_the_old_key_is_refused_with_what_to_write(tmp_path, capsys):
    text = KART.read_text()
    old = "\n".join(line for line in text.splitlines() if not line.startswith("arm_"))
    job = tmp_path / "job.toml"
    job.write_text(old.replace("friction = 0.3", "friction = 0.3\nlever = 0.65"))
    told = evenstack(capsys, "engage", job)
    assert told.code == 2
    assert "lever = 0.65 is no longer a key" in told.err
    assert "arm_centre_mm = 0.65 and arm_stack_mm = 1" in told.err


@pytest.mark.parametrize(
    ("keys", "says"),
    [
        ("arm_centre_mm = 26", "found no arm_stack and no arm_lining"),
        ("arm_centre_mm = 26\narm_stack_mm = 400\narm_lining_mm = 32", "Check their units"),
    ],
)
def test_arms_are_all_given_or_none_and_of_one_scale(tmp_path, keys, says):
    text = KART.read_text()
    kept = "\n".join(line for line in text.splitlines() if not line.startswith("arm_"))
    job = tmp_path / "job.toml"
    job.write_text(kept.replace("friction = 0.3", f"friction = 0.3\n{keys}"))
    with pytest.raises(InputError, match=says):
        read_job(job)
