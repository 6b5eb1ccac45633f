"""The load formulas once more, as they are printed, one disc and one number at a time.

Nothing here comes from the package: it is what the package is checked against.
"""

from dataclasses import dataclass
from math import log, pi

from scipy.optimize import brentq


@dataclass(frozen=True)
class Disc:
    od: float
    id: float
    t: float
    h: float
    w: float = 0.0
    e: float = 206_000.0
    nu: float = 0.3
    factor: float = 1.0


def en_formula(od, id_, t, h, s, e, nu):
    """EN 16984:2016: F(s) of one sharp disc."""
    d = od / id_
    k1 = (1 / pi) * ((d - 1) / d) ** 2 / ((d + 1) / (d - 1) - 2 / log(d))
    stiffness = 4 * e / (1 - nu**2) * t**4 / (k1 * od**2)
    return stiffness * (s / t) * ((h / t - s / t) * (h / t - s / (2 * t)) + 1)


def lever(d):
    return (d.od - d.id) / ((d.od - 2 * d.w) - (d.id + 2 * d.w))


class En16984:
    """r F_EN(h = r h, s = r s), deflections from each disc's own free height."""

    def free(self, d, n):
        return d.h

    def load(self, d, n, left):
        r = lever(d)
        s = d.h - left
        return d.factor * r * en_formula(d.od, d.id, d.t, r * d.h, r * s, d.e, d.nu)


class Thick:
    """The finite-thickness form of tests/data/README.md's study."""

    def _arms(self, d):
        beta = 2 * lever(d) * d.h / (d.od - d.id)
        outside, inside = d.od - d.t * beta, d.id + d.t * beta
        b = (outside - inside) / 2
        return outside, inside, b, 1 - 2 * d.w / b

    def _rise(self, x, g, turn):
        """Eta of g eta = x + turn eta^2 / 2, the root that is 0 with x."""
        return brentq(lambda eta: g * eta - x - turn * eta**2 / 2, 0, g / turn, xtol=1e-15)

    def free(self, d, n):
        _, _, b, g = self._arms(d)
        turn = d.t / b**2
        eta0 = self._rise(d.h, g, turn)
        return g * eta0 + (n - 2) * turn * eta0**2 / 2

    def load(self, d, n, left):
        outside, inside, b, g = self._arms(d)
        turn = d.t / b**2
        eta0 = self._rise(d.h, g, turn)
        eta = brentq(lambda y: g * y + (n - 2) * turn * y**2 / 2 - left, 0, 1.01 * eta0, xtol=1e-15)
        left_over = 1 - 6 * d.w**2 * eta0 * (1 / d.od + 1 / d.id) / (
            (d.od - d.id) * d.t * log(d.od / d.id)
        )
        plain = en_formula(outside, inside, d.t, eta0, eta0 - eta, d.e, d.nu)
        return d.factor * left_over * (1 - d.nu**2) * plain / (g + (n - 2) * turn * eta)


def packet_load(law, packet, s, scale=1.0):
    """Sum over the discs of a packet that are touched when its tallest has yielded by s."""
    n = len(packet)
    frees = [law.free(d, n) for d in packet]
    left = max(frees) - s
    return scale * sum(
        law.load(d, n, left) for d, free in zip(packet, frees, strict=True) if left < free
    )


def packet_deflection(law, packet, force, scale=1.0):
    tall = max(law.free(d, len(packet)) for d in packet)
    if force >= packet_load(law, packet, tall, scale):
        return tall
    return brentq(
        lambda s: packet_load(law, packet, s, scale) - force, 0, tall, xtol=1e-14, rtol=1e-14
    )


def stack_load(law, packets, deflection, scales):
    """The load under which the packets of a stack yield by `deflection` together."""
    pairs = list(zip(packets, scales, strict=True))
    top = max(packet_load(law, p, max(law.free(d, len(p)) for d in p), k) for p, k in pairs)
    return brentq(
        lambda f: sum(packet_deflection(law, p, f, k) for p, k in pairs) - deflection,
        0,
        top,
        xtol=1e-11,
        rtol=1e-14,
    )
