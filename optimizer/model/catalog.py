"""A catalog as values: sizes that are sold, what may be delivered, and in which packs."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, gcd
from pathlib import Path


@dataclass(frozen=True)
class Band:
    """Lower and upper deviation from nominal, both inclusive."""

    lower: float = 0.0
    upper: float = 0.0


@dataclass(frozen=True)
class SizeTolerances:
    """Deviations of a size: lengths in mm, the load at 0.75 h as a share of nominal."""

    od: Band
    id: Band
    thickness: Band
    height: Band
    load: Band


@dataclass(frozen=True)
class Supplier:
    """Who sells: what one delivery costs, and the least value of goods that is sent."""

    name: str = ""
    delivery: float = 0.0
    minimum: float = 0.0


#: the supplier of a catalog that names none
NOBODY = Supplier()


@dataclass(frozen=True)
class Offer:
    """One row of a catalog: packs of `pack` discs.

    `price` is for a pack where `from_packs` or more are bought, None where the catalog gives
    none; `stock_packs` and `lead_days` are None where nothing is said.
    """

    name: str
    pack: int = 1
    price: float | None = None
    from_packs: int = 1
    stock_packs: int | None = None
    lead_days: float | None = None
    supplier: Supplier = NOBODY

    def packs_for(self, discs: int) -> int | None:
        """Packs that hold so many discs and may be bought at this price; None beyond the stock."""
        packs = max(ceil(discs / self.pack), self.from_packs) if discs > 0 else 0
        return None if self.stock_packs is not None and packs > self.stock_packs else packs

    def cost_of(self, packs: int) -> float | None:
        """What so many packs cost, sent; None where no price is told."""
        if self.price is None:
            return None
        return packs * self.price + self.supplier.delivery * (packs > 0)


#: how a size is sold where nothing is said
ONE_BY_ONE = (Offer(""),)


@dataclass(frozen=True)
class Size:
    """One size: nominal lengths in mm, what may be delivered, and how it is sold.

    All its offers are of the same disc; packs bought together from one supplier count as of one
    lot, and an order of it comes from one supplier.
    """

    name: str
    od_mm: float
    id_mm: float
    thickness_mm: float
    cone_height_mm: float
    modulus_mpa: float
    limits: SizeTolerances
    standard: str = ""
    material: str = ""
    currency: str = ""
    note: str = ""
    offers: tuple[Offer, ...] = ONE_BY_ONE

    @property
    def steepness(self) -> float:
        """Cone height over thickness."""
        return self.cone_height_mm / self.thickness_mm

    @property
    def shape(self) -> tuple[float, ...]:
        """Nominal lengths in mm: the same disc may be sold to several limits."""
        return self.od_mm, self.id_mm, self.thickness_mm, self.cone_height_mm

    @property
    def step(self) -> int:
        """Discs by which quantities of it can differ."""
        return gcd(*(offer.pack for offer in self.offers))

    @property
    def priced(self) -> bool:
        """Whether every offer has a price."""
        return all(offer.price is not None for offer in self.offers)

    @property
    def each(self) -> float:
        """Least price of a disc; 1 where there are no prices."""
        return min((offer.price or 0.0) / offer.pack for offer in self.offers) if self.priced else 1


@dataclass(frozen=True)
class Catalog:
    """Sizes in the order of the file, and what looked odd in it."""

    path: Path
    sizes: tuple[Size, ...]
    warnings: tuple[str, ...] = ()
