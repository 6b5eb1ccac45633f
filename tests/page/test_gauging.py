"""At the gauge: the loop as the terminal plays it, slips asked about, and nothing lost."""

import io
import json
import re

import pytest

from optimizer.face.benching import bench
from tests.page.conftest import play
from tests.page.visit import Visit
from tests.shell import evenstack

GAUGE = "/c/this/p/match-1/1/gauge"
AT = "/c/this/p/match-1/1"
#: invented loads in N that agree
CLOSE = {1: (900, 890), 2: (901, 891), 3: (900, 890.5)}


def lines(folder):
    return (folder / "match-1" / "readings.csv").read_text().splitlines()


def advised(visit):
    return re.search(r'<section class="advice [^>]*>\s*<h2[^>]*>([^<]*)</h2>', visit.answer.text)[1]


def test_it_asks_for_every_stack_first(shop):
    visit, _ = shop
    visit.get(GAUGE)
    assert advised(visit) == "READ"
    assert visit.answer.text.count('class="load"') == 6
    assert "Stored energy" in visit.words


def test_a_round_and_its_advice_are_those_of_the_command(bench_shop):
    visit, folder = bench_shop
    visit.get(GAUGE)
    assert advised(visit) == "SWAP"
    known = (folder / "job.known.json").read_bytes()
    told = bench(folder / "job.toml", folder / "match-1" / "plan.json")
    best = told.step.advice.advised
    assert (folder / "job.known.json").read_bytes() == known
    assert f"About {best.in_all:.0f} minutes of work" in visit.words
    for exchange in best.exchanges:
        assert exchange.out in visit.words
        assert exchange.bring in visit.words
    row = lines(folder)[1].split(",")
    assert (row[0], *row[3:5]) == ("1", "first", "905")


def test_stacks_that_agree_stop(shop):
    visit, _ = shop
    play(visit, CLOSE)
    assert advised(visit) == "STOP"
    assert 'class="load"' not in visit.answer.text


def test_a_slip_is_asked_about_and_what_was_meant_is_one_tap(shop):
    visit, folder = shop
    visit.read("match-1", 1, 1, "settled", "8950")
    assert visit.answer.status_code == 422
    assert "ten times too high" in visit.words
    assert 'name="taken" value="895"' in visit.answer.text
    assert 'value="8950"' in visit.answer.text
    assert not (folder / "match-1" / "readings.csv").exists()
    visit.read("match-1", 1, 1, "settled", "8950", taken="895")
    assert visit.answer.status_code == 200
    assert ",895," in lines(folder)[1]


def test_one_that_is_insisted_on_is_kept_and_marked(shop):
    visit, folder = shop
    visit.read("match-1", 1, 1, "settled", "300", answer="keep")
    assert visit.answer.status_code == 200
    assert lines(folder)[1].endswith(",ok")
    assert "insisted on" in visit.words


def test_first_and_settled_typed_for_each_other_are_swapped(shop):
    visit, folder = shop
    visit.read("match-1", 1, 1, "first", "890")
    visit.read("match-1", 1, 1, "settled", "905")
    assert visit.answer.status_code == 422
    assert "Swap the two" in visit.words
    visit.read("match-1", 1, 1, "settled", "905", answer="swap")
    kept = [(row.split(",")[3], row.split(",")[4], row.split(",")[-1]) for row in lines(folder)[1:]]
    assert kept == [("first", "890", "no"), ("first", "905", ""), ("settled", "890", "")]


@pytest.mark.parametrize("typed", ["", "x", "-5", "0", "8,9,5", "1e99", "nan", "inf"])
def test_what_is_no_load_is_told(shop, typed):
    visit, folder = shop
    visit.read("match-1", 1, 1, "settled", typed)
    assert visit.answer.status_code == 422
    assert "load" in visit.words
    assert not (folder / "match-1" / "readings.csv").exists()


def test_a_decimal_comma_is_read(shop):
    visit, folder = shop
    visit.read("match-1", 1, 1, "settled", "895,5")
    assert ",895.5," in lines(folder)[1]


def taken_back(visit):
    form = visit.answer.text.split(f'action="{AT}/void"')[2]  # the settled one of shoe 1
    line = re.search(r'name="line" value="(\d+)"', form)[1]
    load = re.search(r'name="load" value="([^"]+)"', form)[1]
    return {"line": line, "load": load}


def test_a_reading_is_taken_back_and_its_row_stays(shop):
    visit, folder = shop
    play(visit, CLOSE)
    data = taken_back(visit)
    visit.post(f"{AT}/void", data)
    assert advised(visit) == "READ"
    assert len(lines(folder)) == 7
    assert sum(row.endswith(",no") for row in lines(folder)) == 1
    visit.post(f"{AT}/void", {**data, "load": "1 N"})
    assert visit.answer.status_code == 422


def test_a_whole_round_is_taken_back(bench_shop):
    visit, folder = bench_shop
    visit.get(GAUGE)
    visit.post(f"{AT}/void-round", {"round": "1"})
    assert advised(visit) == "READ"
    assert all(row.endswith(",no") for row in lines(folder)[1:])
    visit.post(f"{AT}/void-round", {"round": "1"})
    assert visit.answer.status_code == 422


def test_of_two_devices_the_second_is_told_of_the_first(shop):
    visit, folder = shop
    other = Visit(folder)
    visit.read("match-1", 1, 1, "settled", "895")
    other.read("match-1", 1, 1, "settled", "893")
    assert other.answer.status_code == 409
    assert "895 N" in other.words
    assert 'value="893"' in other.answer.text
    assert len(lines(folder)) == 2
    other.read("match-1", 1, 1, "settled", "893", again="1")
    assert len(lines(folder)) == 3


def test_a_round_that_is_over_takes_no_reading(bench_shop):
    visit, folder = bench_shop
    visit.get(GAUGE)
    count = len(lines(folder))
    visit.read("match-1", 1, 1, "settled", "895")
    assert visit.answer.status_code == 422
    assert "moved on" in visit.words
    assert len(lines(folder)) == count


def test_another_move_is_one_tap_and_is_read_to_the_end(bench_shop):
    visit, folder = bench_shop
    visit.get(GAUGE)
    ranks = re.findall(r'name="rank" value="(\d+)"', visit.answer.text)
    assert ranks
    visit.post(f"{AT}/choose", {"round": "2", "rank": ranks[0]})
    told = bench(folder / "job.toml", folder / "match-1" / "plan.json").step
    move = told.advice.moves[int(ranks[0])]
    stacks = zip(told.stacks, move.stacks, strict=True)
    changed = [shoe for shoe, (a, b) in enumerate(stacks, 1) if a != b]
    for exchange in move.exchanges:
        assert exchange.out in visit.words
    for shoe in changed:
        assert f'id="r-{shoe}-settled"' in visit.answer.text
        visit.read("match-1", 2, shoe, "settled", 891)
        assert visit.answer.status_code == 200, visit.words
    assert "round 3" in visit.words or advised(visit) in ("STOP", "LEAVE")
    packs = {tuple(row.split(",")[2].split()) for row in lines(folder) if row.startswith("2,")}
    wanted = {tuple("+".join(p) for p in move.stacks[shoe - 1]) for shoe in changed}
    assert packs == wanted


def test_steps_of_a_move_are_ticked_for_both_devices(bench_shop):
    visit, folder = bench_shop
    visit.get(GAUGE)
    visit.post(f"{AT}/tick-move", {"part": "step 1", "on": "1"})
    assert 'data-part="step 1" data-on="0"' in Visit(folder).get(GAUGE).text
    visit.post(f"{AT}/tick-move", {"part": "step 99", "on": "1"})
    assert visit.answer.status_code == 422


def test_the_terminal_and_the_page_take_turns(shop):
    """Half a round on the page, the rest in the file as the command writes it, back again."""
    from optimizer.bench.keeping import keep
    from optimizer.bench.questions import Question
    from optimizer.bench.session import open_session

    visit, folder = shop
    visit.read("match-1", 1, 1, "settled", 890)
    plan = folder / "match-1" / "plan.json"
    session = open_session(folder / "job.toml", plan, None, 1, 0, 0.9, 0, False)
    for shoe in (2, 3):
        question = Question(1, shoe, session.planned[shoe])
        keep(session, question.reading("settled", 890.0), "890")
    visit.get(GAUGE)
    assert advised(visit) == "STOP"


def test_a_slip_in_the_file_is_named_and_can_be_let_count(shop):
    visit, folder = shop
    log = folder / "match-1" / "readings.csv"
    log.write_text("round,shoe,kind,load_n\n1,1,settled,8950\n1,2,settled,890\n1,3,settled,891\n")
    visit.get(GAUGE)
    assert "Left out" in visit.words
    assert "does not count" in visit.words
    form = visit.answer.text.split(f'action="{AT}/insist"')[1]
    line = re.search(r'name="line" value="(\d+)"', form)[1]
    visit.post(f"{AT}/insist", {"line": line, "load": "8950 N"})
    assert "insisted on" in visit.words
    assert "8950" in log.read_text()


def test_a_broken_file_of_readings_is_told(shop):
    visit, folder = shop
    (folder / "match-1" / "readings.csv").write_text("round,shoe\n1,1\n")
    assert visit.get(GAUGE).status_code == 422
    assert "Expected a column" in visit.words


def test_what_is_kept_is_json_of_the_same_readings(shop):
    visit, folder = shop
    play(visit, CLOSE)
    known = json.loads((folder / "job.known.json").read_text())
    assert [row["load_n"] for row in known["sessions"][0]["rows"]] == [
        load for pair in CLOSE.values() for load in pair
    ]


def test_where_reading_again_is_better_a_move_can_be_taken_and_given_up(shop):
    """Readings that contradict the measurements, invented: nothing is chased at once."""
    visit, _ = shop
    for shoe, load in ((1, 870), (2, 930), (3, 890)):
        visit.read("match-1", 1, shoe, "settled", load, answer="keep")
    assert advised(visit) == "READ AGAIN"
    assert "contradict" in visit.words
    assert visit.answer.text.count('class="load"') == 6
    visit.post(f"{AT}/choose", {"round": "2", "rank": "0"})
    assert advised(visit) == "SWAP"
    visit.post(f"{AT}/choose", {"round": "2", "rank": "advised"})
    assert advised(visit) == "READ AGAIN"
    visit.post(f"{AT}/choose", {"round": "2", "rank": "77"})
    assert visit.answer.status_code == 422


def test_reading_again_is_one_round_however_it_is_read(shop):
    """A first push, or one shoe of three, is no round yet."""
    visit, folder = shop
    loads = ((1, 870), (2, 930), (3, 890))
    for shoe, load in loads:
        visit.read("match-1", 1, shoe, "settled", load, answer="keep")
    for shoe, load in loads:
        assert "round 2" in visit.words
        for kind, typed in (("first", load + 9), ("settled", load)):
            visit.read("match-1", 2, shoe, kind, typed, answer="keep")
            assert visit.answer.status_code == 200, visit.words
    assert {row[0] for row in lines(folder)[4:]} == {"2"}
    assert "round 3" in visit.words


def test_sets_of_one_plan_have_readings_of_their_own(shop, capsys, monkeypatch):
    visit, folder = shop
    bag = folder / "bag.csv"
    rows = bag.read_text().splitlines()
    bag.write_text("\n".join([*rows, *(f"Y{row}" for row in rows[1:])]) + "\n")
    evenstack(capsys, "match", folder / "job.toml", "--sets", "2", "--out", folder / "lot")
    visit.get("/c/this/p/lot/2/gauge")
    data = {"round": 1, "shoe": 1, "kind": "settled", "load": 890}
    visit.post("/c/this/p/lot/2/reading", data)
    assert visit.answer.status_code == 200
    assert (folder / "lot" / "readings-2.csv").exists()
    assert not (folder / "lot" / "readings.csv").exists()
    # and the command takes up where the page is
    monkeypatch.setattr("sys.stdin", io.StringIO("list\nq\n"))
    words = ("bench", folder / "job.toml", "--plan", folder / "lot" / "plan.json", "--set", "2")
    told = evenstack(capsys, *words).err
    assert "890 N" in told
    assert "readings-2.csv" in told


def test_a_bag_that_changed_after_its_readings_is_no_dead_end(bench_shop):
    visit, folder = bench_shop
    bag, known = folder / "bag.csv", folder / "job.known.json"
    before = known.read_bytes()
    bag.write_text(bag.read_text().replace("A06,20.0,10.2,0.9", "A06,20.0,10.2,0.8"))
    assert visit.get(GAUGE).status_code == 422
    assert "Set aside what the gauge taught" in visit.words
    visit.post("/c/this/aside")
    assert visit.answer.status_code == 200
    assert not known.exists()
    assert (folder / "job.known-before-1.json").read_bytes() == before
    assert visit.get(GAUGE).status_code == 200
