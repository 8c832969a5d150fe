"""Straws that were not frozen here: old ones without labels, and some that somebody sent."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from seed_data.chronicle import Chronicle, Moment, Step
from service.kernel.acts import Act
from service.transfers.receipts import Put, Receipt, receive
from service.transfers.receipts_rules import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class CameIn:
    """Straws came in; `places` are straws by address, and what is None nobody knows.

    `filled` is a straw: mL, million/mL.
    """

    batch: str
    stallion: str
    days_ago: int
    kind: Kind
    places: Mapping[str, int]
    marks_as_read: str | None = None
    came_from: str | None = None
    collected_days_ago: int | None = None
    collected_where: str | None = None
    approval_number: str | None = None
    filled: tuple[str, int] | None = None
    post_thaw_percent: int | None = None
    thaw: tuple[tuple[str, str], ...] = ()
    straw_colour: str | None = None
    hold_reason: str | None = None
    coded: bool = False
    note: str | None = None
    wall: str = "15:10"
    by: str = "tilda"

    @property
    def straws(self) -> int:
        """All of them."""
        return sum(self.places.values())

    def steps(self) -> Iterator[Step]:
        """One act."""
        yield Step(Moment(self.days_ago, self.wall), self.by, self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        done = receive(chronicle.db, act, self._receipt(chronicle))
        chronicle.batches[self.batch] = done.batch.id

    def _receipt(self, chronicle: Chronicle) -> Receipt:
        volume_ml, concentration = self.filled or (None, None)
        known = self.post_thaw_percent
        collected = self.collected_days_ago
        return Receipt(
            kind=self.kind,
            stallion_id=chronicle.stallions[self.stallion],
            straws=self.straws,
            placements=[
                Put(goblet_id=chronicle.goblets[address], straws=straws)
                for address, straws in self.places.items()
            ],
            coded=self.coded,
            came_from=self.came_from,
            marks_as_read=self.marks_as_read,
            collected_on=None if collected is None else chronicle.today - timedelta(days=collected),
            collected_where=self.collected_where,
            approval_number=self.approval_number,
            straw_volume_ml=None if volume_ml is None else Decimal(volume_ml),
            straw_concentration_million_per_ml=None
            if concentration is None
            else Decimal(concentration),
            post_thaw_percent=None if known is None else Decimal(known),
            thaw=[{"water_c": water_c, "seconds": seconds} for water_c, seconds in self.thaw]
            or None,
            straw_colour=self.straw_colour,
            hold_reason=self.hold_reason,
            note=self.note,
        )


BROUGHT: tuple[CameIn, ...] = (
    # Fewer than a dose of his, and nobody knows more of them than stands on the straws.
    CameIn(
        batch="gannet of old",
        stallion="gannet",
        days_ago=2585,
        kind="opening",
        places={"KESTREL-4-U1": 5},
        marks_as_read="GANNET 3 II",
        note="Found at the bottom when the book was begun.",
    ),
    # Kept apart until their papers are complete.
    CameIn(
        batch="pewter from afar",
        stallion="pewter",
        days_ago=9,
        kind="received",
        places={"WREN-2-L1": 10},
        marks_as_read="PA 220411",
        came_from="Oxbow Water Stud",
        collected_days_ago=420,
        collected_where="Oxbow Water Stud",
        approval_number="ZZ-OX-07",
        filled=("0.5", 400),
        post_thaw_percent=44,
        thaw=(("38", "40"),),
        straw_colour="pink",
        hold_reason="The test results of his stay at Oxbow Water are not here yet.",
        coded=True,
    ),
)
