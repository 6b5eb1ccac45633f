"""Clutches and sizes for the tests of orders; all invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from optimizer.mechanics.datum import Installed, Seating
from optimizer.mechanics.disc import Discs
from optimizer.mechanics.law import en16984
from optimizer.mechanics.like_stacks import nominal
from optimizer.mechanics.packet import Index, LoadModel, packets
from optimizer.mechanics.stack import deflection, free_height
from optimizer.model.catalog import Catalog, Offer, Size
from optimizer.model.job import Gauge, Instrument, StackRules
from optimizer.model.pattern import Pattern
from optimizer.orders.catalog_reader import read_catalog
from optimizer.orders.clutch import BenchWork, OrderedClutch
from optimizer.orders.manufacture import Manufacture
from optimizer.orders.nominal import Candidate, candidates
from optimizer.orders.onhand import none_on_hand
from optimizer.orders.study import Study

KART = Pattern(7, 1)
SUPPLIER = Path(__file__).parents[2] / "catalogs" / "invented_supplier.csv"


def supplier() -> Catalog:
    return read_catalog(SUPPLIER)


def size(of: str, pack: int | None = None, **changes: object) -> Size:
    """A size of the invented catalog, in its first pack or in packs of `pack` at that price."""
    found = next(s for s in supplier().sizes if s.name == of)
    first = found.offers[0]
    if pack is not None:
        first = Offer(of, pack, first.price * pack / first.pack)
    return replace(found, **({"offers": (first,)} | changes))


def clutch(sets: int = 2, tolerance_n: float = 22.0, **changes: object) -> OrderedClutch:
    """A three-shoe clutch: 890 N after 1.5 mm, zeroed at 27 N."""
    return replace(
        OrderedClutch(
            name="kart",
            sets=sets,
            shoes=3,
            target_n=890.0,
            load_tolerance_n=tolerance_n,
            spread_n=9.0,
            resolution_n=0.45,
            travel_mm=1.5,
            worn_travel_mm=1.7,
            datum=Seating(27.0),
            model=LoadModel(en16984),
            poisson=0.3,
            rules=StackRules(packet_sizes=(1, 2), free_height_mm=(10.0, 20.0)),
            instrument=Instrument(),
            gauge=Gauge(4.4, 0.9),
            scatter=0.02,
            work=BenchWork(0),
        ),
        **changes,
    )


def candidate(of: Size, pattern: Pattern, to: OrderedClutch, making: Manufacture) -> Candidate:
    return next(c for c in candidates((of,), to, making) if c.pattern == pattern)


def stack_of(candidate: Candidate) -> tuple[Discs, Index]:
    """The nominal disc of a candidate, and one stack (1, P, 3) of it."""
    members = np.array(
        [[0 if seat < k else -1 for seat in range(3)] for k in candidate.pattern.sizes]
    )
    return nominal((candidate.size,)), members[None]


def study(
    sets: int = 2,
    name: str = "V18-100",
    pattern: Pattern = KART,
    tolerance_n: float = 22.0,
    pack: int = 5,
    flat_mm: float = 0.0,
) -> Study:
    making, to = Manufacture(flat_mm=flat_mm), clutch(sets, tolerance_n)
    return Study(to, candidate(size(name, pack=pack), pattern, to, making), making, none_on_hand())


def surely_matched(of: Study) -> Study:
    """The same study of a builder whom any spread will do."""
    return replace(of, clutch=replace(of.clutch, spread_n=500.0))


def installed(spare_mm: float, shims_mm: tuple[float, ...]) -> Study:
    """Four sets in rooms `spare_mm` longer than a nominal stack at the target wants."""
    making, seated = Manufacture(), clutch(4)
    sold = size("V18-100", pack=10)
    p = packets(*stack_of(candidate(sold, KART, seated, making)), seated.model)
    height = float((free_height(p) - deflection(p, seated.target_n))[0])
    datum = Installed(height + seated.travel_mm + spare_mm)
    to = replace(seated, datum=datum, shims_mm=shims_mm)
    return Study(to, candidate(sold, KART, to, making), making, none_on_hand())
