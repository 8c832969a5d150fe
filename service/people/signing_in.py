"""Signing in and out, and setting one's password.

Hashing a password takes long on purpose, so it never happens inside a transaction: a short one
before it counts the try, a short one after it writes the outcome.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session

from service.kernel.acts import Person
from service.kernel.database import Database
from service.kernel.errors import SignedOut
from service.people import guessing, hashing, store
from service.people.events import Kind, Occasion, record
from service.people.passwords import new_password
from service.people.rules import (
    FRESH,
    SESSION_LIFETIME,
    SET_PASSWORD_WITHIN,
    WrongPassword,
    WrongSignIn,
    folded,
)
from service.people.store import SignedInSession, User


@dataclass(frozen=True, slots=True)
class Opened:
    """A session that was opened; `token` goes into the cookie and is kept nowhere else."""

    token: str
    lifetime: timedelta


def sign_in(database: Database, *, username: str, password: str, occasion: Occasion) -> Opened:
    """Open a session with a password or a one-time code.

    The try is counted before anything is compared, so that guesses made at the same time all
    count. Whether the name exists shows neither in the answer nor in the time it takes.
    Raises TooManySignIns or WrongSignIn.
    """
    name = folded(username)
    buckets = [guessing.name_bucket(name), guessing.address_bucket(occasion.address)]
    _count_try(database, buckets, occasion.at)
    with database.reading() as db:
        user = store.user_named(db, name)
    kept = user.password_hash if user else None
    matches = hashing.password_matches(kept, password)
    fresh = hashing.hashed_password(password) if matches and hashing.is_outdated(kept) else kept
    with database.writing() as db:
        user = store.user_named(db, name)
        by_password = matches and user is not None and user.password_hash == kept
        if user and by_password and not user.disabled_at:
            user.password_hash = fresh
            opened = _opened(db, user, occasion, must_set_password=False)
        elif user and not user.disabled_at and _use_code(user, password, occasion.at):
            opened = _opened(db, user, occasion, must_set_password=True)
        else:
            record(db, Kind.SIGN_IN_FAILED, occasion, about=user)
            opened = None
        if opened:
            store.clear_tries(db, buckets)
    if opened is None:
        raise WrongSignIn("Check both and try again. A manager can reset a forgotten password.")
    return opened


def _count_try(database: Database, buckets: list[str], at: datetime) -> None:
    """Count a try in its own transaction, or refuse it.

    Looks before it takes the write lock, so that a flood of refused tries holds up no writer.
    """
    with database.reading() as db:
        for bucket in buckets:
            guessing.one_more(store.tries_of(db, bucket), at)
    with database.writing() as db:
        counted = [guessing.one_more(store.tries_of(db, bucket), at) for bucket in buckets]
        for bucket, tries in zip(buckets, counted, strict=True):
            store.keep_tries(db, bucket, tries)


def _use_code(user: User, typed: str, at: datetime) -> bool:
    """Whether this is the person's one-time code and still good; it is not good again."""
    code = hashing.code_digest(typed)
    if code is None or code != user.one_time_code_hash:
        return False
    assert user.one_time_code_expires_at is not None  # a CHECK holds the two together
    good = at < user.one_time_code_expires_at
    user.one_time_code_hash = user.one_time_code_expires_at = None
    return good


def _opened(db: Session, user: User, occasion: Occasion, *, must_set_password: bool) -> Opened:
    """A session that has just been signed in to."""
    store.forget_ended_sessions(db, occasion.at)
    store.forget_tries(db, occasion.at - guessing.TRIES_FORGOTTEN_AFTER)
    record(db, Kind.SIGNED_IN, occasion, about=user, with_one_time_code=must_set_password)
    return _new_session(db, user, occasion.at, must_set_password=must_set_password)


def _new_session(db: Session, user: User, at: datetime, *, must_set_password: bool) -> Opened:
    token = hashing.new_session_token()
    lifetime = SET_PASSWORD_WITHIN if must_set_password else SESSION_LIFETIME
    db.add(
        SignedInSession(
            token_hash=hashing.digest(token),
            user_id=user.id,
            created_at=at,
            last_seen_at=at,
            expires_at=at + lifetime,
            must_set_password=must_set_password,
        )
    )
    return Opened(token, lifetime)


def sign_out(db: Session, *, cookie: str, who: Person, occasion: Occasion) -> None:
    """End the session of a cookie."""
    session = db.get(SignedInSession, hashing.digest(cookie))
    if session is not None:
        db.delete(session)
        record(db, Kind.SIGNED_OUT, occasion, about=db.get(User, who.id))


def set_password(
    database: Database, *, cookie: str, password: str, current: str | None, occasion: Occasion
) -> Opened:
    """Set one's own password: every session of the person ends and a new one is opened.

    Some time after signing in the present password is asked for again, so that a phone left
    lying open does not give the account away; one that is sent is always checked.
    Raises WeakPassword, WrongPassword, TooManySignIns, SignedOut.
    """
    with database.reading() as db:
        session, user = _session_and_user(db, cookie)
    normal = new_password(password, own_words=(user.username, user.display_name))
    is_fresh = occasion.at - session.created_at <= FRESH
    if not session.must_set_password and not (is_fresh and current is None):
        _prove(database, user, current, occasion)
    kept = hashing.hashed_password(normal)
    with database.writing() as db:
        _, user = _session_and_user(db, cookie)  # it may have been ended meanwhile
        user.password_hash = kept
        user.one_time_code_hash = user.one_time_code_expires_at = None
        store.end_sessions(db, user.id)
        record(db, Kind.PASSWORD_SET, occasion, about=user)
        return _new_session(db, user, occasion.at, must_set_password=False)


def _session_and_user(db: Session, cookie: str) -> tuple[SignedInSession, User]:
    session = db.get(SignedInSession, hashing.digest(cookie))
    user = db.get(User, session.user_id) if session else None
    if session is None or user is None or user.disabled_at:
        raise SignedOut("This session has ended. Sign in and send it again.")
    return session, user


def _prove(database: Database, user: User, current: str | None, occasion: Occasion) -> None:
    """Check the present password; wrong ones count as tries to sign in do."""
    if current is None:
        raise WrongPassword("Send your present password as current_password too.")
    buckets = [guessing.name_bucket(user.username), guessing.address_bucket(occasion.address)]
    _count_try(database, buckets, occasion.at)
    matches = hashing.password_matches(user.password_hash, current)
    with database.writing() as db:
        if matches:
            store.clear_tries(db, buckets)
        else:
            record(db, Kind.PASSWORD_REFUSED, occasion, about=user)
    if not matches:
        raise WrongPassword("The password you have now is another. Nothing was changed.")
