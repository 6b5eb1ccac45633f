"""Long work in a process of its own: `python -m optimizer.page.worker KIND JOB ...`.

It does what a command does, and writes what that writes into a new folder beside the job:

    match JOB SETS FRESH                evenstack match JOB --sets SETS
    order JOB SETS CATALOG CONFIDENCE   evenstack order JOB --sets SETS --out order-1
    received JOB ORDER CATALOG          evenstack order JOB --received BAG --plan ORDER
    retarget JOB PLAN LATER RESTS_ON    evenstack retarget JOB --later LATER --json
    ways JOB DRAWS RESTS_ON             evenstack ways JOB --draws DRAWS, in blocks

(the last two into a file beside the job, see `answers.py`)

with a line of JSON on standard output for every step of progress and for the answer. The line
`stop` on standard input ends the search with the best so far.
"""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optimizer.control import Limits

#: what is written to it to end the search
STOP = "stop\n"
#: seconds between two lines of progress
PAUSE_S = 0.2
#: seconds after which no more ways to another hookup, or to a matched set, are looked for
LONGEST_S = {"retarget": 60.0, "ways": 90.0}


def main() -> None:
    """Do the work and tell how it goes."""
    from optimizer.control import Interrupted, Limits
    from optimizer.errors import EvenstackError

    kind, job, *more = sys.argv[1:]
    limits = Limits.of(LONGEST_S.get(kind))
    threading.Thread(target=_listen, args=(limits,), daemon=True).start()
    try:
        tell(**DONE_BY[kind](limits, Path(job), *more))
    except EvenstackError as error:
        tell(problems=error.lines())
    except Interrupted:
        tell(problems=["Stopped before a set was found; nothing was written."])


def matched(limits: Limits, job: Path, sets: str, fresh: str) -> dict[str, str]:
    """Match a job into a new folder beside it."""
    from optimizer import wrapping
    from optimizer.face.matching import match
    from optimizer.io.files import write_all_new
    from optimizer.report.plan_card import next_steps

    out = _new(job, "match")
    number = None if sets == "max" else int(sets)
    found = match(job, None, number, 0, None, fresh == "1", limits, Telling())
    with wrapping.columns(wrapping.FULL):
        card = found.summary() + next_steps(found.plan, found.work.job, job, out / "plan.json")
    write_all_new({**found.files(out), out / "card.txt": card})
    return {"folder": out.name}


def ordered(limits: Limits, job: Path, sets: str, catalog: str, confidence: str) -> dict[str, str]:
    """Work out an order into a new folder beside its job."""
    from optimizer.face.ordering import plan_order

    out = _new(job, "order")
    plan_order(job, int(sets), catalog or None, float(confidence), report=Telling()).save(out)
    return {"folder": out.name}


def counted(limits: Limits, job: Path, order: str, catalog: str) -> dict[str, str]:
    """Compare the bag of a job with what was ordered, into a new folder beside the job."""
    from optimizer.face.ordering import delivered
    from optimizer.face.sources import read_job

    out = _new(job, "delivery")
    bag = read_job(job).bag_file
    delivered(job, bag, plan=order, catalog=catalog or None, report=Telling()).save(out)
    return {"folder": out.name}


def retargeted(limits: Limits, job: Path, plan: str, later: str, about: str) -> dict[str, str]:
    """Find ways to another hookup; the answer are the values of the command's document."""
    from optimizer.face.speeds import retarget
    from optimizer.io.numbers import typed_number
    from optimizer.page.answers import KeptAnswer, keep_answer
    from optimizer.report.hookup_json import retarget_values

    by, of = typed_number(later), Path(plan).parent.name if plan else ""
    found = retarget(job, later_rpm=by, plan=plan or None, limits=limits, report=Telling())
    answer = retarget_values(found.found, found.warnings)
    return keep_answer(job, "hookup", KeptAnswer(answer, about, of, later))


def compared(limits: Limits, job: Path, draws: str, about: str) -> dict[str, str]:
    """Compare the ways to a matched set; the answer are the paragraphs and tables of the command.

    A table is a list of rows, its headings first.
    """
    from optimizer.face.planning import ways
    from optimizer.page.answers import KeptAnswer, keep_answer
    from optimizer.report.ways_card import ways_blocks

    found = ways(job, draws=int(draws), limits=limits, report=Telling()).found
    blocks = [
        one if isinstance(one, str) else [list(one.heads), *map(list, one.rows)]
        for one in ways_blocks(found)
    ]
    return keep_answer(job, "ways", KeptAnswer(blocks, about))


DONE_BY: Mapping[str, Callable[..., dict[str, str]]] = {
    "match": matched,
    "order": ordered,
    "received": counted,
    "retarget": retargeted,
    "ways": compared,
}


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
