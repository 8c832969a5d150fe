"""What tests of labels ask of the service, and how they read it."""

from typing import Any
from uuid import uuid4

from tests.conftest import Client

UELN = "372414001234567"
PRINTS = "/api/prints"


def grouped(code: str) -> str:
    return f"{code[:3]} {code[3:6]} {code[6:]}"


def get_pdf(client: Client, path: str) -> bytes:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["cache-control"] == "no-store"
    return answer.content


def printed(client: Client, what: Any, style: str, **more: Any) -> Any:
    body = {"id": str(uuid4()), "what": what, "style": style, **more}
    return client.ok("POST", PRINTS, body, status=201)


def head(client: Client) -> str:
    found = client.ok("GET", "/api/ledger/check")
    assert found["problems"] == []
    return str(found["head"])
