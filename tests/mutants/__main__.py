"""`python -m tests.mutants WHERE ... --sample N --seed S`: do the tests see a wrong line?

WHERE is a room or a module below `optimizer/`: `mechanics`, `estimate/learn.py`. So many of
its mutants are drawn, each is held against the tests of its room (`tests/mechanics`) in a copy of
the project, and those that no test sees are listed. `equivalent.csv` names those that change
nothing that could be seen, with the reason; they are not drawn.
"""

from __future__ import annotations

import argparse
import csv
import random
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

from tests.mutants.mutate import Mutant, mutants
from tests.mutants.run import ROOT, copied, tested

EQUIVALENT = Path(__file__).with_name("equivalent.csv")


@dataclass(frozen=True)
class Placed:
    """A mutant and its module, below `optimizer/`."""

    module: str
    mutant: Mutant

    @property
    def key(self) -> tuple[str, ...]:
        """What names it whatever its line is."""
        m = self.mutant
        return self.module, m.function, m.before, m.after, str(m.turn)

    def __str__(self) -> str:
        m = self.mutant
        return (
            f"{self.module}:{m.line}: {m.function}: `{m.before}` -> `{m.after}`"
            + f" ({m.turn})" * (m.turn > 1)
        )


def modules(where: str) -> list[str]:
    """Modules of a room, or the one."""
    path = ROOT / "optimizer" / where
    found = sorted(path.rglob("*.py")) if path.is_dir() else [path]
    return [one.relative_to(ROOT / "optimizer").as_posix() for one in found]


def explained() -> set[tuple[str, ...]]:
    """Keys of the mutants that change nothing to be seen."""
    with EQUIVALENT.open(encoding="utf-8", newline="") as file:
        return {tuple(row.values())[:-1] for row in csv.DictReader(file)}


def listed(wheres: list[str]) -> list[Placed]:
    """All mutants of some modules but those explained."""
    found = [
        Placed(module, mutant)
        for where in wheres
        for module in modules(where)
        for mutant in mutants((ROOT / "optimizer" / module).read_text(encoding="utf-8"))
    ]
    known = explained()
    return [one for one in found if one.key not in known]


def main() -> None:
    """Play a sample and print what came of it."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("where", nargs="+")
    given.add_argument("--sample", type=int, default=30)
    given.add_argument("--seed", type=int, default=0)
    given.add_argument("--only", type=Path, help="what an earlier run said: its survivors again")
    given.add_argument("--bound", type=float, default=60.0, help="least seconds a run may take")
    options = given.parse_args()
    every = listed(options.where)
    drawn = random.Random(options.seed).sample(every, min(options.sample, len(every)))
    if options.only:
        lines = options.only.read_text(encoding="utf-8").splitlines()
        lived = {line.removeprefix("survived").strip() for line in lines if line[0:1] == "s"}
        drawn = [one for one in every if str(one) in lived]
    count: Counter[tuple[str, str]] = Counter()
    with copied() as folder:
        bounds = {}
        for room in {one.module.split("/")[0] for one in drawn}:
            began = perf_counter()
            failed = tested(folder, room, 3600)
            assert failed is None, f"tests/{room} fails without any mutant: {failed}"
            bounds[room] = max(options.bound, 4 * (perf_counter() - began))
        for one in drawn:
            room, file = one.module.split("/")[0], folder / "optimizer" / one.module
            right = file.read_text(encoding="utf-8")
            file.write_text(one.mutant.source, encoding="utf-8")
            failed = tested(folder, room, bounds[room])
            file.write_text(right, encoding="utf-8")
            word = "survived" if failed is None else "out of time" if failed == "time" else "killed"
            count[one.module, word] += 1
            print(f"{word:12}{one}" + (f"  [{failed}]" if failed else ""), flush=True)
    words = ("killed", "out of time", "survived")
    print(f"\n| module | mutants | {' | '.join(words)} |\n|---|---|---|---|---|")
    for module in sorted({module for module, _ in count}):
        row = [count[module, word] for word in words]
        print(f"| {module} | {sum(row)} | {' | '.join(map(str, row))} |")


if __name__ == "__main__":
    main()
