"""Stock, book, freezes and withdrawals as rows for a spreadsheet.

`stock` has all that an import reads: a bank whose goblets have the same addresses takes the file
and is stocked as this one is, with the same codes.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Any, NamedTuple
from uuid import UUID

from sqlmodel import Session

from service.bank.store import Batch, Hold, holds_on
from service.spreadsheet import columns, store
from service.spreadsheet.thaws import written_thaw
from service.spreadsheet.writing import Cell

STOCK = tuple(column.name for column in columns.COLUMNS)

#: Codes in one cell; more of them go on in a row of their own, so that a cell stays short.
_CODES_A_CELL = 200


class _Together(NamedTuple):
    """Straws that stand in one row: of one batch, in one goblet, of one owner, all coded or not."""

    address: str
    batch_id: UUID
    owner: str | None
    coded: bool


def stock(db: Session, today: date) -> Iterator[Sequence[Cell]]:
    """Straws in store, by goblet, batch and owner."""
    held = holds_on(db, today)
    rows = store.stored_straws(db)
    for key, group in groupby(
        rows, key=lambda row: _Together(row[0], row[1].id, row.owner, row.coded)
    ):
        some = list(group)
        batch, stallion, ueln = some[0][1], some[0][2], some[0].ueln
        codes = [row.code for row in some]
        parts = batched_codes(codes) if key.coded else [codes]
        for part in parts:
            said = _stock_row(key, batch, stallion, ueln, held.get(batch.id))
            said["straws"] = len(part)
            said["straw_codes"] = " ".join(part) if key.coded else None
            yield [said[name] for name in STOCK]


def batched_codes(codes: Sequence[str]) -> list[Sequence[str]]:
    """Codes by the cell."""
    return [codes[at : at + _CODES_A_CELL] for at in range(0, len(codes), _CODES_A_CELL)]


def _stock_row(
    key: _Together, batch: Batch, stallion: str, ueln: str | None, hold: Hold | None
) -> dict[str, Any]:
    return {
        "stallion": stallion,
        "ueln": ueln,
        "place": key.address,
        "marks_as_read": batch.marks_as_read,
        "collected_on": batch.collected_on,
        "collected_where": batch.collected_where,
        "approval_number": batch.approval_number,
        "extender": batch.extender,
        "straw_volume_ml": batch.straw_volume_ml,
        "concentration_million_per_ml": batch.straw_concentration_million_per_ml,
        "post_thaw_percent": batch.post_thaw_percent,
        "post_thaw_minutes": batch.post_thaw_minutes,
        "straw_colour": batch.straw_colour,
        "thaw": None if batch.thaw is None else written_thaw(batch.thaw),
        "from": batch.received_from,
        "owner": key.owner,
        "note": batch.note,
        "batch_code": batch.code,
        "hold_reason": None if hold is None else hold.reason,
        "hold_until": None if hold is None else hold.until,
    }


LEDGER = (
    *("entry", "id", "kind", "by", "occurred_at", "recorded_at", "reason", "withdrawal_id"),
    *("stallion", "batch_code", "straw_code", "from", "to", "chosen_by_the_book", "hash"),
)


def ledger(db: Session) -> Iterator[Sequence[Cell]]:
    """The book: a row for each straw of each entry, one for an entry without straws."""
    at = store.addresses(db)
    for entry, straw, batch, stallion, was, was_in, goes, goes_in, provisional in store.entries(db):
        yield (
            *(entry.seq, str(entry.id), entry.kind, entry.by_name),
            *(entry.occurred_at, entry.recorded_at, entry.reason),
            None if entry.withdrawal_id is None else str(entry.withdrawal_id),
            *(stallion, batch, straw),
            *(at.get(was_in, was), at.get(goes_in, goes), provisional, entry.hash),
        )


FREEZES = (
    *("batch_code", "stallion", "ueln", "frozen_at", "by", "collected_at", "collected_where"),
    *("approval_number", "collection_volume_ml", "collection_concentration_million_per_ml"),
    *("collection_progressive_motility_percent", "recovery_percent", "extender"),
    *("straw_volume_ml", "straw_concentration_million_per_ml", "straw_colour"),
    *("straws_stored", "straws_spoiled", "straws_tested"),
    *("post_thaw_percent", "post_thaw_minutes", "thaw", "note"),
)


def freezes(db: Session) -> Iterator[Sequence[Cell]]:
    """Freezes that stand; post-thaw is what counts now."""
    for entry, batch, stallion, ueln in store.freezes(db):
        facts = store.facts_of(entry)
        yield (
            *(batch.code, stallion, ueln, entry.occurred_at, entry.by_name, batch.collected_at),
            *(batch.collected_where, batch.approval_number, batch.collection_volume_ml),
            batch.collection_concentration_million_per_ml,
            batch.collection_progressive_motility_percent,
            *(batch.recovery_percent, batch.extender, batch.straw_volume_ml),
            *(batch.straw_concentration_million_per_ml, batch.straw_colour),
            *(facts.get("stored"), facts.get("spoiled"), facts.get("tested")),
            *(batch.post_thaw_percent, batch.post_thaw_minutes),
            None if batch.thaw is None else written_thaw(batch.thaw),
            batch.note,
        )


WITHDRAWALS = (
    *("id", "occurred_at", "by", "stallion", "stallion_ueln", "mare", "mare_ueln", "doses"),
    *("straws_lifted", "taken_by", "owner", "override_reason", "release_reserve"),
    *("inseminated_at", "straws_used", "straws_thawed_unused", "method", "insemination_note"),
    *("checked_on", "pregnant"),
)


def withdrawals(db: Session) -> Iterator[Sequence[Cell]]:
    """Withdrawals, a row for each insemination out of them and one for those without."""
    for withdrawal, stallion, ueln, mare, mare_ueln, lifted, bred, outcome in store.withdrawals(db):
        yield (
            *(str(withdrawal.id), withdrawal.occurred_at, withdrawal.by_name, stallion, ueln),
            *(mare, mare_ueln, withdrawal.doses, int(lifted), withdrawal.taken_by),
            *(withdrawal.owner, withdrawal.override_reason, withdrawal.release_reserve),
            *_insemination(bred),
            *((None, None) if outcome is None else (outcome.checked_on, outcome.pregnant)),
        )


def _insemination(bred: Any) -> tuple[Cell, ...]:
    if bred is None:
        return (None,) * 5
    return (
        *(bred.inseminated_at, bred.straws_used, bred.straws_thawed_unused),
        *(bred.method, bred.note),
    )


def example() -> list[Sequence[Cell]]:
    """Two rows for the template: what may be known, and the least that must be."""
    known: dict[str, Cell] = {
        "stallion": "Example Stallion",
        "place": "N1-1-1U",
        "straws": 24,
        "marks_as_read": "EXAMPLE 12.03.14",
        "collected_on": date(2014, 3, 12),
        "straw_volume_ml": Decimal("0.5"),
        "concentration_million_per_ml": 200,
        "post_thaw_percent": 40,
        "straw_colour": "green",
        "thaw": "37 C 30 s",
    }
    least: dict[str, Cell] = {"stallion": "Example Stallion", "place": "N1-1-1L", "straws": 10}
    return [[row.get(name) for name in TEMPLATE] for row in (known, least)]


#: Codes of this book stand on nobody's old list.
TEMPLATE = tuple(name for name in STOCK if name not in ("batch_code", "straw_codes"))
