"""An engine's torque against speed at full throttle, as it was measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class TorqueCurve:
    """Speeds in rpm, rising, and the torque in N m at each."""

    source: str
    rpm: tuple[float, ...]
    torque_nm: tuple[float, ...]
