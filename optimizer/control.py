"""When to stop: a wall-clock limit, and Ctrl-C that keeps the best so far."""

from __future__ import annotations

import math
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

#: what can end a search early
INTERRUPTED, CLOCK = "interrupted", "clock"


class Interrupted(Exception):  # noqa: N818 - the user's wish, nothing failed
    """Ctrl-C ended a command that has nothing to show."""


@dataclass
class Limits:
    """A running time limit; `stopped` is set from outside, by Ctrl-C for one.

    What goes into an answer is bounded by counted work, so that the same seed gives the same
    answer on any machine. The clock ends a search only where somebody set it a limit.
    """

    seconds: float = math.inf
    stopped: bool = False
    started: float = field(default_factory=time.monotonic)

    @staticmethod
    def of(seconds: float | None) -> Limits:
        """Start a limit of so many seconds, none where None."""
        return Limits(math.inf if seconds is None else seconds)

    @property
    def stopped_by(self) -> str | None:
        """What ended the search early, if anything did: the user or the clock."""
        if self.stopped:
            return INTERRUPTED
        return CLOCK if self.over() else None

    def over(self) -> bool:
        """Whether to stop now."""
        return self.stopped or self.left() <= 0

    def left(self) -> float:
        """Seconds left."""
        return self.seconds - (time.monotonic() - self.started)


@contextmanager
def keep_best_on_interrupt(limits: Limits) -> Iterator[None]:
    """Let the first Ctrl-C end the search with the best so far; a second one ends all."""

    def stop(_signal: int, _frame: object) -> None:
        if limits.stopped:
            raise Interrupted
        limits.stopped = True

    with interrupts(stop):
        yield


@contextmanager
def interrupts(handler: Any) -> Iterator[None]:
    """Let Ctrl-C do something else for a while; see `signal.signal`."""
    try:
        before = signal.signal(signal.SIGINT, handler)
    except ValueError:  # not the main thread: nobody can press Ctrl-C here
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@dataclass
class Work:
    """Counted work, some ten nanoseconds a unit, so that the same seed gives the same answer."""

    left: int

    def spend(self, units: int) -> bool:
        """Take off some units; whether there were so many."""
        self.left -= units
        return self.left >= 0


Report = Callable[[str, float], None]


def quiet(_stage: str, _share: float) -> None:
    """Report nothing."""
