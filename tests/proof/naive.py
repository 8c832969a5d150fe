"""Servers that keep their straws badly, to show that the proofs can fail.

    python -m tests.proof.naive MODE PORT FILE

`late`: acknowledges several withdrawals before one commit. `deferred`: looks and then takes, in the
driver's own transactions. Both answer the two routes the proofs use.
"""

import sqlite3
import sys
import threading
import time
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from fastapi.responses import JSONResponse

ACKNOWLEDGED_BEFORE_ONE_COMMIT = 8


def late(file: Path) -> FastAPI:
    """One connection, one lock, and a commit only now and then."""
    app = FastAPI()
    connection = sqlite3.connect(file, check_same_thread=False, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("CREATE TABLE IF NOT EXISTS acts (id TEXT PRIMARY KEY)")
    lock = threading.Lock()
    waiting = 0

    @app.post("/act/{id}", status_code=201)
    def act(id: str) -> None:
        nonlocal waiting
        with lock:
            if waiting == 0:
                connection.execute("BEGIN IMMEDIATE")
            connection.execute("INSERT INTO acts VALUES (?)", (id,))
            waiting += 1
            if waiting == ACKNOWLEDGED_BEFORE_ONE_COMMIT:
                connection.execute("COMMIT")
                waiting = 0

    return app


def deferred(file: Path) -> FastAPI:
    """A connection per request in Python's default mode: look, then take."""
    app = FastAPI()
    with sqlite3.connect(file) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE IF NOT EXISTS straws (code TEXT PRIMARY KEY, taken INT)")
    connection.close()

    @app.post("/straws/{code}/take")
    def take(code: str) -> JSONResponse:
        own = sqlite3.connect(file, timeout=5)
        try:
            found = own.execute("SELECT taken FROM straws WHERE code = ?", (code,)).fetchone()
            if found is not None and found[0]:
                return JSONResponse({"code": "straw-gone"}, status_code=409)
            time.sleep(0.001)  # what a real check between looking and taking costs
            own.execute("INSERT OR REPLACE INTO straws VALUES (?, 1)", (code,))
            own.commit()
            return JSONResponse({}, status_code=201)
        finally:
            own.close()

    return app


if __name__ == "__main__":
    mode, port, path = sys.argv[1:]
    made = {"late": late, "deferred": deferred}[mode](Path(path))

    @made.get("/health")
    def health() -> dict[str, str]:
        """The proofs wait for it."""
        return {"status": "ready"}

    uvicorn.run(made, port=int(port), log_level="warning")
