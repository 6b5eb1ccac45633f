"""Integrating a start piece by piece: from one touch, lock-up or break-away to the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.clutch.engagement import RAD_PER_S_PER_RPM
from optimizer.clutch.start import DISTANCES_M, Bite, Drive, Event, Start
from optimizer.mechanics.disc import Array

#: pieces that a start is integrated in, at most: touches, lock-up, break-away, and again
MOST_PIECES = 60
#: relative and absolute tolerance of the integration
RTOL, ATOL = 1e-8, 1e-8
#: rows kept of each piece for the picture
ROWS = 61
#: a shoe whose surplus is this share of its load is on the brink
BRINK = 1e-9
#: how many times the distance asked for a clutch may slip on
FAR = 10.0
#: a drum that just begins to turn, in rad/s
MOVES = 1e-9

State = Callable[[float, Array], float]


@dataclass(frozen=True)
class Piece:
    """What holds between two events: the clutch carries `a` w1^2 - `b` where it slips."""

    a: float
    b: float
    locked: bool
    still: bool
    limited: bool


class StartRun:
    """One start being integrated: state w1, w2, distance, work of the engine, slip, drag."""

    def __init__(self, bite: Bite, drive: Drive) -> None:
        """Take torque over speed of each shoe apart into grip * pull and grip * load."""
        self.drive = drive
        self.a = [float(g * p) for g, p in zip(bite.grip_m, bite.pull_kgm, strict=True)]
        self.b = [float(g * n) for g, n in zip(bite.grip_m, bite.load_n, strict=True)]
        self.rows: list[Array] = []
        self.events: list[Event] = []
        self.to: dict[float, float] = {}

    def go(self, w1: float, w2: float, until_m: float, longest_s: float) -> Start:
        """Integrate from the speeds given; see `start`."""
        from scipy.integrate import solve_ivp

        t, y = 0.0, np.array([w1, w2, 0.0, 0.0, 0.0, 0.0])
        touch = tuple(self._touches(k, w1) for k in range(len(self.a)))
        locked = w1 == w2 and self._holds(w1, touch)
        if any(touch) and w1 != w2:
            self._note("drags at idle", t, y)
        lock: Event | None = None
        for _ in range(MOST_PIECES):
            piece = self._piece(touch, locked, y)
            watch = self._watch(piece, touch, until_m)
            told = solve_ivp(
                self._slope(piece), (t, longest_s), y, method="DOP853", rtol=RTOL, atol=ATOL,
                events=[event for _, event in watch], dense_output=True,
            )  # fmt: skip
            self._keep(told, piece)
            t, y = float(told.t[-1]), told.y[:, -1].copy()
            name = next(
                (what for (what, _), at in zip(watch, told.t_events, strict=True) if len(at)), ""
            )
            if name in ("", "far enough"):
                break
            if name.startswith("shoe"):
                before, k = touch, int(name.split()[1]) - 1
                touch = self._flipped(touch, k, float(y[0]))
                moved = [str(j + 1) for j, on in enumerate(touch) if on != before[j]]
                name = f"shoe {', '.join(moved)} {'touches' if touch[k] else 'lets go'}"
            elif name == "locks up":
                y[0] = y[1] = self._together(y)
                locked = self._holds(float(y[0]), touch)
            elif name == "breaks away":
                locked, lock = False, None
            elif name == "moves off":
                y[1] = max(y[1], MOVES)
            elif name == "end of the curve":
                y[0] = self.drive.end_rad_s
                y[1] = y[0] if locked else y[1]
            if name != "locks up" or locked:
                self._note(name, t, y)
            if name == "locks up" and locked:
                lock = self.events[-1]
                if y[2] >= until_m:
                    break
        return self._told(lock)

    def _together(self, y: Array) -> float:
        """Speed of both at lock-up, momentum kept."""
        i1, i2 = self.drive.engine_kgm2, self.drive.vehicle_kgm2
        return float((i1 * y[0] + i2 * y[1]) / (i1 + i2))

    def _touches(self, k: int, w1: float) -> bool:
        """Whether a shoe presses on the drum at a speed of the engine; on the brink counts."""
        spare = self.a[k] * w1**2 - self.b[k]
        return spare >= -BRINK * abs(self.b[k]) and (self.a[k] > 0 or self.b[k] < 0)

    def _flipped(self, touch: tuple[bool, ...], k: int, w1: float) -> tuple[bool, ...]:
        """Change shoe `k`, and with it those that are on the brink as well."""
        left = [a * w1**2 - b for a, b in zip(self.a, self.b, strict=True)]
        return tuple(
            not touch[k] if j == k or abs(left[j]) <= BRINK * abs(self.b[j]) else on
            for j, on in enumerate(touch)
        )

    def _piece(self, touch: tuple[bool, ...], locked: bool, y: Array) -> Piece:
        a = sum(x for x, on in zip(self.a, touch, strict=True) if on)
        b = sum(x for x, on in zip(self.b, touch, strict=True) if on)
        still = not locked and y[1] <= 0.0 and a * y[0] ** 2 - b <= self.drive.drag_nm(0.0)
        return Piece(a, b, locked, bool(still), self._limited(float(y[0])))

    def _limited(self, w1: float) -> bool:
        return w1 >= self.drive.end_rad_s * (1 - 1e-9)

    def _holds(self, w: float, touch: tuple[bool, ...]) -> bool:
        """Whether the clutch carries what keeps both speeds alike."""
        can = sum(a * w**2 - b for a, b, on in zip(self.a, self.b, touch, strict=True) if on)
        return abs(self._needed(w)) <= can

    def _needed(self, w: float) -> float:
        """Torque through a locked clutch."""
        d = self.drive
        drag = d.drag_nm(w)
        if self._limited(w):
            return drag
        spare = d.engine_nm(w) - drag
        return drag + d.vehicle_kgm2 * spare / (d.engine_kgm2 + d.vehicle_kgm2)

    def _slope(self, piece: Piece) -> Callable[[float, Array], list[float]]:
        d, a, b = self.drive, piece.a, piece.b
        both = d.engine_kgm2 + d.vehicle_kgm2

        def locked(_: float, y: Array) -> list[float]:
            w = float(y[0])
            drag = d.drag_nm(w)
            drive = drag if piece.limited else d.engine_nm(w)
            turn = (drive - drag) / both
            return [turn, turn, w * d.metres, drive * w, 0.0, drag * w]

        def slips(_: float, y: Array) -> list[float]:
            w1, w2 = float(y[0]), float(y[1])
            carried = a * w1**2 - b
            drag = carried if piece.still else d.drag_nm(w2)
            drive = carried if piece.limited else d.engine_nm(w1)
            return [
                (drive - carried) / d.engine_kgm2,
                (carried - drag) / d.vehicle_kgm2,
                w2 * d.metres,
                drive * w1,
                carried * (w1 - w2),
                drag * w2,
            ]

        return locked if piece.locked else slips

    def _watch(
        self, piece: Piece, touch: tuple[bool, ...], until_m: float
    ) -> list[tuple[str, State]]:
        """What ends the piece: its name, and a function that goes through 0 there."""
        d, a, b = self.drive, piece.a, piece.b
        watch: list[tuple[str, State]] = []

        def ends(name: str, direction: float, function: State) -> None:
            marked: Any = function
            marked.terminal, marked.direction = True, direction
            watch.append((name, function))

        def shoe(k: int) -> State:
            return lambda _, y: float(self.a[k] * y[0] ** 2 - self.b[k])

        for k, on in enumerate(touch):
            if self.a[k] > 0:
                ends(f"shoe {k + 1}", -1.0 if on else 1.0, shoe(k))
        if piece.locked:
            ends(
                "breaks away", -1.0,
                lambda _, y: float(a * y[0] ** 2 - b - abs(self._needed(float(y[0])))),
            )  # fmt: skip
        else:
            ends("locks up", -1.0, lambda _, y: float(y[0] - y[1]))
        if piece.still:
            least = d.drag_nm(0.0)
            ends("moves off", 1.0, lambda _, y: float(a * y[0] ** 2 - b - least))
        if not piece.limited and np.isfinite(d.end_rad_s):
            ends("end of the curve", 1.0, lambda _, y: float(y[0] - d.end_rad_s))
        if until_m > 0:
            far = until_m if piece.locked else FAR * until_m
            ends("far enough", 1.0, lambda _, y: float(y[2] - far))
        return watch

    def _note(self, what: str, t: float, y: Array) -> None:
        rpm = y[:2] / RAD_PER_S_PER_RPM
        self.events.append(Event(what, t, float(rpm[0]), float(rpm[1]), float(y[2])))

    def _keep(self, told: Any, piece: Piece) -> None:
        """Keep rows of a piece, and the times at which it passes the distances told of."""
        from scipy.optimize import brentq

        for far in DISTANCES_M:
            if told.y[2, 0] < far <= told.y[2, -1] + 1e-9:
                end = float(told.t[-1])

                def spare(t: float, far: float = far) -> float:
                    return float(told.sol(t)[2]) - far

                self.to[far] = end if spare(end) <= 0 else brentq(spare, float(told.t[0]), end)
        # close together after an event, where speeds change most
        at = told.t[0] + (told.t[-1] - told.t[0]) * np.linspace(0.0, 1.0, ROWS) ** 2
        y = told.sol(at)
        carried = 0.0 if piece.locked else piece.a * y[0] ** 2 - piece.b
        self.rows.append(np.vstack([at, y, carried * (y[0] - y[1])]))

    def _told(self, lock: Event | None) -> Start:
        d = self.drive
        t, w1, w2, x, work, slip, drag, power = np.concatenate(self.rows, axis=1)
        kinetic = (d.engine_kgm2 * w1**2 + d.vehicle_kgm2 * w2**2) / 2
        left = work[-1] - (kinetic[-1] - kinetic[0]) - slip[-1] - drag[-1]
        return Start(
            t, w1 / RAD_PER_S_PER_RPM, w2 / RAD_PER_S_PER_RPM, x, power, tuple(self.events), lock,
            float(slip[-1]), float(power.max()),
            float(abs(left) / (work[-1] + kinetic[0])),
            tuple(self.to.get(far) for far in DISTANCES_M),
        )  # fmt: skip
