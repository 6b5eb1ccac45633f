"""A start: engine and vehicle as two inertias, coupled by the clutch that slips and then locks.

    I1 dw1/dt = engine(w1) - T        I2 dw2/dt = T - drag(w2)

with T = sum of grip (pull w1^2 - load) over the shoes that touch while it slips, and what keeps
w1 = w2 once it is locked. w1 is the speed of engine and shoes, w2 that of the drum; the vehicle
is m (wheel radius / gear ratio)^2 at the drum.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from optimizer.frozen import frozen_arrays
from optimizer.mechanics.disc import Array

#: density of air in kg/m3 at 15 C and sea level (ISO 2533 has 1.225)
AIR_KG_M3 = 1.225
#: heat capacity of steel and grey iron in J/(kg K), about (common value, no source)
STEEL_J_KG_K = 470.0
#: a start that takes longer than this is none
LONGEST_S = 60.0
#: distances whose times are told, in m
DISTANCES_M = (10.0, 30.0)


@dataclass(frozen=True)
@frozen_arrays
class Bite:
    """What the clutch carries: arrays of S in kg m, N and m, see `Linings.grip_m`."""

    pull_kgm: Array
    load_n: Array
    grip_m: Array


@dataclass(frozen=True)
class Drive:
    """Engine and vehicle. `engine_nm` gives torque at a speed in rad/s, up to `end_rad_s`, where
    a limiter holds it; `metres` is the way of the vehicle per rad of the drum."""

    engine_nm: Callable[[float], float]
    end_rad_s: float
    engine_kgm2: float
    vehicle_kgm2: float
    metres: float = 0.0
    rolling_n: float = 0.0
    drag_area_m2: float = 0.0

    def drag_nm(self, drum_rad_s: float) -> float:
        """What resists the drum in N m at its speed."""
        speed = drum_rad_s * self.metres
        force = self.rolling_n + 0.5 * AIR_KG_M3 * self.drag_area_m2 * speed * abs(speed)
        return force * self.metres


@dataclass(frozen=True)
class Event:
    """Something that happened: `time_s`, speeds in rpm and distance then."""

    what: str
    time_s: float
    engine_rpm: float
    drum_rpm: float
    distance_m: float


@dataclass(frozen=True)
@frozen_arrays
class Start:
    """One start: speeds (T) in rpm against `time_s` (T), what happened, and where energy went.

    `lock` is the lock-up from which on it held, None where it never did. `slip_j` went into
    linings and drum, `peak_w` is the greatest power there. `unbalanced` is what is left of
    the energy balance (work of the engine less kinetic energy, slip and drag) over the work of the
    engine and the energy at hand; `to_m` the time to each of `DISTANCES_M`, None beyond the end.
    """

    time_s: Array
    engine_rpm: Array
    drum_rpm: Array
    distance_m: Array
    slip_w: Array
    events: tuple[Event, ...]
    lock: Event | None
    slip_j: float
    peak_w: float
    unbalanced: float
    to_m: tuple[float | None, ...]

    def drum_rise_k(self, drum_g: float) -> float:
        """Rise in K of a drum that takes up all of the heat and gives none away."""
        return self.slip_j / (drum_g / 1000 * STEEL_J_KG_K)


def start(
    bite: Bite,
    drive: Drive,
    engine_rad_s: float,
    drum_rad_s: float = 0.0,
    until_m: float = DISTANCES_M[-1],
    longest_s: float = LONGEST_S,
) -> Start:
    """Integrate a start from the given speeds until it is locked and `until_m` away.

    Parameters
    ----------
    engine_rad_s, drum_rad_s : speeds at the start
    until_m : distance to go, at least; 0 ends it at lock-up
    longest_s : ends it in any case

    Notes
    -----
    Between events the right-hand side is smooth: which shoes touch, and whether it slips, changes
    only at an event, which is located on the dense output (scipy.integrate.solve_ivp, DOP853).
    """
    from optimizer.clutch.start_run import StartRun

    return StartRun(bite, drive).go(engine_rad_s, drum_rad_s, until_m, longest_s)
