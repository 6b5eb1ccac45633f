"""Long work in a process of its own: its progress, its end, and how to stop it.

The process writes its answer into the folder by itself, so that neither a closed browser nor a
stopped server loses it.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from contextlib import suppress
from dataclasses import dataclass, field

from optimizer.errors import InputError
from optimizer.page.worker import STOP

#: -P: a folder called optimizer where the command was started is not taken for this one
WORKER = (sys.executable, "-P", "-m", "optimizer.page.worker")


#: kinds of work for a clutch
KINDS = ("match", "order", "hookup", "ways")


def named(clutch: str, kind: str) -> str:
    """Return the name under which work of a kind for a clutch runs; a match has the clutch's."""
    return clutch if kind == "match" else f"{clutch}/{kind}"


def names(clutch: str) -> tuple[str, ...]:
    """Return the names of all kinds of work for a clutch."""
    return tuple(named(clutch, kind) for kind in KINDS)


@dataclass
class WorkRun:
    """Work under way or done: `folder` is where its answer is, `problems` why there is none."""

    process: subprocess.Popen[str]
    stage: str = "starting"
    share: float = 0.0
    folder: str = ""
    problems: tuple[str, ...] = ()
    stopping: bool = False
    ended: bool = False


@dataclass
class Works:
    """The newest run of each kind of work for each clutch, by `names`."""

    runs: dict[str, WorkRun] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def start(self, clutch: str, words: tuple[str, ...]) -> None:
        """Begin a worker; `words` are what it is given.

        Raises
        ------
        InputError
            while another one of the same name runs.
        """
        with self.lock:
            if (before := self.runs.get(clutch)) and not before.ended:
                raise InputError("This is running already: wait for it, or stop it.")
            process = subprocess.Popen(
                [*WORKER, *words],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
                start_new_session=True,
            )
            run = self.runs[clutch] = WorkRun(process)
            self._changed(clutch)
        threading.Thread(target=self._follow, args=(clutch, run), daemon=True).start()

    def stop(self, clutch: str) -> None:
        """Ask a run to end with the best so far."""
        run = self.runs.get(clutch)
        if run is None or run.ended or run.process.stdin is None:
            return
        run.stopping = True
        with suppress(OSError, ValueError):
            run.process.stdin.write(STOP)
            run.process.stdin.flush()
        self._changed(clutch)

    def of(self, clutch: str) -> WorkRun | None:
        """Return the newest run of a clutch, if there was one."""
        return self.runs.get(clutch)

    def changes(self, clutch: str) -> int:
        """Return how often a run of a clutch began, was asked to stop or ended."""
        return self.counts.get(clutch, 0)

    def close(self) -> None:
        """End every run with the server."""
        for run in self.runs.values():
            _end(run)

    def end(self, clutch: str) -> None:
        """End a run at once, without an answer."""
        run = self.runs.get(clutch)
        if run is not None and not run.ended:
            run.problems = ("Stopped; nothing was written.",)
            _end(run)

    def _changed(self, clutch: str) -> None:
        self.counts[clutch] = self.changes(clutch) + 1

    def _follow(self, clutch: str, run: WorkRun) -> None:
        assert run.process.stdout is not None
        assert run.process.stdin is not None
        for line in run.process.stdout:
            try:
                said = json.loads(line)
            except ValueError:  # a word of a library
                continue
            run.stage, run.share = said.get("stage", run.stage), said.get("share", run.share)
            run.folder = said.get("folder", run.folder)
            run.problems = tuple(said.get("problems", run.problems))
        code = run.process.wait()
        run.process.stdout.close()
        with suppress(OSError):
            run.process.stdin.close()
        if not (run.folder or run.problems):
            run.problems = (f"It ended before it had an answer (code {code}).",)
        with self.lock:
            run.ended = True
            self._changed(clutch)


def _end(run: WorkRun) -> None:
    """End a process and those that it began."""
    if run.ended:
        return
    with suppress(OSError):
        if hasattr(os, "killpg"):
            os.killpg(run.process.pid, signal.SIGTERM)
        else:
            run.process.terminate()
    with suppress(subprocess.TimeoutExpired):
        run.process.wait(5)
