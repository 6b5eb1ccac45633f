"""`python -m tests.speed`: ours and what one would use instead, on the same bags.

`--seeds N` bags of each kind and size (medians over them), `--large` also a lot of 30,000.
Needs the optional dependencies `speed`.
"""

from __future__ import annotations

import argparse
import os
import platform

from tests.speed import assignment, scale


def main() -> None:
    """Print all tables."""
    given = argparse.ArgumentParser(description=__doc__)
    given.add_argument("--seeds", type=int, default=3)
    given.add_argument("--large", action="store_true")
    options = given.parse_args()
    load = os.getloadavg()[0]
    print(
        f"Python {platform.python_version()}, {os.cpu_count()} cores, one worker; load at the "
        f"start {load:.1f}; {options.seeds} bags of each kind and size."
    )
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
