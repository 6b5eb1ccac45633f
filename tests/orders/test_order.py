"""Orders as a user gets them: from the command line, on the shipped example."""

import json
import signal
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import wrapping
from optimizer.cli.main import main
from optimizer.orders.choose import StockItem
from optimizer.orders.joint import JointPart, join
from optimizer.orders.judging import ConfidenceGoal
from optimizer.orders.order import plan_order
from optimizer.orders.request import Request, ask, plan_request
from optimizer.report.order_card import order_card
from tests.orders.cases import KART, candidate, clutch, size, study, supplier
from tests.shell import evenstack

EXAMPLE = Path(__file__).parents[2] / "examples" / "spring_order"
JOB = EXAMPLE / "job.toml"
SUPPLIER = supplier().path


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """The catalog of the invented supplier, cut down to two sizes."""
    path = tmp_path_factory.mktemp("catalog") / "small.csv"
    lines = SUPPLIER.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if line.startswith(("size,", "V18-100,", "V22-125,"))]
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def quick(small):
    def run(capsys, *words):
        return evenstack(
            capsys, "order", JOB, "--catalog", small, "--draws", 20, "--workers", 1, *words
        )

    return run


@pytest.fixture(scope="module")
def planned(small):
    return plan_request(ask(Request((JOB,), (2,), small, confidence=0.9), 40, 0, 1))


def test_the_cheapest_option_comes_first_and_keeps_the_confidence(planned):
    (one,) = planned.clutches
    costs = [o.cost for o in one.options if o.cost is not None]
    assert costs == sorted(costs)
    best = one.options[0]
    assert best.confidence.share >= 0.9
    assert best.confidence.low <= best.confidence.share <= best.confidence.high
    at = next(p for p in best.curve if p.discs == best.discs)
    assert at.confidence == best.confidence
    assert best.confidence.share == pytest.approx(best.dealt.share * best.matched)
    assert best.matched == pytest.approx(best.set_chance**2)
    shares = [p.confidence.share for p in best.curve]
    assert shares == sorted(shares)
    assert all(p.confidence.share < 0.9 for p in best.curve if p.cost < best.cost)


def test_the_card_fits_a_narrow_terminal(planned):
    with wrapping.columns(60):
        assert max(map(len, order_card(planned).splitlines())) <= 60


def test_discs_on_hand_count_and_what_is_left_is_told(planned):
    best = planned.clutches[0].options[0]
    assert best.size.startswith("V18-100")
    assert best.held == 24
    assert best.left_discs == best.held + best.discs - best.discs_per_stack * 3 * 2


def test_no_quantity_is_surer_without_a_gauge_than_any_can_be(planned):
    for option in planned.clutches[0].options:
        assert option.blind.share <= option.blind_most.share


def test_an_order_says_what_was_assumed(planned):
    assert planned.currency == "EUR"
    assert planned.draws == 40
    assert planned.making.modulus_sd == 0.015
    wider = planned.clutches[0].if_lots_scatter.share
    told = " ".join(order_card(planned).split())
    assert f"twice as far, the order would do in {wider:.1%}" in told
    assert "plan with --lot-share 1; what a delivery tells" in told


@pytest.fixture(scope="module")
def written(small, tmp_path_factory):
    """The files that --out wrote for one set."""
    out = tmp_path_factory.mktemp("written") / "order"
    words = ("order", JOB, "--catalog", small, "--draws", 20, "--workers", 1)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["evenstack", *map(str, words), "--sets", "1", "--out", str(out)])
        with pytest.raises(SystemExit) as ended:
            main()
    assert not ended.value.code
    return out


def test_order_writes_text_json_and_page_and_overwrites_nothing(capsys, quick, written):
    told = (written / "order.txt").read_text(encoding="utf-8")
    data = json.loads((written / "order.json").read_text(encoding="utf-8"))
    page = (written / "order.html").read_text(encoding="utf-8")
    assert max(map(len, told.splitlines())) <= 80
    assert data["schema"] == "evenstack.order/2"
    [line] = data["clutches"][0]["options"][0]["lines"]
    bought = f"{line['packs']} packs of {line['pack']}".replace("1 packs", "1 pack")
    assert f"BUY {bought} of V18-100" in told
    assert f"<dd>{bought}" in page
    again = quick(capsys, "--sets", 1, "--out", written, "--json")
    assert again.code == 2
    assert again.err.count("not overwritten") == 3


def test_json_is_one_document_the_same_as_the_file_for_the_same_seed(capsys, quick, written):
    ran = quick(capsys, "--sets", 1, "--json")
    assert ran.out == (written / "order.json").read_text(encoding="utf-8")


def test_what_is_assumed_of_discs_can_be_said_and_is_shown(capsys, quick):
    ran = quick(capsys, "--sets", 1, "--disc-stiffness-sd", 0.02, "--flat", 0.1)
    assert ran.code == 0, ran.err
    words = " ".join(ran.out.split())
    assert "single discs by 2.0% in stiffness; edges dressed to flats of 0.100 mm" in words


def test_ctrl_c_says_what_is_known_and_writes_nothing(capsys, quick, tmp_path, monkeypatch):
    from optimizer.orders import simulate as module

    def draw_outcomes(study, seed, numbers):
        signal.raise_signal(signal.SIGINT)
        return original(study, seed, numbers)

    original = module.draw_outcomes
    monkeypatch.setattr(module, "draw_outcomes", draw_outcomes)
    ran = quick(capsys, "--sets", 1, "--out", tmp_path / "order", "--draws", 60)
    assert ran.code == 130
    assert not ran.out
    assert "nothing was written" in ran.err
    assert not (tmp_path / "order").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--sets", 1, "--confidence", 95), "Write 0.95 for 95 %"),
        ((), "Expected how many sets to build"),
        (("--sets", 1, "--plan", "order.json"), "Give the delivered bag with --received BAG"),
        (("--sets", 1, "--sets", 2), "Expected --sets once"),
        (("--sets", 1, "--bore", 30), "No size of the catalog reaches"),
        (("--sets", 1, "--cluster", "tcp://127.0.0.1:9"), "--cluster"),
    ],
)
def test_what_cannot_be_planned_is_refused_in_words(capsys, quick, words, said, monkeypatch):
    monkeypatch.setattr("optimizer.orders.cluster.PATIENCE_SECONDS", 0.3)
    ran = quick(capsys, *words)
    assert ran.code == 2
    assert said in ran.err
    assert "Traceback" not in ran.err


def test_a_received_bag_tells_sets_and_what_lacks(capsys, quick):
    ran = quick(capsys, "--sets", 2, "--received", EXAMPLE / "bag.csv", "--json")
    assert ran.code == 0, ran.err
    data = json.loads(ran.out)
    assert data["discs"] == 24
    assert data["buildable_sets"] <= data["buildable_bound"] <= 1
    lot = next(lot for lot in data["lots"] if lot["size"] == "V18-100")
    assert lot["discs"] == 24
    assert abs(lot["thickness_off_mm"]) < 0.02
    best = data["reorder"]["clutches"][0]["options"][0]
    assert best["held"] == 24
    assert best["discs"] >= 1


def test_a_delivery_is_compared_with_the_order_it_was_planned_by(capsys, quick, written, tmp_path):
    plan, out = written / "order.json", tmp_path / "received"
    ran = quick(capsys, "--received", EXAMPLE / "bag.csv", "--plan", plan, "--out", out)
    assert ran.code == 0, ran.err
    data = json.loads((out / "order.json").read_text(encoding="utf-8"))
    assert (out / "order.html").exists()
    order = json.loads(plan.read_text(encoding="utf-8"))
    best = order["clutches"][0]["options"][0]
    assert data["wanted_sets"] == 1
    assert data["planned"]["making"] == order["making"]
    (line,) = data["expected"]
    assert line["packs"] == sum(of["packs"] for of in best["lines"])
    assert line["discs"] == best["discs"] + best["held"]
    assert line["there"] == 24
    lot = data["lots"][0]
    # EN 16983: +0.03 mm is the nearer limit of thickness; 3 sd, half of the sd within a lot
    assert lot["thickness_sd_mm"] == pytest.approx(0.5 * 0.01 / 1.25**0.5, abs=1e-6)
    words = " ".join(ran.out.split())
    assert f"{line['discs']} discs with those on hand; 24 are here" in words
    assert "assumed: within 0.009 mm" in words
    assert max(map(len, ran.out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "cannot be read"),
        ("packs: 4", "is not JSON"),
        ("[]", "Expected schema evenstack.order/2, got None"),
        ('{"schema": "evenstack.plan/1"}', "got evenstack.plan/1"),
        ('{"schema": "evenstack.order/2"}', "version: Field required"),
        ("late", "Expected an order for spring_order at 890.0 N, got one for late at 890.0 N"),
        ("target", "got one for spring_order at 900.0 N"),
    ],
)
def test_an_order_file_that_will_not_do_is_refused_in_one_message(
    capsys, quick, tmp_path, written, content, said
):
    plan = tmp_path / "order.json"
    if content in ("late", "target"):
        order = json.loads((written / "order.json").read_text(encoding="utf-8"))
        change = {"late": {"name": "late"}, "target": {"target_n": 900.0}}[content]
        order["clutches"][0].update(change)
        content = json.dumps(order)
    if content is not None:
        plan.write_text(content, encoding="utf-8")
    ran = quick(capsys, "--received", EXAMPLE / "bag.csv", "--plan", plan)
    assert ran.code == 2
    assert said in ran.err
    assert len(ran.err.strip().splitlines()) == 1


def test_a_received_bag_that_is_enough_needs_nothing(capsys, tmp_path):
    job = tmp_path / "job.toml"
    text = JOB.read_text().replace("load_tolerance_n = 22", "load_tolerance_n = 60")
    job.write_text(text.replace("bag.csv", str(EXAMPLE / "bag.csv")))
    ran = evenstack(
        capsys, "order", job, "--catalog", SUPPLIER, "--sets", 1, "--received", EXAMPLE / "bag.csv"
    )
    assert ran.code == 0, ran.err
    assert "1 of 1 sets can be built now" in ran.out
    assert "evenstack match JOB --sets 1" in " ".join(ran.out.split())
    assert "Nothing needs to be ordered again." in ran.out


def test_catalog_lists_what_fits(capsys):
    ran = evenstack(capsys, "catalog", "--bore", 10, "--room", 21, "--json")
    data = json.loads(ran.out)
    assert [s["size"] for s in data["sizes"]] == ["A 20x10.2x1.1", "B 20x10.2x0.8", "C 20x10.2x0.5"]
    # EN 16983:2016, from memory: 1530 N, within 2 %
    assert data["sizes"][0]["load_n"] == pytest.approx(1530, rel=0.02)
    inch = evenstack(capsys, "catalog", "--bore", 10 / 25.4, "--units", "in", "--room", 21 / 25.4)
    assert "3 sizes, lengths in in" in inch.out
    none = evenstack(capsys, "catalog", "--bore", 7, "--room", 3)
    assert none.code == 2
    assert "No size of en16983.csv" in none.err
    assert evenstack(capsys, "catalog", "--units", "cm").code == 2


def test_two_clutches_of_one_size_share_their_packs():
    """Two targets, one lot: the joint order wants no more packs than two orders apart."""
    making = study().making
    of = size("V18-100")
    clutches = (clutch(1), clutch(1, target_n=910.0, name="late"))
    ways = tuple(
        JointPart(replace(study(), clutch=c, candidate=candidate(of, KART, c, making)), at, 0)
        for at, c in enumerate(clutches)
    )
    chosen = join(ways, (StockItem(of),), (1, 1), ConfidenceGoal(0.9, 40, 0, 1))
    [line] = chosen.cart.bought
    assert line.packs <= 3
    assert chosen.confidence.share >= 0.9
    assert sum(chosen.discs) == 50 * line.packs
    seldom = (ways[0], replace(ways[1], chance=0.8))
    assert join(seldom, (StockItem(of),), (1, 1), ConfidenceGoal(0.9, 40, 0, 1)) is None


def test_several_jobs_are_planned_in_one_order():
    making = study().making
    two = (clutch(1, spread_n=300.0), clutch(1, target_n=905.0, name="late", spread_n=300.0))
    sizes = (size("V18-100"),)
    order = plan_order(two, supplier(), sizes, making, {}, ConfidenceGoal(0.8, 20, 0, 1), "mm")
    assert [c.name for c in order.clutches] == ["kart", "late"]
    assert order.joint is not None
    assert {use.clutch for use in order.joint.uses} == {"kart", "late"}
    assert sum(use.sets for use in order.joint.uses) == 2


def test_the_catalog_of_the_earlier_order_is_asked_for(capsys, written):
    words = ("--received", EXAMPLE / "bag.csv", "--plan", written / "order.json")
    ran = evenstack(capsys, "order", JOB, *words)
    assert ran.code == 2
    assert ran.err.strip() == (
        "--catalog: Expected the catalog of the earlier order, small.csv, got none. "
        "Add --catalog small.csv, so that what lacks is bought from it."
    )
