"""Files cut, doubled and sprinkled with odd bytes are read, or refused in words."""

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.errors import EvenstackError
from optimizer.io.bag.reader import read_bag
from optimizer.io.job.reader import read_job
from optimizer.io.job.templates import bag_template, job_template

HERE = Path(__file__).parent
PIECES = (
    b'"', b"'", b"[", b"]]", b"=", b"\n", b",", b";", b"\t", b".", b"-", b"\0", b"\xff", b"#",
    b"nan", b"1e400", b"[[clutch.shoe]]\n", b"[stack]\n", b"_in", b"sharp", b'"""', b"{}", b"true",
)  # fmt: skip
damage = st.lists(
    st.tuples(st.floats(0, 1), st.integers(0, 12), st.sampled_from(PIECES)), min_size=1, max_size=4
)


def damaged(content: bytes, places: list[tuple[float, int, bytes]]) -> bytes:
    """Replace some bytes, at places given as shares of the length, by odd pieces."""
    for share, cut, piece in places:
        at = int(share * len(content))
        content = content[:at] + piece + content[at + cut :]
    return content


def read_or_refuse(read) -> None:
    try:
        read()
    except EvenstackError as error:
        problems = error.problems
    else:
        return
    assert all(problem.what and problem.where and problem.remedy for problem in problems)


@pytest.mark.parametrize("units", ["mm", "in"])
@given(places=damage)
def test_damaged_job(units, places):
    with TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_bytes(damaged(job_template(units).encode(), places))
        read_or_refuse(lambda: read_job(path))


@pytest.mark.parametrize("units", ["mm", "in"])
@given(places=damage)
def test_damaged_bag(units, places):
    job = read_job(HERE / "good_job.toml")
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bag.csv"
        path.write_bytes(damaged(bag_template(units).encode(), places))
        read_or_refuse(lambda: read_bag(path, replace(job, bag_file=path)))
