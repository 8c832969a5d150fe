"""One transaction per request, committed before the answer leaves.

`scope="function"` is what makes that true: FastAPI's default would commit after the response has
started, when a failing commit can no longer be told. Writers queue here, without a thread each:
left to the database's own busy handler, the slowest of sixteen waited ten times as long.
"""

from collections.abc import Iterator
from typing import Annotated

from fastapi import Depends, Request
from sqlmodel import Session

from service.edge.wiring import wiring


def _read(request: Request) -> Iterator[Session]:
    with wiring(request).database.reading() as session:
        yield session


def _write(request: Request) -> Iterator[Session]:
    with wiring(request).database.writing() as session:
        yield session


Reading = Annotated[Session, Depends(_read, scope="function")]
Writing = Annotated[Session, Depends(_write, scope="function", max_concurrency=1)]
