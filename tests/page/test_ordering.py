"""Orders on the page: the form is judged, the answer is that of the files of the command."""

import shutil
from dataclasses import replace

import pytest

from optimizer.face.ordering import delivered, plan_order
from optimizer.io.documents import to_json
from tests.page.conftest import EXAMPLES
from tests.page.visit import Visit
from tests.report.test_order_page import BEST, NEVER, order

ORDER = "/c/this/order"
SIZE = "18,9.2,1,0.4"


@pytest.fixture
def buyer(tmp_path):
    shutil.copytree(EXAMPLES / "spring_order", tmp_path / "buy")
    catalog = EXAMPLES.parent / "catalogs" / "invented_supplier.csv"
    shutil.copy(catalog, tmp_path / "buy" / "catalog.csv")
    return Visit(tmp_path / "buy"), tmp_path / "buy"


def test_what_it_asks_for_is_judged(buyer):
    visit, _ = buyer
    for data in (
        {"sets": "0"},
        {"sets": "x"},
        {"sets": "1", "confidence": "x"},
        {"sets": "1", "confidence": "100"},
        {"sets": "1", "catalog": "../../etc/passwd"},
        {"sets": "1", "catalog": "job.toml"},
    ):
        visit.post(f"{ORDER}/start", data)
        assert visit.answer.status_code == 422
    assert visit.house.works.of("this/order") is None


def test_it_runs_can_be_stopped_and_writes_nothing_then(buyer):
    visit, folder = buyer
    visit.post(f"{ORDER}/start", {"sets": "1", "catalog": "catalog.csv"})
    assert visit.answer.status_code == 200
    run = visit.house.works.of("this/order")
    visit.post(f"{ORDER}/stop")
    assert run.process.wait(10) != 0
    assert not list(folder.glob("order-*"))


def test_an_order_of_the_command_is_shown_and_what_came_is_counted(buyer):
    visit, folder = buyer
    found = plan_order(folder / "job.toml", 1, folder / "catalog.csv", draws=20, workers=1)
    found.save(folder / "spring")
    visit.get(ORDER)
    option = found.order.clutches[0].options[0]
    assert f"of {option.size}" in visit.words
    assert "as the command says it" in visit.words
    # enough discs of a size that was ordered, invented and all nominal
    rows = [f"S{k},{SIZE},sharp" for k in range(80)]
    head = "disc,od_mm,id_mm,thickness_mm,cone_height_mm,edge"
    (folder / "bag.csv").write_text("\n".join([head, *rows]) + "\n")
    visit.post(f"{ORDER}/came", {"order": "spring"})
    assert visit.answer.status_code == 200, visit.words
    run = visit.worked("this/order")
    assert run.folder == "delivery-1", run.problems
    told = delivered(
        folder / "job.toml", folder / "bag.csv", None, folder / "spring" / "order.json",
        folder / "catalog.csv",
    )  # fmt: skip
    assert (folder / "delivery-1" / "order.json").read_text() == told.document()
    visit.get(ORDER)
    came = told.received
    assert f"80 discs in the bag: {came.buildable_sets} of 1 set can be built" in visit.words
    for one in came.expected:
        assert f"{one.size} {one.discs} {one.there}" in visit.words


def test_an_order_that_no_quantity_keeps_is_not_to_be_counted(buyer):
    """Invented: the page says what would mend it, and that nothing is to be ordered yet."""
    visit, folder = buyer
    for name, option in (("never", replace(NEVER, gap_mm=0.2)), ("best", BEST)):
        (folder / name).mkdir()
        (folder / name / "order.json").write_text(to_json(order(option)))
    never = visit.get(ORDER).text.split(">never</h2>")[1].split("</section>")[0]
    assert "What would mend it" in never
    assert "Do not order yet" in never
    assert "LOOSE AT REST" in never
    assert "Count what came" not in never
    assert "Count what came against best" in visit.words


def test_nothing_is_counted_against_what_is_no_order(buyer):
    visit, _ = buyer
    for name in ("", "none", "..", "../../etc"):
        visit.post(f"{ORDER}/came", {"order": name})
        assert visit.answer.status_code == 422
    assert visit.house.works.of("this/order") is None


def test_a_broken_order_is_told(buyer):
    visit, folder = buyer
    (folder / "old").mkdir()
    (folder / "old" / "order.json").write_text("{")
    assert visit.get(ORDER).status_code == 200
    assert "is not JSON" in visit.words
