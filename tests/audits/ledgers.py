"""Small true ledgers and the reports of stock-takes on them, made by the service's own rules."""

import random
from collections import Counter
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from service.audits.report_form import FORM, digest
from service.kernel import chain, clock
from service.ledger import rules
from service.ledger.book import canonical

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
STOCK_TAKE = str(UUID(int=777))
PEOPLE = [
    {"id": str(UUID(int=100 + number)), "name": name}
    for number, name in enumerate(("Orla Finnerty", "Bram Okafor", "Ines Valcourt"))
]
COUNTER, PROPOSER, APPROVER = PEOPLE


def at(minutes: int) -> str:
    return clock.as_text(START + timedelta(minutes=minutes))


@dataclass
class Book:
    """A ledger that is written: entries as an extract has them, and where each straw is."""

    entries: list[dict[str, Any]] = field(default_factory=list)
    places: dict[str, tuple[str, str | None]] = field(default_factory=dict)
    batch_of: dict[str, str] = field(default_factory=dict)
    chance: random.Random = field(default_factory=lambda: random.Random(1))

    @property
    def point(self) -> dict[str, Any]:
        """Where the ledger stands."""
        last = self.entries[-1]
        return {"seq": last["seq"], "head": last["hash"], "at": last["recorded_at"]}

    def book(
        self,
        kind: str,
        moves: list[tuple[str, str, str | None]] = (),  # type: ignore[assignment]
        *,
        minute: int | None = None,
        by: dict[str, str] = COUNTER,
        batch_id: str | None = None,
        reason: str | None = None,
        facts: dict[str, Any] | None = None,
    ) -> int:
        """One entry: straws by code, each with the state and goblet it comes to."""
        seq = len(self.entries) + 1
        lines = []
        for code, state, goblet in moves:
            was, left = self.places.get(code, ("made", None))
            lines.append(
                {
                    "straw_code": code,
                    "from_state": was,
                    "from_goblet_id": left,
                    "to_state": state,
                    "to_goblet_id": goblet,
                    "withdrawal_id": None,
                    "provisional": False,
                }
            )
            self.places[code] = (state, goblet)
            if was == "made":
                assert batch_id
                self.batch_of[code] = batch_id
        self.entries.append(
            hashed(
                {
                    "seq": seq,
                    "id": str(UUID(int=self.chance.getrandbits(128))),
                    "kind": kind,
                    "by_id": by["id"],
                    "by_name": by["name"],
                    "occurred_at": at(seq if minute is None else minute),
                    "recorded_at": at(seq),
                    "reason": reason,
                    "withdrawal_id": None,
                    "batch_id": batch_id,
                    "facts": canonical(facts or {}),
                    "lines": lines,
                },
                self.entries[-1]["hash"] if self.entries else chain.GENESIS,
            )
        )
        return seq

    def stands(self, goblet: str) -> Counter[str]:
        """By batch: straws that stand in a goblet now."""
        return Counter(
            self.batch_of[code]
            for code, place in self.places.items()
            if place == ("stored", goblet)
        )


def service_text(entry: dict[str, Any]) -> str:
    """An entry as the service hashes it."""
    head = rules.entry_text(
        seq=entry["seq"],
        id_hex=UUID(entry["id"]).hex,
        kind=entry["kind"],
        by_id_hex=UUID(entry["by_id"]).hex,
        by_name=entry["by_name"],
        occurred_at=entry["occurred_at"],
        recorded_at=entry["recorded_at"],
        reason=entry["reason"],
        withdrawal_hex=_hex(entry["withdrawal_id"]),
        batch_hex=_hex(entry["batch_id"]),
        facts=entry["facts"],
    )
    return "\n".join([head, *(rules.line_text(_fields(line)) for line in entry["lines"])])


def _fields(line: dict[str, Any]) -> rules.LineFields:
    return (
        *(line["straw_code"], line["from_state"], _hex(line["from_goblet_id"]), line["to_state"]),
        *(_hex(line["to_goblet_id"]), _hex(line["withdrawal_id"]), line["provisional"]),
    )


def _hex(id: str | None) -> str | None:
    return None if id is None else UUID(id).hex


def hashed(entry: dict[str, Any], previous: str) -> dict[str, Any]:
    """The entry with the hash that follows another."""
    return {**entry, "hash": chain.link(previous, service_text(entry))}


def written_anew(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """All entries with fresh numbers and fresh hashes."""
    fresh: list[dict[str, Any]] = []
    for entry in entries:
        previous = fresh[-1]["hash"] if fresh else chain.GENESIS
        fresh.append(hashed({**entry, "seq": len(fresh) + 1}, previous))
    return fresh


GOBLETS = [str(UUID(int=500 + number)) for number in range(4)]
BATCHES = [(f"B{number}00000{number}X", str(UUID(int=900 + number))) for number in range(3)]
CODE_OF = {id: code for code, id in BATCHES}
ADJUSTMENT = str(UUID(int=888))


def bank(straws: int = 12) -> Book:
    """Three batches in four goblets, moved about a little."""
    book = Book()
    for number, (code, batch_id) in enumerate(BATCHES):
        codes = [f"S{number}{straw:06}X" for straw in range(straws)]
        moves = [(one, "stored", GOBLETS[number]) for one in codes]
        book.book("receive", moves, batch_id=batch_id, facts={"code": code})
    book.book("move", [(f"S0{straw:06}X", "stored", GOBLETS[3]) for straw in (1, 2)])
    book.book("discard", [("S1000003X", "discarded", None)], reason="the plug had come off")
    return book


def stock_take(book: Book) -> dict[str, Any]:
    """A stock-take from its opening to the entry that records its report; returns the report.

    Goblet 0 lacks a straw, which is adjusted. Of goblet 1 a straw is taken before its count, booked
    later; of goblet 2 one is taken after its count.
    """
    freeze = book.point
    book.book("stock-take", facts={"stock_take_id": STOCK_TAKE})
    opened = len(book.entries)
    rows = [row(book, GOBLETS[0], opened + 1, less={BATCHES[0][0]: 1})]
    rows.append(row(book, GOBLETS[3], opened + 2))
    taken = [("S1000004X", "discarded", None)]
    book.book("discard", taken, minute=opened + 3, by=PROPOSER)
    rows.append(row(book, GOBLETS[1], opened + 4))
    rows.append(row(book, GOBLETS[2], opened + 5))
    book.book("discard", [("S2000001X", "discarded", None)], minute=opened + 6)
    compared = book.point
    lost = "S0000005X"
    seq = book.book(
        "adjust",
        [(lost, "missing", None)],
        minute=opened + 9,
        by=APPROVER,
        batch_id=BATCHES[0][1],
        reason="nobody knows",
        facts={
            "stock_take_id": STOCK_TAKE,
            "adjustment_id": ADJUSTMENT,
            "reason_code": "unexplained",
            "proposed_by": PROPOSER["name"],
        },
    )
    said = report(freeze, compared, book.point, rows, seq, lost)
    facts = {"stock_take_id": STOCK_TAKE, "report_sha256": said["sha256"]}
    book.book("stock-take", by=APPROVER, facts=facts)
    return said


def row(book: Book, goblet: str, minute: int, less: dict[str, int] | None = None) -> dict[str, Any]:
    """A goblet that is counted now."""
    expected = {CODE_OF[id]: straws for id, straws in book.stands(goblet).items()}
    counted = {code: straws - (less or {}).get(code, 0) for code, straws in expected.items()}
    return {
        "goblet_id": goblet,
        "address": f"NORTH-1-L{GOBLETS.index(goblet) + 1}",
        "tank": "North",
        "opened_at": at(minute),
        "counted_at": at(minute),
        "cut_off_seq": 5,
        "cut_off_at": at(minute),
        "counted_by": COUNTER,
        "method": "by number",
        "round": 1,
        "not_blind": False,
        "disturbed": False,
        "expected": expected,
        "counted": counted,
        "unreadable": 0,
        "foreign": [],
        "counts_before": [],
    }


def report(
    freeze: dict[str, Any],
    compared: dict[str, Any],
    closing: dict[str, Any],
    rows: list[dict[str, Any]],
    adjusted_by: int,
    lost: str,
) -> dict[str, Any]:
    """The report of that stock-take."""
    code, address = BATCHES[0][0], rows[0]["address"]
    expected, counted = rows[0]["expected"][code], rows[0]["counted"][code]
    said = {
        "form": FORM,
        "stock_take_id": STOCK_TAKE,
        "station": {"name": "Fellgate Stud", "time_zone": "Europe/Dublin"},
        "scope": {"words": "All goblets of tank North.", "goblets": len(rows)},
        "method": "By number, one person a goblet, without knowing what the book expects.",
        "blind": True,
        "opened_by": PROPOSER,
        "opened_at": freeze["at"],
        "closed_by": APPROVER,
        "closed_at": closing["at"],
        "closing_note": "",
        "freeze": freeze,
        "compared": compared,
        "closing": closing,
        "sample": None,
        "batches": [
            {"code": code, "batch_id": id, "stallion": name}
            for (code, id), name in zip(BATCHES, ("Lanternfield", "Sorrel", "Ashby"), strict=True)
        ],
        "goblets": rows,
        "differences": [
            {
                "goblet_id": rows[0]["goblet_id"],
                "address": address,
                "batch_code": code,
                "expected": expected,
                "counted": counted,
                "difference": counted - expected,
                "class": "missing",
                "codes": [],
                "foreign": [],
                "stories": ["Entry 4 moved two straws of it: one more may have gone along."],
                "note": "",
                "end": "adjusted",
                "end_words": "Booked as missing.",
                "adjustment_ids": [ADJUSTMENT],
            }
        ],
        "adjustments": [
            {
                "id": ADJUSTMENT,
                "goblet_id": rows[0]["goblet_id"],
                "address": address,
                "other_goblet_id": None,
                "batch_code": code,
                "difference": counted - expected,
                "reason_code": "unexplained",
                "note": "nobody knows",
                "proposed_by": PROPOSER,
                "proposed_at": at(30),
                "approved_by": APPROVER,
                "approved_at": at(31),
                "entry_seq": adjusted_by,
                "straw_codes": [lost],
            }
        ],
        "settled": [],
        "signatures": [],
        "says": ["All 4 goblets of the scope were counted, and 1 of them is wrong."],
        "says_not": ["It says nothing about goblets outside of its scope."],
    }
    return signed(said)


def signed(said: dict[str, Any]) -> dict[str, Any]:
    """The report with its own hash, made anew."""
    said = deepcopy(said)
    return {**said, "sha256": digest(said)}
