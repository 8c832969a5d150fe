"""Sign-in, people and tokens over HTTP."""

from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Annotated, TypeVar
from uuid import UUID

from anyio import CapacityLimiter, to_thread
from anyio.lowlevel import RunVar
from fastapi import Depends, Query, Request, Response

from service.edge.asking import (
    OPEN_TO_ALL,
    Allow,
    Anyone,
    BeforePassword,
    Manager,
    cookie_name,
    credentials_of,
    refuse_cross_site,
)
from service.edge.fields import Identifier
from service.edge.listing import AskedPage, Listing, page_of
from service.edge.problems import problems
from service.edge.transaction import Reading, Router, Writing
from service.edge.versions import (
    ChangeByOut,
    ChangeOut,
    IfMatch,
    changes_by,
    changes_of,
    expect,
    keep_change,
    versioned,
)
from service.edge.wiring import wiring
from service.kernel import errors
from service.kernel.acts import Person
from service.people import actions, rules, signing_in, store
from service.people.events import Occasion
from service.people.messages import (
    CodeOut,
    EventOut,
    NewPassword,
    NewPerson,
    NewToken,
    PersonAdded,
    PersonOut,
    PersonPatch,
    SessionOut,
    SignIn,
    TokenMade,
    TokenOut,
    event_out,
    person_out,
    token_out,
)

T = TypeVar("T")

router = Router(prefix="/api", tags=["people"])

#: How many passwords are hashed at a time, in threads that serve nothing else: a rush of sign-ins
#: queues for these and leaves the threads of everybody else alone.
HASHING_THREADS = 2
_HASHING: RunVar[CapacityLimiter] = RunVar("hashing")


async def _from_here_or_a_program(request: Request) -> None:
    """Another site's page must not sign a browser in as somebody else."""
    refuse_cross_site(request, silence_is_foreign=False)


# --- the session -------------------------------------------------------------------------------


@router.post(
    "/session",
    operation_id="sign_in",
    summary="Sign in",
    status_code=204,
    dependencies=[OPEN_TO_ALL, Depends(_from_here_or_a_program)],
    responses=problems(rules.WrongSignIn, rules.TooManySignIns, errors.Forbidden, errors.Invalid),
)
async def sign_in(body: SignIn, request: Request, response: Response) -> None:
    """Open a session with a password or a one-time code; the cookie is the only answer."""
    opened = await _beside(
        partial(
            signing_in.sign_in,
            wiring(request).database,
            username=body.username,
            password=body.password,
            occasion=_occasion(request),
        )
    )
    _set_cookie(request, response, opened.token, opened.lifetime)


@router.get(
    "/session",
    operation_id="read_session",
    summary="Who is signed in",
    responses=problems(errors.SignedOut, errors.Forbidden),
)
def read_session(who: Anyone) -> SessionOut:
    """The person asking; 403 `password-needed` after signing in with a one-time code."""
    return SessionOut(
        id=who.id, username=who.username, display_name=who.display_name, role=who.role
    )


@router.delete(
    "/session",
    operation_id="sign_out",
    summary="Sign out",
    status_code=204,
    responses=problems(errors.SignedOut, rules.SessionNeeded),
)
def sign_out(who: BeforePassword, db: Writing, request: Request, response: Response) -> None:
    """End this session here and on the server."""
    cookie = _cookie_of(request)
    signing_in.sign_out(db, cookie=cookie, who=who, occasion=_occasion(request, who))
    _set_cookie(request, response, "", timedelta(0))


@router.post(
    "/session/password",
    operation_id="set_password",
    summary="Set one's own password",
    status_code=204,
    responses=problems(
        errors.SignedOut,
        rules.SessionNeeded,
        rules.WrongPassword,
        rules.WeakPassword,
        rules.TooManySignIns,
    ),
)
async def set_password(
    body: NewPassword, who: BeforePassword, request: Request, response: Response
) -> None:
    """Set a new password: every session of this person ends, and a new one is opened here."""
    opened = await _beside(
        partial(
            signing_in.set_password,
            wiring(request).database,
            cookie=_cookie_of(request),
            password=body.password,
            current=body.current_password,
            occasion=_occasion(request, who),
        )
    )
    _set_cookie(request, response, opened.token, opened.lifetime)


# --- people ------------------------------------------------------------------------------------


@router.get("/people", operation_id="list_people", summary="Everybody who may sign in")
def list_people(_who: Anyone, db: Reading, page: AskedPage) -> Listing[PersonOut]:
    """People in the order of their user names."""
    rows = store.users_after(db, page.after_one(str), page.limit)
    return page_of(rows, page, key=lambda user: (user.username,), show=person_out)


@router.post(
    "/people",
    operation_id="add_person",
    summary="Add a person",
    status_code=201,
    responses=problems(errors.Forbidden, rules.UsernameTaken, rules.BadUsername),
)
def add_person(
    body: NewPerson, who: Manager, db: Writing, request: Request, response: Response
) -> PersonAdded:
    """Add a person; the one-time code in the answer is good for a day and shown only here."""
    user, code = actions.add_user(
        db,
        username=body.username,
        display_name=body.display_name,
        role=body.role,
        occasion=_occasion(request, who),
    )
    assert code is not None  # nobody chose a password for them
    shown = versioned(person_out(user), response)
    return PersonAdded(
        **shown.model_dump(), one_time_code=code.code, one_time_code_expires_at=code.expires_at
    )


@router.get(
    "/people/{person_id}",
    operation_id="read_person",
    summary="One person",
    responses=problems(rules.UnknownPerson),
)
def read_person(person_id: Identifier, _who: Anyone, db: Reading, response: Response) -> PersonOut:
    """One person, with the version to change as ETag."""
    return versioned(person_out(actions.person(db, person_id)), response)


@router.patch(
    "/people/{person_id}",
    operation_id="change_person",
    summary="Change a person's name or role, close or open the account",
    responses=problems(
        errors.Forbidden,
        rules.UnknownPerson,
        rules.LastManager,
        errors.Stale,
        errors.VersionMissing,
    ),
)
def change_person(
    person_id: Identifier,
    body: PersonPatch,
    who: Manager,
    db: Writing,
    request: Request,
    response: Response,
    if_match: IfMatch = None,
) -> PersonOut:
    """Change a person; a closed account is signed out everywhere at once."""
    user = actions.person(db, person_id)
    before = person_out(user)
    expect(before, if_match)
    occasion = _occasion(request, who)
    actions.change_person(db, user, occasion=occasion, **body.model_dump(exclude_unset=True))
    after = person_out(user)
    keep_change(
        db,
        id=occasion.new_id(),
        kind="person",
        record_id=user.id,
        who=who,
        at=occasion.at,
        before=before.model_dump(mode="json"),
        after=after.model_dump(mode="json"),
    )
    return versioned(after, response)


@router.get(
    "/people/{person_id}/changes",
    operation_id="list_person_changes",
    summary="What was changed about a person",
    responses=problems(rules.UnknownPerson),
)
def list_person_changes(person_id: Identifier, _who: Anyone, db: Reading) -> Listing[ChangeOut]:
    """Every change, newest first."""
    user = actions.person(db, person_id)
    return Listing[ChangeOut](items=changes_of(db, "person", user.id))


@router.get(
    "/people/{person_id}/record-changes",
    operation_id="list_record_changes",
    summary="What a person changed in records, newest first",
    responses=problems(rules.UnknownPerson),
)
def list_record_changes(
    person_id: Identifier, _who: Anyone, db: Reading, page: AskedPage
) -> Listing[ChangeByOut]:
    """Of station, tanks, horses and people; what they did to straws stands in the ledger."""
    return changes_by(db, actions.person(db, person_id).id, page)


@router.post(
    "/people/{person_id}/reset",
    operation_id="reset_person",
    summary="Give a person who cannot sign in a one-time code",
    responses=problems(errors.Forbidden, rules.UnknownPerson, rules.PersonDisabled, rules.OwnReset),
)
def reset_person(person_id: Identifier, who: Manager, db: Writing, request: Request) -> CodeOut:
    """End the person's password and sessions; the code is good for a quarter of an hour."""
    code = actions.reset(db, person_id, occasion=_occasion(request, who))
    return CodeOut(one_time_code=code.code, one_time_code_expires_at=code.expires_at)


# --- tokens ------------------------------------------------------------------------------------


@router.post(
    "/tokens",
    operation_id="make_token",
    summary="Make a token for a program",
    status_code=201,
    responses=problems(rules.BadExpiry),
)
def make_token(body: NewToken, who: Anyone, db: Writing, request: Request) -> TokenMade:
    """Make a token that acts as its owner; its text is shown only here."""
    token, text = actions.make_token(
        db,
        who=who,
        name=body.name,
        expires_on=body.expires_on,
        occasion=_occasion(request, who),
    )
    return TokenMade(**token_out(token).model_dump(), token=text)


@router.get("/tokens", operation_id="list_tokens", summary="One's own tokens")
def list_tokens(who: Anyone, db: Reading, page: AskedPage) -> Listing[TokenOut]:
    """One's own tokens that were not revoked, oldest first, without their text."""
    rows = store.tokens_after(db, who.id, page.after_one(UUID), page.limit)
    return page_of(rows, page, key=lambda token: (token.id,), show=token_out)


@router.delete(
    "/tokens/{token_id}",
    operation_id="revoke_token",
    summary="Revoke a token",
    status_code=204,
    responses=problems(rules.UnknownToken),
)
def revoke_token(token_id: Identifier, who: Anyone, db: Writing, request: Request) -> None:
    """Stop one of one's own tokens at once."""
    actions.revoke_token(db, token_id, who=who, occasion=_occasion(request, who))


# --- the record --------------------------------------------------------------------------------


@router.get(
    "/security-events",
    operation_id="list_security_events",
    summary="What happened to accounts, newest first",
    responses=problems(rules.UnknownPerson),
)
def list_security_events(
    _who: Annotated[Person, Depends(Allow("manager", "auditor"))],
    db: Reading,
    page: AskedPage,
    person: Annotated[
        str | None,
        Query(max_length=120, description="Only what they did or had done: an id or a user name."),
    ] = None,
) -> Listing[EventOut]:
    """Sign-ins, failed ones, changes of people and tokens, in a hash chain of their own."""
    person_id = None if person is None else actions.person_called(db, person).id
    rows = store.events_before(db, page.after_one(int), page.limit, person_id=person_id)
    return page_of(rows, page, key=lambda event: (event.seq,), show=event_out)


# --- helpers -----------------------------------------------------------------------------------


async def _beside(work: Callable[[], T]) -> T:
    """Run what hashes a password in one of the few threads that are for it."""
    try:
        threads = _HASHING.get()
    except LookupError:
        threads = CapacityLimiter(HASHING_THREADS)
        _HASHING.set(threads)
    return await to_thread.run_sync(work, limiter=threads)


def _occasion(request: Request, who: Person | None = None) -> Occasion:
    wires = wiring(request)
    address = request.client.host if request.client else None
    return Occasion(at=wires.clock(), new_id=wires.new_id, by=who, address=address)


def _cookie_of(request: Request) -> str:
    """The session's cookie. Raises SessionNeeded for a program with a token."""
    cookie = credentials_of(request).cookie
    if cookie is None:
        raise rules.SessionNeeded(
            "A token cannot do this. Sign in with a name and a password; "
            "a token is ended with DELETE /api/tokens/{id}."
        )
    return cookie


def _set_cookie(request: Request, response: Response, token: str, lifetime: timedelta) -> None:
    response.set_cookie(
        cookie_name(request),
        token,
        max_age=int(lifetime.total_seconds()),
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )
