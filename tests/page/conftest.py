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
