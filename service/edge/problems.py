"""Every refusal and failure as `application/problem+json` (RFC 9457, IETF, 2023).

The one place where kinds of refusal become status codes. An answer carries the facts, never a
trace, a path or SQL.
"""

import logging
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic_core import to_jsonable_python
from sqlalchemy.exc import DBAPIError
from starlette.exceptions import HTTPException

from service.kernel import errors
from service.kernel.trouble import Trouble, trouble_of

log = logging.getLogger("rimebook")

STATUS: Mapping[type[errors.Refusal], int] = {
    errors.Unknown: 404,
    errors.Invalid: 422,
    errors.OtherKind: 415,
    errors.Conflict: 409,
    errors.Forbidden: 403,
    errors.SignedOut: 401,
    errors.TooMany: 429,
    errors.Stale: 412,
    errors.VersionMissing: 428,
}

_PLAIN = {
    400: ("unreadable", "This could not be read", "The body is not JSON that can be read."),
    404: ("unknown", "There is no such page", "Nothing is served at this address."),
    405: ("method-not-allowed", "Not possible here", "This address does not take that method."),
    413: ("too-large", "Too large", "The body is larger than this route takes."),
}


class Problem(JSONResponse):
    """The answer to something that did not work."""

    media_type = "application/problem+json"


def problem(
    status: int,
    code: str,
    title: str,
    detail: str,
    *,
    facts: Mapping[str, Any] | None = None,
    headers: Mapping[str, str] | None = None,
) -> Problem:
    """A problem document; `facts` stand beside the standard members under their own names."""
    body = {
        "type": f"/problems/{code}",
        "title": title,
        "status": status,
        "detail": detail,
        "code": code,
    }
    return Problem({**_plain(facts or {}), **body}, status_code=status, headers=dict(headers or {}))


def _plain(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Facts as JSON has them: exact amounts as numbers, moments in UTC with a Z."""
    numbers = {
        name: float(fact) if isinstance(fact, Decimal | Fraction) else fact
        for name, fact in facts.items()
    }
    plain: dict[str, Any] = to_jsonable_python(numbers)
    return plain


def status_of(kind: type[errors.Refusal]) -> int:
    """The status of a refusal's nearest kind."""
    return next(STATUS[parent] for parent in kind.__mro__ if parent in STATUS)


def problems(*kinds: type[errors.Refusal]) -> dict[int | str, dict[str, Any]]:
    """The refusals of a route, for its OpenAPI description."""
    described: dict[int | str, dict[str, Any]] = {}
    for kind in kinds:
        entry = described.setdefault(
            status_of(kind),
            {
                "description": "",
                "content": {"application/problem+json": {"schema": PROBLEM_SCHEMA}},
            },
        )
        entry["description"] = "; ".join(
            part for part in (entry["description"], f"`{kind.code}`: {kind.title}") if part
        )
    return described


PROBLEM_SCHEMA: dict[str, Any] = {
    "type": "object",
    "required": ["type", "title", "status", "detail", "code"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "code": {"type": "string"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {"field": {"type": "string"}, "message": {"type": "string"}},
            },
        },
    },
}

#: What any route may answer.
ALWAYS = problems(errors.SignedOut, errors.Forbidden, errors.Invalid)


def install(app: FastAPI) -> None:
    """Give the app its one set of error answers."""
    app.add_exception_handler(errors.Refusal, _refusal)
    app.add_exception_handler(RequestValidationError, _validation)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(DBAPIError, _database)
    app.add_exception_handler(Exception, _unexpected)


def _refusal(_request: Request, error: Exception) -> Problem:
    assert isinstance(error, errors.Refusal)
    headers = {}
    if "retry_after_seconds" in error.facts:
        headers["Retry-After"] = str(error.facts["retry_after_seconds"])
    if isinstance(error, errors.SignedOut):
        headers["WWW-Authenticate"] = "Bearer"
    return problem(
        status_of(type(error)),
        error.code,
        error.title,
        error.detail,
        facts=error.facts,
        headers=headers,
    )


def _validation(_request: Request, error: Exception) -> Problem:
    assert isinstance(error, RequestValidationError)
    found = [
        {"field": _field(item["loc"]), "message": _message(item)} for item in error.errors()[:50]
    ]
    first = found[0]
    return problem(
        422,
        "invalid",
        "This cannot be right",
        f"{first['field']}: {first['message']}." if first["field"] else f"{first['message']}.",
        facts={"errors": found},
    )


def _field(location: tuple[int | str, ...]) -> str:
    """Where it is, as a person reads JSON: `placements[1].straws`."""
    path = ""
    for part in location[1:]:
        path += f"[{part}]" if isinstance(part, int) else f".{part}" if path else part
    return path


def _message(item: Mapping[str, Any]) -> str:
    if item["type"] == "json_invalid":
        return "the body is not JSON"
    message = str(item["msg"]).removeprefix("Value error, ")
    return message[:1].lower() + message[1:300]


def _http(_request: Request, error: Exception) -> Problem:
    assert isinstance(error, HTTPException)
    return plain_problem(error.status_code, headers=error.headers)


def plain_problem(
    status: int,
    *,
    facts: Mapping[str, Any] | None = None,
    headers: Mapping[str, str] | None = None,
) -> Problem:
    """The problem for a status that says it all."""
    code, title, detail = _PLAIN.get(status, ("refused", "Refused", "This could not be done."))
    return problem(status, code, title, detail, facts=facts, headers=headers)


def _database(request: Request, error: Exception) -> Problem:
    """What is the database's own trouble is told apart from a fault of ours."""
    assert isinstance(error, DBAPIError)
    found = trouble_of(error)
    if found is None:
        return _unexpected(request, error)
    log.critical("%s %s: %s", request.method, request.url.path, found.value)
    return problem(*_TROUBLE[found], headers={"Retry-After": _RETRY_AFTER_SECONDS[found]})


_TROUBLE: Mapping[Trouble, tuple[int, str, str, str]] = {
    Trouble.FULL: (
        507,
        "disk-full",
        "The disk is full",
        "Nothing was booked. Reading still works. Free some space, then send it again.",
    ),
    Trouble.BUSY: (
        503,
        "busy",
        "The book is busy",
        "Nothing was booked. Send the same again in a few seconds.",
    ),
    Trouble.AWAY: (
        503,
        "database-away",
        "The database does not answer",
        "Whether this was booked is not known. Send the same again in a few seconds, under the "
        "same id: what was booked is answered again and not booked twice.",
    ),
}

_RETRY_AFTER_SECONDS = {Trouble.FULL: "60", Trouble.BUSY: "2", Trouble.AWAY: "5"}


def _unexpected(request: Request, error: Exception) -> Problem:
    log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    return problem(
        500,
        "internal",
        "Something went wrong in the service",
        "Nothing was booked. Send the same again; if it fails again, tell who runs the service.",
    )
