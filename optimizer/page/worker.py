"""Long work in a process of its own: `python -m optimizer.page.worker match JOB SETS FRESH`.

It writes what `evenstack match JOB` writes, or with `order JOB SETS CATALOG CONFIDENCE` what
`evenstack order JOB --out order-1` writes, and a line of JSON on standard output for every step
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
    """Do the work and tell how it goes."""
    from optimizer.control import Interrupted, Limits
    from optimizer.errors import EvenstackError

    kind, job, sets, *more = sys.argv[1:]
    limits = Limits.of(None)
    threading.Thread(target=_listen, args=(limits,), daemon=True).start()
    try:
        if kind == "order":
            tell(folder=ordered(Path(job), int(sets), more[0], float(more[1])))
        else:
            number = None if sets == "max" else int(sets)
            tell(folder=matched(Path(job), number, more[0] == "1", limits))
    except EvenstackError as error:
        tell(problems=error.lines())
    except Interrupted:
        tell(problems=["Stopped before a set was found; nothing was written."])


def matched(job: Path, sets: int | None, fresh: bool, limits: Any) -> str:
    """Match a job into a new folder beside it; return the name of the folder."""
    from optimizer import wrapping
    from optimizer.face.matching import match
    from optimizer.io.files import write_all_new
    from optimizer.report.plan_card import next_steps

    out = _new(job, "match")
    found = match(job, None, sets, 0, None, fresh, limits, Telling())
    with wrapping.columns(wrapping.FULL):
        card = found.summary() + next_steps(found.plan, found.work.job, job, out / "plan.json")
    write_all_new({**found.files(out), out / "card.txt": card})
    return out.name


def ordered(job: Path, sets: int, catalog: str, confidence: float) -> str:
    """Work out an order into a new folder beside its job; return the name of the folder."""
    from optimizer.face.ordering import plan_order

    out = _new(job, "order")
    found = plan_order(job, sets, catalog or None, confidence, report=Telling())
    found.save(out)
    return out.name


def _new(job: Path, name: str) -> Path:
    from optimizer.errors import InputError
    from optimizer.io.files import new_folder

    out = new_folder(job, name)
    if out is None:
        raise InputError(f"Nothing can be written beside {job.name}.")
    return out


class Telling:
    """Tell of progress, but not too often."""

    def __init__(self) -> None:
        """Begin with nothing told."""
        self.last = 0.0

    def __call__(self, stage: str, share: float) -> None:
        """Tell the stage and the share of the work that is done."""
        if monotonic() - self.last > PAUSE_S:
            self.last = monotonic()
            tell(stage=stage, share=share)


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
