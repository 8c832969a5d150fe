"""What a plan is made of: stock going in, doses and picks coming out. Ids are opaque here."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from service.bank.doses import BatchQuality


@dataclass(frozen=True)
class Cell:
    """Straws of one batch in one goblet; `address` is the goblet's plate, unique in the bank."""

    batch_id: Hashable
    goblet_id: Hashable
    canister_id: Hashable
    straws: int
    address: str


@dataclass(frozen=True)
class BatchFacts:
    """What the plan must know of a batch; `thaw` is compared only, None where it is not known."""

    batch_id: Hashable
    code: str
    collected_on: date | None
    quality: BatchQuality
    thaw: Hashable | None


@dataclass(frozen=True)
class DosePlan:
    """One dose: straws by batch, and the million progressively motile sperm in it if known."""

    straws: tuple[tuple[Hashable, int], ...]
    progressive_million: Fraction | None

    @property
    def mixed(self) -> bool:
        """Is it of more than one batch?"""
        return len(self.straws) > 1


@dataclass(frozen=True)
class Plan:
    """What to take, in walk order, and why just this.

    `picks` are (cell, straws to take of it), canister by canister. `fewest_lifts_proven` and
    `oldest_proven` are False where the search was cut short.
    """

    doses: tuple[DosePlan, ...]
    picks: tuple[tuple[Cell, int], ...]
    canister_lifts: int
    straws: int
    progressive_million: Fraction | None
    why: str
    warnings: tuple[str, ...]
    fewest_lifts_proven: bool = True
    oldest_proven: bool = True
