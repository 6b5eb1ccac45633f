"""What a tachometer teaches: how hard the shoes pull, and how well their linings grip.

The speed at which they touch tells lever, mass and radius as one product. The speed at which the
clutch holds full throttle, that of the engine while it slips, tells the friction beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.clutch.engagement import speed_rpm
from optimizer.clutch.engine import holding
from optimizer.clutch.shoes import has_masses, linings_of, shoes_of
from optimizer.errors import InputError
from optimizer.model.job import Job
from optimizer.model.readings import Speed
from optimizer.model.running import TorqueCurve

#: a pull or a friction so many times what the job tells is a slip of the hand
FAR = 2.5
#: relative uncertainty of pull over load before a touch was seen: masses, radii, arms and the level
#: of the loads (an assumption)
PULL_SD = 0.05
#: least uncertainty in rpm that a reading is taken with where both pull and friction are learned
#: from it
LEAST_SD_RPM = 1.0
#: times a reading is linearised anew, and the step of its slopes
ROUNDS, STEP = 4, 1e-3


@dataclass(frozen=True)
class Seen:
    """A job as its shoes were seen to run, `pull` times as hard as masses and radii tell.

    `pull_sd` is the relative uncertainty of pull over load.
    """

    job: Job
    pull: float
    pull_sd: float


def seen(job: Job, speed: Speed, curve: TorqueCurve | None) -> Seen | None:
    """Return the job with masses and frictions as the speeds tell; None where it has no masses.

    All masses, and all frictions, are taken in proportion. A touch tells the pull outright. A
    hold is a Gaussian observation of both, on what the job says and doubts of the friction.

    Raises
    ------
    InputError
        where speeds and job are so far apart that one of them is a slip, and for a hold without
        drum, friction or an engine.
    """
    if not has_masses(job):
        return None
    pull, friction = 1.0, 1.0
    cover = np.diag([PULL_SD**2, 0.0])
    if speed.rpm is not None:
        computed = speed_rpm(shoes_of(job).contact_pull_kgm, np.array(speed.loads_n)).mean()
        pull = float((computed / speed.rpm) ** 2)
        if not 1 / FAR < pull < FAR:
            said = f"Expected about {computed:.0f} rpm by masses and radii of the shoes, got "
            raise _slip(job, f"{said}{speed.rpm:.0f} rpm.", "the shoes' mass, radius and arms")
        cover[0, 0] = (2 * speed.sd_rpm / speed.rpm) ** 2
    if speed.hold_rpm is not None:
        pull, friction, cover = _from_hold(job, speed, curve, pull, cover)
    # what was seen holds the springs' own mass already
    shoes = tuple(
        replace(
            s,
            mass_g=None if s.mass_g is None else s.mass_g * pull,
            stack_radius_mm=None,
            friction=None if s.friction is None else min(s.friction * friction, 1.0),
            friction_sd=s.friction_sd
            if speed.hold_rpm is None or s.friction is None
            else float(np.sqrt(cover[1, 1])) * s.friction,
        )
        for s in job.shoes
    )
    return Seen(replace(job, shoes=shoes), pull, float(np.sqrt(cover[0, 0])))


def _from_hold(
    job: Job, speed: Speed, curve: TorqueCurve | None, pull: float, cover: np.ndarray
) -> tuple[float, float, np.ndarray]:
    """Learn pull and friction, as factors, and their covariance, from a speed that held."""
    linings = linings_of(job)
    if linings is None or curve is None or speed.hold_rpm is None:
        raise _slip(
            job,
            "Expected [engine] torque_file, and drum_radius and friction under [clutch], with a "
            "speed at which the clutch holds full throttle, found none.",
            "the job",
        )
    load, own = np.array(speed.loads_n), shoes_of(job).contact_pull_kgm
    relative = float((linings.friction_sd / linings.friction).mean())
    before = np.array([pull, 1.0])
    cover = cover + np.diag([0.0, relative**2])

    def holds(at: np.ndarray) -> float:
        gripped = replace(linings, friction=linings.friction * at[1])
        rpm = holding(own * at[0], gripped, load, curve).rpm
        if rpm is None:
            said = f"Expected a clutch that holds full throttle at {speed.hold_rpm:.0f} rpm, but "
            raise _slip(job, f"{said}by the job it never does.", "friction and the torque curve")
        return rpm

    variance = max(speed.sd_rpm, LEAST_SD_RPM) ** 2
    at = before
    for _ in range(ROUNDS):
        here = holds(at)
        slope = np.array([(holds(at + STEP * one) - here) / STEP for one in np.eye(2)])
        gain = cover @ slope / (slope @ cover @ slope + variance)
        at = before + gain * (speed.hold_rpm - here - slope @ (before - at))
        if not (at > 1 / FAR).all() or not (at < FAR).all():
            said = f"Expected about {holds(before):.0f} rpm as the speed that holds, got "
            raise _slip(job, f"{said}{speed.hold_rpm:.0f} rpm.", "friction, its friction_sd")
    return float(at[0]), float(at[1]), cover - np.outer(gain, slope @ cover)


def _slip(job: Job, said: str, what: str) -> InputError:
    return InputError(
        said,
        f"{job.path.name}, [clutch]",
        f"Check the speed, {what}, and that the loads are of the stacks that ran; --fresh "
        "leaves the speed out.",
    )
