"""Bodies that say they are too large are refused before they are read, as a problem like any other.

The framework's own limit stands behind it, for bodies that come in chunks; left alone, it answers
in plain text, whatever the app would have said.
"""

from collections.abc import Mapping

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from service.edge.problems import plain_problem


class LargestBody:
    """Refuses a request whose Content-Length is above `largest_bytes`.

    `larger` has the paths that take more, and how much.
    """

    def __init__(
        self, app: ASGIApp, *, largest_bytes: int, larger: Mapping[str, int] | None = None
    ) -> None:
        self.app = app
        self.largest_bytes = largest_bytes
        self.larger = larger or {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "http":
            largest = self.larger.get(scope["path"], self.largest_bytes)
            if _said_bytes(scope) > largest:
                answer = plain_problem(413, facts={"largest_bytes": largest})
                await answer(scope, receive, send)
                return
        await self.app(scope, receive, send)


def _said_bytes(scope: Scope) -> int:
    said = Headers(scope=scope).get("content-length", "")
    return int(said) if said.isascii() and said.isdigit() else 0
