"""The book read from a backup by sqlite3 and hashlib alone: none of the service's code is used.

    python independent_replay.py BACKUP.db

Recomputes the hash chain as DEVELOPERS.md describes it, follows every straw from line to line, and
prints what that adds up to: entries, head, straws by state, and straws in store by stallion.
"""

import hashlib
import json
import sqlite3
import sys
from collections import Counter
from typing import Any


def replay(file: str) -> dict[str, Any]:
    """What the book adds up to. Raises ValueError at the first thing that does not follow."""
    book = sqlite3.connect(f"file:{file}?mode=ro&immutable=1", uri=True)
    lines: dict[int, list[tuple[Any, ...]]] = {}
    for seq, *line in book.execute(
        "SELECT entry_seq, straw_code, from_state, from_goblet_id, to_state, to_goblet_id,"
        " withdrawal_id, provisional FROM lines ORDER BY entry_seq, number"
    ):
        lines.setdefault(seq, []).append(tuple(line))
    head, entries, places = "0" * 64, 0, {}
    for *fields, kept in book.execute(
        "SELECT seq, id, kind, by_id, by_name, occurred_at, recorded_at, reason, withdrawal_id,"
        " batch_id, facts, hash FROM entries ORDER BY seq"
    ):
        entries += 1
        if fields[0] != entries:
            raise ValueError(f"entry {entries} is missing")
        texts = ["\t".join(_text(field) for field in fields)]
        for straw, from_state, from_goblet, to_state, to_goblet, *rest in lines.pop(entries, []):
            if places.get(straw, ("made", None)) != (from_state, from_goblet):
                raise ValueError(f"entry {entries} takes {straw} from where it is not")
            places[straw] = (to_state, to_goblet)
            parts = (straw, from_state, from_goblet, to_state, to_goblet, *rest)
            texts.append("\t".join(_text(part) for part in parts))
        head = hashlib.sha256("\n".join([head, *texts]).encode()).hexdigest()
        if head != kept:
            raise ValueError(f"entry {entries} has not the hash of what it says")
    if lines:
        raise ValueError("lines without an entry")
    return {
        "entries": entries,
        "head": head,
        "straws": dict(Counter(state for state, _ in places.values())),
        "stored_by_stallion": _by_stallion(book, places),
    }


def _text(field: Any) -> str:
    return "" if field is None else str(field)


def _by_stallion(book: sqlite3.Connection, places: dict[str, Any]) -> dict[str, int]:
    names = dict(
        book.execute(
            "SELECT straws.code, stallions.name FROM straws JOIN batches ON batches.id = batch_id"
            " JOIN stallions ON stallions.id = stallion_id"
        )
    )
    return dict(Counter(names[code] for code, (state, _) in places.items() if state == "stored"))


if __name__ == "__main__":
    print(json.dumps(replay(sys.argv[1])))
