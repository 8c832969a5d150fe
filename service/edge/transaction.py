"""One transaction per request, carried out and committed in the route's own thread.

A route asks for `db: Reading` or `db: Writing`. The session is opened, used, committed and closed
in one visit to one worker thread: a dependency with `yield` would wait for a thread four times, and
by default would commit after the answer has left. Writers queue before they need a thread, one at a
time: left to the database's own busy handler, the slowest of sixteen waited ten times as long.
"""

import functools
import inspect
from collections.abc import AsyncIterator, Callable
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.routing import APIRoute
from sqlmodel import Session

from service.edge.wiring import wiring
from service.kernel.database import carried_out


async def _read(request: Request) -> AsyncIterator[Session]:
    session = wiring(request).database.session(writing=False)
    yield session
    _refuse_unfinished(session)


async def _write(request: Request) -> AsyncIterator[Session]:
    session = wiring(request).database.session(writing=True)
    yield session
    _refuse_unfinished(session)


def _refuse_unfinished(session: Session) -> None:
    if session.in_transaction():
        session.close()
        raise RuntimeError("this route is not of edge.transaction.Router: nothing was committed")


Reading = Annotated[Session, Depends(_read, scope="function")]
Writing = Annotated[Session, Depends(_write, scope="function", max_concurrency=1)]


class _Route(APIRoute):
    """A route that carries its session out around the route function."""

    def __init__(self, path: str, endpoint: Callable[..., Any], **options: Any) -> None:
        super().__init__(path, _in_one_transaction(endpoint), **options)


class Router(APIRouter):
    """The router of every capability."""

    def __init__(self, **options: Any) -> None:
        super().__init__(route_class=_Route, **options)


def _in_one_transaction(endpoint: Callable[..., Any]) -> Callable[..., Any]:
    if inspect.iscoroutinefunction(endpoint):
        return endpoint  # does its own work beside (password hashes), and takes no session

    @functools.wraps(endpoint)
    def carried(**arguments: Any) -> Any:
        sessions = [value for value in arguments.values() if isinstance(value, Session)]
        if not sessions:
            return endpoint(**arguments)
        with carried_out(sessions[0]):
            return endpoint(**arguments)

    return carried
