"""An engine's torque curve as a file."""

import pytest

from optimizer.errors import InputError
from optimizer.io.engine import read_engine


def curve(folder, text):
    path = folder / "engine.csv"
    path.write_text(text)
    return read_engine(path)


def test_a_curve_is_read_in_either_unit(tmp_path):
    metric = curve(tmp_path, "# measured by nobody\nrpm;torque_nm\n3000;9,5\n6000;15,5\n9000;17\n")
    assert metric.rpm == (3000.0, 6000.0, 9000.0)
    assert metric.torque_nm == (9.5, 15.5, 17.0)
    pounds = curve(tmp_path, "rpm,torque_lbft\n3000,7\n6000,11\n9000,12\n")
    assert pounds.torque_nm[0] == pytest.approx(7 * 1.3558179)


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("rpm,torque\n3000,9\n", "'torque' has no unit"),
        ("rpm,power_kw\n3000,9\n", "it is 9549 kW / rpm in N m"),
        ("rpm,torque_nm\n3000,9\n2000,8\n4000,9\n", "line 3: Expected speeds that rise, got 2000"),
        ("rpm,torque_nm\n3000,9\n4000,x\n5000,9\n", "line 3: Expected a number for torque_nm"),
        ("rpm,torque_nm\n3000,9\n4000,-2\n5000,9\n", "line 3: Expected a torque from 0 to 5000"),
        ("rpm,torque_nm\n0,9\n4000,9\n5000,9\n", "line 2: Expected a speed from 0 to 50000 rpm"),
        ("rpm,torque_nm\n3000,9\n4000,9\n", "Expected at least 3 speeds, got 2"),
        ("rpm,torque_nm\n3,9\n4,9\n5,9\n", "line 4: Expected speeds up to the engine's highest"),
        ("rpm,torque_nm\n3000,0\n4000,0\n5000,0\n", "Expected a torque above 0"),
        ("rpm,torque_nm\n", "only a header"),
    ],
)
def test_slips_are_told_with_their_line(tmp_path, rows, says):
    with pytest.raises(InputError) as told:
        curve(tmp_path, rows)
    assert says in str(told.value)
