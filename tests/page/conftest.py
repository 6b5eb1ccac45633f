import shutil
from pathlib import Path

import pytest

from tests.page.visit import Visit

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="session")
def planned(tmp_path_factory):
    """The folder of a clutch that was matched on the page once; not to be changed."""
    folder = tmp_path_factory.mktemp("planned") / "kart"
    shutil.copytree(EXAMPLES / "kart_mm", folder)
    visit = Visit(folder)
    assert visit.matched() == "match-1"
    return folder


#: invented loads in N, first push and settled, of three shoes
ROUND = {1: (905, 895), 2: (899, 888), 3: (901, 893)}


def play(visit, loads, number=1):
    """Type a round, every load as one would."""
    for shoe, (first, settled) in loads.items():
        for kind, load in (("first", first), ("settled", settled)):
            visit.read("match-1", number, shoe, kind, load)
            assert visit.answer.status_code == 200, visit.words


@pytest.fixture(scope="session")
def read_once(planned, tmp_path_factory):
    """The folder of a clutch after one round on the gauge; not to be changed."""
    folder = tmp_path_factory.mktemp("read") / "kart"
    shutil.copytree(planned, folder)
    play(Visit(folder), ROUND)
    return folder


@pytest.fixture
def bench_shop(read_once, tmp_path):
    """A visit to a clutch after one round on the gauge, and its folder."""
    shutil.copytree(read_once, tmp_path / "kart")
    return Visit(tmp_path / "kart"), tmp_path / "kart"


@pytest.fixture
def kart(tmp_path):
    """A visit to a clutch with a bag and no plan."""
    shutil.copytree(EXAMPLES / "kart_mm", tmp_path / "kart")
    return Visit(tmp_path / "kart")


@pytest.fixture
def shop(planned, tmp_path):
    """A visit to a clutch with a plan, and its folder."""
    shutil.copytree(planned, tmp_path / "kart")
    return Visit(tmp_path / "kart"), tmp_path / "kart"
