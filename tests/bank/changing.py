"""Changing a record over HTTP: read its version, send the change with it."""

from typing import Any

from tests.conftest import Client


def change(client: Client, path: str, changes: dict[str, Any]) -> Any:
    """The record after a change that must succeed; its new ETag must be the one GET gives."""
    answer = _send(client, path, changes)
    assert answer.status_code == 200, (answer.status_code, answer.text)
    assert answer.headers["etag"] == client.get(path).headers["etag"]
    return answer.json()


def refused_change(
    client: Client, path: str, changes: dict[str, Any], status: int, code: str
) -> dict[str, Any]:
    """The problem of a change that must be refused so."""
    answer = _send(client, path, changes)
    assert answer.status_code == status, (answer.status_code, answer.text)
    problem: dict[str, Any] = answer.json()
    assert problem["code"] == code, problem
    return problem


def _send(client: Client, path: str, changes: dict[str, Any]) -> Any:
    version = client.get(path).headers["etag"]
    return client.patch(path, json=changes, headers={"If-Match": version})
