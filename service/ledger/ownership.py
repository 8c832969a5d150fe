"""Whose straws are whose: changed by an entry, and a part of the check.

A straw's owner stands in a table that no hash covers; the entries that set it say it too.
"""

import json
from collections.abc import Iterator

from sqlalchemy import Connection
from sqlalchemy import select as sa_select
from sqlmodel import col

from service.kernel.codes import grouped
from service.ledger.store import Entry, Line, Straw

#: Entries that may set an owner: receipts and changes for all their straws, exchanges for each.
_SETTING = (
    sa_select(col(Line.straw_code), col(Entry.facts))
    .join(Entry, col(Entry.seq) == col(Line.entry_seq))
    .where(
        col(Entry.kind).in_(("receive", "owner", "exchange")), col(Entry.facts).contains('"owner')
    )
    .order_by(col(Line.entry_seq))
)


def owners_astray(connection: Connection) -> Iterator[str]:
    """Straws that belong to somebody else than the book says."""
    said: dict[str, str | None] = {}
    for code, text in connection.execute(_SETTING):
        facts = json.loads(text)
        if "owners" in facts:
            said[code] = facts["owners"][code]
        elif "owner" in facts:  # or the word only stands in somebody's text
            said[code] = facts["owner"]
    owned = {code for code, owner in said.items() if owner is not None}
    kept = dict(
        connection.execute(
            sa_select(col(Straw.code), col(Straw.owner)).where(col(Straw.owner).is_not(None))
        ).all()
    )
    for code in sorted(owned | kept.keys()):
        if kept.get(code) != said.get(code):
            yield f"Straw {grouped(code)} belongs to somebody else than the book says."
