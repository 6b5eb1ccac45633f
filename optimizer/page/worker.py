"""Match in a process of its own: `python -m optimizer.page.worker JOB SETS FRESH`.

It writes what `evenstack match JOB` writes, and a line of JSON on standard output for every step
of progress. The line `stop` on standard input ends the search with the best so far.
"""

from __future__ import annotations

import json
import sys
import threading
from contextlib import suppress
from pathlib import Path
from time import monotonic
from typing import Any

#: what is written to it to end the search
STOP = "stop\n"
#: seconds between two lines of progress
PAUSE_S = 0.2


def main() -> None:
    """Match and tell how it goes."""
    from optimizer.control import Interrupted, Limits
    from optimizer.errors import EvenstackError

    job, sets, fresh = Path(sys.argv[1]), sys.argv[2], sys.argv[3] == "1"
    limits = Limits.of(None)
    threading.Thread(target=_listen, args=(limits,), daemon=True).start()
    try:
        tell(folder=matched(job, None if sets == "max" else int(sets), fresh, limits))
    except EvenstackError as error:
        tell(problems=error.lines())
    except Interrupted:
        tell(problems=["Stopped before a set was found; nothing was written."])


def matched(job: Path, sets: int | None, fresh: bool, limits: Any) -> str:
    """Match a job into a new folder beside it; return the name of the folder."""
    from optimizer import wrapping
    from optimizer.errors import InputError
    from optimizer.face.matching import match
    from optimizer.io.files import new_folder, write_all_new
    from optimizer.report.plan_card import next_steps

    out = new_folder(job, "match")
    if out is None:
        raise InputError(f"Nothing can be written beside {job.name}.")
    last = 0.0

    def report(stage: str, share: float) -> None:
        nonlocal last
        if monotonic() - last > PAUSE_S:
            last = monotonic()
            tell(stage=stage, share=share)

    found = match(job, None, sets, 0, None, fresh, limits, report)
    with wrapping.columns(wrapping.FULL):
        card = found.summary() + next_steps(found.plan, found.work.job, job, out / "plan.json")
    write_all_new({**found.files(out), out / "card.txt": card})
    return out.name


def tell(**said: Any) -> None:
    """Write one line of progress; nobody may be listening any more."""
    with suppress(OSError):
        print(json.dumps(said), flush=True)


def _listen(limits: Any) -> None:
    for line in sys.stdin:
        if line == STOP:
            limits.stopped = True


if __name__ == "__main__":
    main()
