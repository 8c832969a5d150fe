"""What travels wherever straws are taken: picks in, exchanged twins out."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from pydantic import BaseModel, Field

from service.edge.fields import Code, Identifier, Input, PositiveCount
from service.ledger.picking import Pick
from service.ledger.twins import Exchange


class PickIn(Input):
    """So many straws of a batch out of a goblet; codes that were scanned there are certain."""

    goblet_id: Identifier
    batch_id: Identifier
    straws: PositiveCount
    seen_straw_codes: Annotated[list[Code], Field(max_length=1000, default_factory=list)]

    def pick(self) -> Pick:
        """As the ledger wants it."""
        return Pick(self.goblet_id, self.batch_id, self.straws, tuple(self.seen_straw_codes))


class OwnedOut(BaseModel):
    """How many of some straws belong to somebody; the others are common stock."""

    owner: str
    straws: int


def owned_out(owned: Mapping[str, int]) -> list[OwnedOut]:
    """Owners as they are read, the largest share first."""
    shares = sorted(owned.items(), key=lambda share: (-share[1], share[0]))
    return [OwnedOut(owner=owner, straws=straws) for owner, straws in shares]


class ExchangedOut(BaseModel):
    """Two twins that changed places in the book: `in` is in store again, `out` went instead."""

    in_: Annotated[str, Field(alias="in")]
    out: str

    model_config = {"populate_by_name": True}


def exchanged_out(exchanged: Sequence[Exchange]) -> list[ExchangedOut]:
    """Exchanges as they are read."""
    return [ExchangedOut(in_=one.in_, out=one.out) for one in exchanged]
