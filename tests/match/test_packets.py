"""Which packets are worth a column."""

from __future__ import annotations

from dataclasses import replace

from optimizer.match.packets import candidate_members
from optimizer.model.job import StackRules
from tests.bags import plain_job, seeded_bag, seeded_task


def test_only_discs_of_one_size_are_nested() -> None:
    bag = seeded_bag(12, 1)
    wider = tuple(
        replace(d, od_mm=22.5, id_mm=11.2) if i % 3 else d for i, d in enumerate(bag.discs)
    )
    task = seeded_task(
        replace(bag, discs=wider), plain_job(rules=StackRules(packet_sizes=(1, 2, 3)))
    )
    members = candidate_members(task)
    held = [{int(d) % 3 > 0 for d in row if d >= 0} for row in members]
    assert all(len(kinds) == 1 for kinds in held)
    # 4 and 8 discs: singles, pairs and triples of each size
    assert len(members) == 12 + (6 + 28) + (4 + 56)
