"""`python -m tests.fuzz N [FIRST]`: plays so many spoiled files, prints what went wrong."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.fuzz.play import play, prepare


def main() -> None:
    count, first = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    kinds: Counter[str] = Counter()
    worst = (0.0, 0, "")
    bad = 0
    with TemporaryDirectory() as name:
        folder = Path(name)
        files = prepare(folder)
        for number in range(first, first + count):
            played = play(number, folder, files)
            kinds[played.kind] += 1
            worst = max(worst, (played.seconds, number, played.kind))
            if played.faults:
                bad += 1
                shown = " ".join(played.words).replace(name, "")[:120]
                print(number, played.kind, played.faults, shown, flush=True)
    print(f"{count} played, {bad} with a fault; the longest took {worst[0]:.1f} s ({worst[1:]})")
    print(", ".join(f"{kind} {n}" for kind, n in sorted(kinds.items())))


if __name__ == "__main__":
    main()
