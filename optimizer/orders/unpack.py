"""What the buyer finds and believes when the packs are open: measured against true discs."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from optimizer.estimate.gauge import reading_variance
from optimizer.frozen import Rows, joined
from optimizer.mechanics.disc import Array, Discs
from optimizer.orders.lot import deliver, tool_sd, within_lot_sd
from optimizer.orders.study import Study


@dataclass(frozen=True)
class Unpacked(Rows):
    """Discs in the order of the stream, first those on hand: as believed and as they are."""

    believed: Discs
    true: Discs


@dataclass(frozen=True)
class DeliveryDraw:
    """One draw of a simulation: its number, the seed, and which lot of the order it is."""

    seed: int
    number: int
    lot: int = 0

    def rng(self, *purpose: int) -> np.random.Generator:
        """Return a generator of its own for each purpose, whatever ran before."""
        key = (self.number, self.lot, *purpose)
        return np.random.default_rng(np.random.SeedSequence(self.seed, spawn_key=key))


DELIVERING, MEASURING, GAUGING, HOLDING, DEALING, SCATTERING, BUILDING = range(7)


def unpack(study: Study, draw: DeliveryDraw, count: int) -> Unpacked:
    """Draw and measure `count` discs of the size of a study, those on hand before them.

    Notes
    -----
    Thickness and overall height are measured with the errors of the job's instrument and
    drawn towards the mean of the lot by their reliability, as for any bag. The stiffness
    is not known: every new disc is believed to be of factor 1 or, where discs on hand told
    something of their lot, which the new ones come from, of what they told.
    """
    size, clutch, making = study.candidate.size, study.clutch, study.making
    on_hand, lot = study.on_hand, study.on_hand.lot
    true, lot_factor = deliver(size, making, draw.rng(DELIVERING), count, lot, clutch.poisson)
    noise = draw.rng(MEASURING).standard_normal((count, 2))
    t_sd, h_sd = tool_sd(clutch.instrument)
    lot_sd = within_lot_sd(size, making)
    believed = replace(
        true,
        thickness_mm=_believed(true.thickness_mm, t_sd, noise[:, 0], lot_sd[0]),
        cone_height_mm=_believed(true.cone_height_mm, h_sd, noise[:, 1], lot_sd[1]),
        factor=np.full(count, 1.0 if lot is None else np.exp(lot.stiff)),
    )
    if not len(on_hand):
        return Unpacked(believed, true)
    held, truly = on_hand.discs, on_hand.true(draw.rng(HOLDING))
    if lot is not None:  # the discs on hand are as stiff as the lot they are of
        truly = replace(truly, factor=truly.factor * lot_factor / np.exp(lot.stiff))
    return Unpacked(joined([held, believed]), joined([truly, true]))


def _believed(true: Array, tool_sd: float, noise: Array, lot_sd: float) -> Array:
    measured = true + tool_sd * noise
    total = lot_sd**2 + tool_sd**2
    reliability = lot_sd**2 / total if total > 0 else 1.0
    believed: Array = measured.mean() + reliability * (measured - measured.mean())
    return believed


def gauge_sd(study: Study) -> float:
    """Relative sd with which one stack on the gauge tells the factor of its lot.

    Reading, travel stop and build scatter; the stack's own discs come on top.
    """
    candidate, clutch = study.candidate, study.clutch
    reading = np.sqrt(reading_variance(clutch.gauge, candidate.rate_n_per_mm))
    build = clutch.scatter / np.sqrt(candidate.pattern.discs)
    return float(np.hypot(reading / clutch.target_n, build))


def learned_factor(study: Study, unpacked: Unpacked, draw: DeliveryDraw) -> float:
    """Factor of the lot over what was believed, as one stack of its discs on the gauge tells it.

    The reading is weighed against what was assumed or known of the lot before
    (linear-Gaussian, in logarithms).
    """
    new, lot, making = len(study.on_hand), study.on_hand.lot, study.making
    discs = study.candidate.pattern.discs
    sd = gauge_sd(study)
    before = 0.0 if lot is None else lot.stiff
    prior = (making.modulus_sd if lot is None else lot.stiff_sd) ** 2
    stack = np.log(unpacked.true.factor[new : new + discs]).mean() - before
    reading = stack + sd * draw.rng(GAUGING).standard_normal()
    variance = sd**2 + making.disc_stiffness_sd**2 / discs
    return float(np.exp(reading * prior / (prior + variance)))
