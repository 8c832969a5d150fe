"""Straws that left for another place, and the seal that an official vet put on in its stead."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from seed_data.chronicle import Chronicle, Happening, Moment, Step
from service.kernel.acts import Act
from service.ledger.picking import Pick
from service.transfers import dispatches
from service.transfers.dispatches import Going

#: The shipper was filled on the evening before.
_FILLED_BEFORE = timedelta(hours=15)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """Straws went off in a dry shipper: (batch, address) and how many of each."""

    key: str
    days_ago: int
    what: tuple[tuple[str, str, int], ...]
    to: str
    to_approval_number: str | None
    container: str
    carrier: str
    seal_number: str
    holding_days_rated: int
    note: str | None = None
    wall: str = "09:40"
    by: str = "tilda"

    def steps(self) -> Iterator[Step]:
        """One act."""
        yield Step(Moment(self.days_ago, self.wall), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        going = Going(
            to=self.to,
            to_approval_number=self.to_approval_number,
            container=self.container,
            carrier=self.carrier,
            seal_number=self.seal_number,
            holding_days_rated=Decimal(self.holding_days_rated),
            filled_at=act.occurred_at - _FILLED_BEFORE,
            note=self.note,
        )
        picks = [
            Pick(chronicle.goblets[address], chronicle.batches[batch], straws)
            for batch, address, straws in self.what
        ]
        sent = dispatches.send(chronicle.db, act, going, picks=picks, codes=())
        chronicle.acts[self.key] = sent.dispatch.id


@dataclass(frozen=True, slots=True, kw_only=True)
class Resealed:
    """The container was opened on the way, and sealed anew."""

    dispatch: str
    days_ago: int
    number: str
    reason: str
    wall: str = "16:30"
    by: str = "vera"

    def steps(self) -> Iterator[Step]:
        """One act."""
        yield Step(Moment(self.days_ago, self.wall), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        dispatches.put_seal(
            chronicle.db,
            act,
            chronicle.acts[self.dispatch],
            number=self.number,
            applied_at=act.occurred_at,
            reason=self.reason,
        )


SENT: tuple[Happening, ...] = (
    Sent(
        key="to Pellow Mere",
        days_ago=118,
        what=(("pewter 3", "HERON-1-U1", 8), ("saltmarsh 4", "HERON-4-L1", 6)),
        to="Pellow Mere Equine Clinic",
        to_approval_number="DK-DEMO-0000",
        container="Dry shipper Puffin",
        carrier="Ferrant & Daughter, couriers",
        seal_number="QH 0412",
        holding_days_rated=12,
        note="Saltmarsh Cadence’s straws are for the laboratory there, not for mares.",
    ),
    Resealed(
        dispatch="to Pellow Mere",
        days_ago=117,
        number="OV 7731",
        reason="Opened and counted by the official vet at the port.",
    ),
)
