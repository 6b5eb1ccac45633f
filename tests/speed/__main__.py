"""`python -m tests.speed`: ours and what one would use instead, on the same bags.

`--seeds N` bags of each kind and size (medians over them), `--large` also a lot of 30,000.
`--against DIR [--times N]` instead holds this tree against another one of the project, command by
command in turn (`git worktree add DIR COMMIT` makes one).
Needs the optional dependencies `speed`.
"""

from __future__ import annotations

import argparse
import os
import platform
from pathlib import Path

from tests.speed import against, scale


def main() -> None:
    """Print all tables."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--seeds", type=int, default=3)
    given.add_argument("--large", action="store_true")
    given.add_argument("--against", type=Path)
    given.add_argument("--times", type=int, default=7)
    options = given.parse_args()
    load = os.getloadavg()[0]
    print(
        f"Python {platform.python_version()}, {os.cpu_count()} cores, one worker; load at the "
        f"start {load:.1f}; {options.seeds} bags of each kind and size."
    )
    if options.against:
        against.compare(options.against.resolve(), options.times)
        return
    from tests.speed import assignment  # wants a package that is optional

    scale.start()
    scale.loads()
    scale.starts()
    scale.lots((300, 600, 1000, 3000, *((30000,) if options.large else ())))
    assignment.patterns(options.seeds)
    assignment.to_a_tenth(options.seeds)
    assignment.whole_match(options.seeds)
    assignment.refusals(options.seeds)


if __name__ == "__main__":
    main()
