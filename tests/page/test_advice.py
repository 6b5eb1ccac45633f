"""What the gauge page says of a move: why, as the terminal does, and what to check after it."""

import re

from optimizer import text
from optimizer.face.benching import bench
from optimizer.report.advice import reason, remarks
from tests.page.test_gauging import AT, GAUGE


def test_the_page_says_why_as_the_terminal_does(bench_shop):
    visit, folder = bench_shop
    visit.get(GAUGE)
    told = bench(folder / "job.toml", folder / "match-1" / "plan.json")
    job = told.session.work.job
    width = text.load(job.target.spread_tolerance_n, job.units)
    for said in (reason(told.step, width), *remarks(told.step, job)):
        assert said in visit.words


def test_of_another_move_it_says_what_to_check_too(bench_shop):
    """Its free height, and what the gauge is to show: as of the one that is advised."""
    visit, _ = bench_shop
    visit.get(GAUGE)
    checks = re.compile(r"then [\d.]+ mm high, free|predicted \d+ N settled")
    before = checks.findall(visit.words)
    assert before
    ranks = re.findall(r'name="rank" value="(\d+)"', visit.answer.text)
    visit.post(f"{AT}/choose", {"round": "2", "rank": ranks[0]})
    after = checks.findall(visit.words)
    assert [said.split()[0] for said in after[:2]] == [said.split()[0] for said in before[:2]]
