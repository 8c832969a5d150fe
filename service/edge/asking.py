"""Who is asking, and whether they may: every route names the roles it serves.

    def withdraw(body: WithdrawalIn, who: Worker, db: Writing) -> ...

A route that names none stops the start (`refuse_open_doors`). The role is checked before the body
is looked at and before the write lock is taken, so put `who` before `db`.
"""

from collections.abc import Iterator
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import Depends, FastAPI, Request
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute, iter_route_contexts

from service.edge.wiring import Credentials, wiring
from service.kernel.acts import ROLES, Person, Role
from service.kernel.errors import Forbidden, SignedOut

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
COOKIE = "rimebook_session"

#: What a page can send to another site without asking it first (Fetch, WHATWG, "CORS-safelisted
#: request-header", from memory); a body without a name for its kind is one of them.
_FORM_CONTENT = ("application/x-www-form-urlencoded", "multipart/form-data", "text/plain", "")


class CrossSite(Forbidden):
    """A write that a foreign page may have sent."""

    code = "cross-site"
    title = "This write did not come from the service's own pages"


class JsonNeeded(Forbidden):
    """A body that a foreign page's form could have sent."""

    code = "json-needed"
    title = "Send this as JSON"


class PasswordNeeded(Forbidden):
    """Signed in with a one-time code; nothing else is open yet."""

    code = "password-needed"
    title = "Set your password first"


class Allow:
    """The dependency that lets the named roles in and nobody else."""

    def __init__(self, *roles: Role, before_password: bool = False) -> None:
        self.roles = frozenset(roles)
        self.before_password = before_password

    def __call__(self, request: Request) -> Person:
        """The person asking, kept as `request.state.person` for what stands round the routes.

        Raises SignedOut, CrossSite, PasswordNeeded or Forbidden.
        """
        credentials = credentials_of(request)
        wires = wiring(request)
        person = wires.identify(credentials, wires.clock)
        if person is None:
            raise SignedOut("Nobody is signed in here (any more). Sign in and send it again.")
        if credentials.bearer is None and request.method not in SAFE_METHODS:
            refuse_cross_site(request, silence_is_foreign=True)
        if person.must_set_password and not self.before_password:
            raise PasswordNeeded("You signed in with a one-time code. Set a password to go on.")
        if person.role not in self.roles:
            raise Forbidden(
                f"This is for {_listed(self.roles)}; you are signed in as {person.role}."
            )
        request.state.person = person
        return person


def _listed(roles: frozenset[Role]) -> str:
    names = [role for role in ROLES if role in roles]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def nobody_needs_to_sign_in() -> None:
    """The mark of a route that is open on purpose (sign-in, health)."""


Anyone = Annotated[Person, Depends(Allow(*ROLES))]
BeforePassword = Annotated[Person, Depends(Allow(*ROLES, before_password=True))]
Worker = Annotated[Person, Depends(Allow("technician", "vet", "manager"))]
VetOrManager = Annotated[Person, Depends(Allow("vet", "manager"))]
Manager = Annotated[Person, Depends(Allow("manager"))]
OPEN_TO_ALL = Depends(nobody_needs_to_sign_in)


def cookie_name(request: Request) -> str:
    """The session cookie's name: under HTTPS the `__Host-` prefix pins it to this host."""
    return f"__Host-{COOKIE}" if request.url.scheme == "https" else COOKIE


def credentials_of(request: Request) -> Credentials:
    """The cookie or bearer token that came along; a bearer token goes first."""
    scheme, _, token = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer" and token.strip():
        return Credentials(cookie=None, bearer=token.strip())
    return Credentials(cookie=request.cookies.get(cookie_name(request)), bearer=None)


def refuse_cross_site(request: Request, *, silence_is_foreign: bool) -> None:
    """Refuse a write that another site's page may have sent.

    A browser names the sending page in `Origin` or `Sec-Fetch-Site` and a page cannot forge
    either. `silence_is_foreign` refuses when both are missing, as a cookie-signed write must. The
    kinds of content that a plain form can send are refused whoever sends them.
    """
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    if origin is not None:
        same = urlsplit(origin).netloc == request.headers.get("host", "")
    elif site is not None:
        same = site == "same-origin"
    else:
        same = not silence_is_foreign
    if not same or (site is not None and site not in ("same-origin", "none")):
        raise CrossSite(
            "A write signed by a cookie needs an Origin or Sec-Fetch-Site of this service. "
            "Programs sign with a token (Authorization: Bearer)."
        )
    if _content_type(request) in _FORM_CONTENT:
        raise JsonNeeded("Send the body as JSON, with Content-Type: application/json.")


def _content_type(request: Request) -> str | None:
    """The media type of the body; None when there is no body and none is named."""
    named = request.headers.get("content-type")
    if named is not None:
        return named.partition(";")[0].strip().lower()
    empty = request.headers.get("content-length", "0") == "0"
    return None if empty and "transfer-encoding" not in request.headers else ""


def refuse_open_doors(app: FastAPI) -> None:
    """Stop the start when a route names neither roles nor that it is open to all."""
    for method, path, dependant in api_routes(app):
        if not any(_is_a_door(part.call) for part in dependant.dependencies):
            raise RuntimeError(f"{method} {path} names no roles: say who it serves")


def roles_of(dependant: Dependant) -> frozenset[Role]:
    """The roles a route serves; empty for one that is open to all."""
    for part in dependant.dependencies:
        if isinstance(part.call, Allow):
            return part.call.roles
    return frozenset()


def api_routes(app: FastAPI) -> Iterator[tuple[str, str, Dependant]]:
    """Method, path and dependencies of every API route of the app."""
    for context in iter_route_contexts(app.routes):
        route = context.original_route
        if isinstance(route, APIRoute):
            for method in sorted(route.methods or ()):
                yield method, str(context.path), route.dependant


def _is_a_door(call: object) -> bool:
    return isinstance(call, Allow) or call is nobody_needs_to_sign_in
