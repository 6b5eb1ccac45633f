"""What the gauge page says of a move: why, as the terminal does, and what to check after it."""

import re
from dataclasses import replace

from optimizer import text
from optimizer.bench.moves import Exchange
from optimizer.face.benching import bench
from optimizer.page.moving import exchange_steps
from optimizer.report.advice import reason, remarks
from tests.page.test_gauging import AT, GAUGE, advised
from tests.shell import evenstack


def test_the_page_says_why_as_the_terminal_does(bench_shop):
    visit, folder = bench_shop
    visit.get(GAUGE)
    told = bench(folder / "job.toml", folder / "match-1" / "plan.json")
    job = told.session.work.job
    width = text.load(job.target.spread_tolerance_n, job.units)
    for said in (reason(told.step, width), *remarks(told.step, job)):
        assert said in visit.words
    ranges = set(re.findall(r"read (\d+)-(\d+)", told.summary()))
    asked = set(re.findall(r"read (\d+) to (\d+) N", visit.words))
    assert asked
    assert asked <= ranges


def test_of_many_sets_it_says_which_and_goes_on_to_the_next(shop, capsys):
    """Invented readings that agree, so that the first set stops."""
    visit, folder = shop
    bag = folder / "bag.csv"
    rows = bag.read_text().splitlines()
    bag.write_text("\n".join([*rows, *(f"Y{row}" for row in rows[1:])]) + "\n")
    evenstack(capsys, "match", folder / "job.toml", "--sets", "2", "--out", folder / "lot")
    for shoe in (1, 2, 3):
        assert "Build set 2" not in visit.words
        visit.post(
            "/c/this/p/lot/1/reading",
            {"round": 1, "shoe": shoe, "kind": "settled", "load": 890 + shoe / 2},
        )
        assert "lot, set 1 of 2, round 1" in visit.words
        if shoe == 1:
            assert "Press shoes 2 and 3 to the travel" in visit.words
    assert advised(visit) == "STOP"
    assert 'href="/c/this/p/lot/2/build">Build set 2' in visit.answer.text


def test_a_disc_with_a_bare_number_is_not_read_as_a_count():
    stacks = ((("1",), ("2", "12")), (("3",), ("07",)))
    spare = Exchange("12", (1, 2, 2), "02", None)
    (step,) = exchange_steps(spare, stacks)
    assert step.startswith("Take no. 12 out of shoe 1, position 3 from the bottom, and")
    assert step.endswith("put the spare no. 02 in its place")
    swap = replace(spare, bring="07", bring_from=(2, 2, 1))
    last = exchange_steps(swap, stacks)[1]
    assert last.startswith("Put no. 12 where no. 07 was: shoe 2, position 2")


def test_of_another_move_it_says_what_to_check_too(bench_shop):
    """Its free height, and what the gauge is to show: as of the one that is advised."""
    visit, _ = bench_shop
    visit.get(GAUGE)
    checks = re.compile(r"then [\d.]+ mm high, free|read \d+ to \d+ N, nineteen")
    before = checks.findall(visit.words)
    assert before
    ranks = re.findall(r'name="rank" value="(\d+)"', visit.answer.text)
    visit.post(f"{AT}/choose", {"round": "2", "rank": ranks[0]})
    after = checks.findall(visit.words)
    assert [said.split()[0] for said in after[:2]] == [said.split()[0] for said in before[:2]]
