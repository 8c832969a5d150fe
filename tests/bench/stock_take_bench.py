"""A whole stock-take out of the database: 100,000 straws scanned, compared, reported.

    python -m tests.bench.stock_take_bench [STRAWS]

The comparison is read from a real book and written into it. The floor is one query for the same
straws, measured in the same run; the goal of the comparison is a second.
"""

import sys
import tempfile
import time
from collections import defaultdict
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

from sqlmodel import select

from service.audits import actions, as_it_was, store
from service.audits.actions import NewCount, Scope
from service.audits.compare import compare
from service.audits.report_form import Person as Signer
from service.audits.reporting import build as build_report
from service.kernel.acts import Act, Person
from service.kernel.database import Database
from service.ledger.store import Straw, head_of
from service.settings import Settings
from tests.bench import large_banks

STRAWS = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000


def act(who: Person) -> Act:
    """Now."""
    now = datetime.now(UTC)
    return Act(
        large_banks.new_id(), who, now, now, large_banks.new_id, large_banks.dice.getrandbits
    )


def main() -> None:
    """Make a bank, count all of it, compare, report."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        large_banks.build(data, STRAWS)
        database = Database(Settings(data=data).book_url)
        who = Person(large_banks.new_id(), "a", "An auditor", "auditor")
        with database.writing() as db:
            began = time.perf_counter()
            rows = db.exec(select(Straw.code, Straw.goblet_id, Straw.batch_id)).all()
            floor = time.perf_counter() - began
            seen: dict[UUID, list[str]] = defaultdict(list)
            for code, goblet_id, _ in rows:
                if goblet_id is not None:
                    seen[goblet_id].append(code)
            take = actions.open_take(db, act(who), Scope(), asked={}, blind=True)
            for goblet_id, codes in seen.items():
                new = NewCount(
                    goblet_id=goblet_id,
                    started_at=None,
                    batches=[],
                    codes=codes,
                    unreadable=0,
                    foreign=[],
                )
                actions.count(db, act(who), take, new)
            take_id = take.id
        with database.reading() as db:
            take = actions.take_of(db, take_id)
            goblets, counts = store.goblets_of(db, take.id), store.counts_of(db, take.id)
            head = head_of(db)
            assert head is not None
            began = time.perf_counter()
            sheets, elsewhere = as_it_was.sheets(
                db, take, goblets, store.latest(counts), until=head.seq
            )
            read = time.perf_counter() - began
            began = time.perf_counter()
            found = compare(sheets, elsewhere)
            compared = time.perf_counter() - began
            assert not found.differences
            began = time.perf_counter()
            build_report(db, take, closed_by=Signer(id="", name=""))
            reported = time.perf_counter() - began
        database.close()
    print(f"{len(rows)} straws in {len(seen)} goblets; one query for them {floor:.2f} s")
    print(
        f"read as it was at each cut-off {read:.2f} s, compared {compared:.2f} s: together "
        f"{read + compared:.2f} s = {(read + compared) / floor:.1f} x the query"
    )
    print(f"the report {reported:.2f} s")


if __name__ == "__main__":
    main()
