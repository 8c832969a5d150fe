"""The floors: bare FastAPI handlers that do the same database work and nothing else.

    python -m tests.bench.bare PORT DATA

Look-up: one key look-up through SQLModel with a session dependency. Writing: the rows of a
withdrawal of eight straws in one transaction with `synchronous=FULL`, through SQLAlchemy Core.
"""

import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any
from uuid import UUID, uuid4

import uvicorn
from fastapi import Depends, FastAPI
from pydantic import BaseModel
from sqlalchemy import insert, update
from sqlmodel import Session, col

from service.edge.replay import Answer
from service.kernel.clock import utc_now
from service.kernel.database import Database, sqlite_url
from service.ledger.store import Entry, Line, Stock, Straw
from service.withdrawals.store import Withdrawal


class WithdrawalRows(BaseModel):
    """What the rows are made of."""

    seq: int
    codes: list[str]
    batch_id: UUID
    stallion_id: UUID
    mare_id: UUID


app = FastAPI()
database: Database
writing = threading.Lock()


def _session() -> Iterator[Session]:
    with Session(database.engine) as session:
        yield session


@app.get("/health")
def health() -> dict[str, str]:
    """The benchmark waits for it."""
    return {"status": "ready"}


@app.get("/straws/{code}")
def look_up(code: str, session: Annotated[Session, Depends(_session)]) -> dict[str, Any]:
    """One key look-up."""
    straw = session.get(Straw, code)
    assert straw is not None
    return {"code": straw.code, "state": straw.state, "goblet_id": straw.goblet_id}


@app.post("/withdrawals", status_code=201)
def withdraw(body: WithdrawalRows) -> dict[str, str]:
    """The rows of a withdrawal: entry, lines, straws, stock, withdrawal, kept answer."""
    now, id = utc_now(), uuid4()
    with writing, database.writing() as db:
        seq = body.seq
        db.execute(
            insert(Entry).values(
                seq=seq, id=id, kind="withdraw", by_id=id, by_name="Vet", occurred_at=now,
                recorded_at=now, withdrawal_id=id, facts="{}", hash=id.hex + id.hex,
            )
        )  # fmt: skip
        for code in body.codes:
            db.execute(
                update(Straw)
                .where(col(Straw.code) == code)
                .values(state="lifted", goblet_id=None, withdrawal_id=id, since=now, last_seq=seq)
            )
        db.execute(
            update(Stock)
            .where(col(Stock.batch_id) == body.batch_id)
            .values(straws=Stock.straws - len(body.codes))
        )
        db.execute(
            insert(Line),
            [
                {
                    "entry_seq": seq, "number": number, "straw_code": code,
                    "from_state": "lifted", "to_state": "lifted", "withdrawal_id": id,
                }
                for number, code in enumerate(body.codes, start=1)
            ],
        )  # fmt: skip
        db.execute(
            insert(Withdrawal).values(
                id=id, stallion_id=body.stallion_id, mare_id=body.mare_id, doses=1,
                rule={}, occurred_at=now, recorded_at=now, by_id=id, by_name="Vet",
            )
        )  # fmt: skip
        db.execute(insert(Answer).values(id=id, fingerprint="f", body="{}" * 200, answered_at=now))
    return {"id": str(id)}


if __name__ == "__main__":
    database = Database(sqlite_url(Path(sys.argv[2])))
    uvicorn.run(app, port=int(sys.argv[1]), log_level="warning", access_log=False)
