"""A stack that fell over and was built again, though no move asked for it."""

import re

from tests.page.test_gauging import GAUGE, lines


def test_a_stack_that_was_built_again_unasked_is_said_to_be(bench_shop):
    """What was read of it before is not read of what stands now."""
    visit, folder = bench_shop
    visit.get(GAUGE)
    offered = set(re.findall(r"gauge\?rebuilt=(\d)", visit.answer.text))
    changed = set(re.findall(r"Shoe (\d) changed", visit.words))
    assert offered == {"1", "2", "3"} - changed
    shoe = min(offered)
    visit.get(f"{GAUGE}?rebuilt={shoe}")
    assert "Built again since" in visit.words
    assert visit.answer.text.count('name="rebuilt"') == 2
    header, before = lines(folder)[0].split(","), len(lines(folder))
    visit.read("match-1", 2, shoe, "first", 9030, rebuilt=shoe)
    assert visit.answer.text.count('name="rebuilt"') == 2
    for kind, load in (("first", 903), ("settled", 893)):
        visit.read("match-1", 2, shoe, kind, load, rebuilt=shoe)
        assert visit.answer.status_code == 200, visit.words
    told = [row.split(",")[header.index("rebuilt")] for row in lines(folder)[before:]]
    assert told[0] == "yes"
    assert f"Shoe {shoe}, settled: 893 N" in visit.words
