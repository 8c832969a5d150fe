"""The tables of people and the statements that read them.

No secret is kept as it was given: passwords as Argon2id hashes, codes and tokens as SHA-256 of
random text (which nobody can guess, so a slow hash would add nothing).
"""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, Text, UniqueConstraint, bindparam, delete, func, or_
from sqlalchemy import select as sa_select
from sqlmodel import Field, Session, SQLModel, col, select

from service.kernel.acts import ROLES, Person, Role
from service.kernel.columns import UtcMoment
from service.people.guessing import NO_TRIES, Tries

_ROLES_SQL = ", ".join(f"'{role}'" for role in ROLES)


class User(SQLModel, table=True):
    """A person who may sign in. Never deleted: the book names them for ever.

    `username` is folded. Without a `password_hash` only a one-time code opens the account.
    """

    __tablename__ = "users"
    __table_args__ = (
        UniqueConstraint("username", name="user_names"),
        CheckConstraint(f"role IN ({_ROLES_SQL})", name="user_role"),
        CheckConstraint("username <> ''", name="user_name_filled"),
        CheckConstraint(
            "(one_time_code_hash IS NULL) = (one_time_code_expires_at IS NULL)",
            name="user_code_expires",
        ),
    )

    id: UUID = Field(primary_key=True)
    username: str = Field(max_length=60)
    display_name: str = Field(sa_type=Text)
    role: Role = Field(sa_type=Text)
    password_hash: str | None = Field(default=None, sa_type=Text)
    one_time_code_hash: str | None = Field(default=None, max_length=64)
    one_time_code_expires_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    disabled_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    created_at: datetime = Field(sa_type=UtcMoment)


class SignedInSession(SQLModel, table=True):
    """One signed-in browser. `last_seen_at` may lag behind by a minute."""

    __tablename__ = "sessions"
    __table_args__ = (
        CheckConstraint("length(token_hash) = 64", name="session_token_hashed"),
        CheckConstraint("expires_at > created_at", name="session_expires"),
        Index("sessions_of_user", "user_id"),
    )

    token_hash: str = Field(primary_key=True, max_length=64)
    user_id: UUID = Field(foreign_key="users.id")
    created_at: datetime = Field(sa_type=UtcMoment)
    last_seen_at: datetime = Field(sa_type=UtcMoment)
    expires_at: datetime = Field(sa_type=UtcMoment)
    must_set_password: bool = False


class Token(SQLModel, table=True):
    """A program's key: it acts as its owner until its last day, or until it is revoked."""

    __tablename__ = "tokens"
    __table_args__ = (
        UniqueConstraint("token_hash", name="token_hashes"),
        CheckConstraint("length(token_hash) = 64", name="token_hashed"),
        Index("tokens_of_user", "user_id"),
    )

    id: UUID = Field(primary_key=True)
    user_id: UUID = Field(foreign_key="users.id")
    name: str = Field(sa_type=Text)
    token_hash: str = Field(max_length=64)
    created_at: datetime = Field(sa_type=UtcMoment)
    expires_on: date
    revoked_at: datetime | None = Field(default=None, sa_type=UtcMoment)
    last_used_at: datetime | None = Field(default=None, sa_type=UtcMoment)


class SignInTries(SQLModel, table=True):
    """Tries to sign in since the last that worked, of one name or from one address.

    Names are kept hashed: people type passwords into the wrong box.
    """

    __tablename__ = "sign_in_tries"
    __table_args__ = (CheckConstraint("count >= 1", name="sign_in_tries_count"),)

    bucket: str = Field(primary_key=True, max_length=80)
    count: int
    last_at: datetime = Field(sa_type=UtcMoment)


class SecurityEvent(SQLModel, table=True):
    """Something that happened to an account; added to, never changed, chained by hash.

    `text` is the canonical JSON that was hashed, as it stands; the other columns repeat parts of it
    for searching.
    """

    __tablename__ = "security_events"
    __table_args__ = (
        # No second unique key: replacing by it would get past the triggers.
        CheckConstraint("seq >= 1", name="security_event_seq"),
        CheckConstraint("length(hash) = 64", name="security_event_hashed"),
    )

    seq: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    kind: str = Field(max_length=40)
    at: datetime = Field(sa_type=UtcMoment)
    by_id: UUID | None = Field(default=None, foreign_key="users.id")
    about_id: UUID | None = Field(default=None, foreign_key="users.id")
    text: str = Field(sa_type=Text)
    hash: str = Field(max_length=64)


#: Tables that the database itself must refuse to change, with the key that may not come twice.
APPEND_ONLY = (("security_events", "seq"),)


def as_person(user: User, *, must_set_password: bool = False) -> Person:
    """The person that a row of `users` stands for."""
    return Person(
        id=user.id,
        username=user.username,
        display_name=user.display_name,
        role=user.role,
        must_set_password=must_set_password,
    )


# --- users -------------------------------------------------------------------------------------


def user_named(db: Session, username: str) -> User | None:
    """The person with this folded name."""
    if "\x00" in username:
        return None  # nobody's; PostgreSQL cannot even be asked for it
    return db.exec(select(User).where(User.username == username)).first()


def users_after(db: Session, username: str | None, limit: int) -> Sequence[User]:
    """People in the order of their names, one more than `limit`."""
    query = select(User).order_by(col(User.username)).limit(limit + 1)
    if username is not None:
        query = query.where(col(User.username) > username)
    return db.exec(query).all()


def other_managers(db: Session, user_id: UUID) -> int:
    """How many other people can sign in, with a password of their own, as manager."""
    return db.exec(
        select(func.count())
        .select_from(User)
        .where(
            User.role == "manager",
            col(User.disabled_at).is_(None),
            col(User.password_hash).is_not(None),
            User.id != user_id,
        )
    ).one()


def managers(db: Session) -> Sequence[User]:
    """Managers whose account is open, oldest first."""
    return db.exec(
        select(User)
        .where(User.role == "manager", col(User.disabled_at).is_(None))
        .order_by(col(User.created_at), col(User.id))
    ).all()


# --- sessions and tokens -----------------------------------------------------------------------

_USERS = User.__table__.c  # type: ignore[attr-defined]
_SESSIONS = SignedInSession.__table__.c  # type: ignore[attr-defined]
_TOKENS = Token.__table__.c  # type: ignore[attr-defined]
_PERSON = (_USERS.id, _USERS.username, _USERS.display_name, _USERS.role)

# Plain columns, not mapped objects: every request of everybody runs one of these two.
BY_SESSION = (
    sa_select(*_PERSON, _SESSIONS.last_seen_at, _SESSIONS.expires_at, _SESSIONS.must_set_password)
    .join_from(SignedInSession.__table__, User.__table__)  # type: ignore[attr-defined]
    .where(_SESSIONS.token_hash == bindparam("token_hash"), _USERS.disabled_at.is_(None))
)
BY_TOKEN = (
    sa_select(*_PERSON, _TOKENS.last_used_at, _TOKENS.expires_on)
    .join_from(Token.__table__, User.__table__)  # type: ignore[attr-defined]
    .where(
        _TOKENS.token_hash == bindparam("token_hash"),
        _TOKENS.revoked_at.is_(None),
        _USERS.disabled_at.is_(None),
    )
)


def end_sessions(db: Session, user_id: UUID) -> None:
    """End every session of a person."""
    db.exec(delete(SignedInSession).where(col(SignedInSession.user_id) == user_id))


def forget_ended_sessions(db: Session, now: datetime) -> None:
    """Drop the rows of sessions that are over."""
    db.exec(delete(SignedInSession).where(col(SignedInSession.expires_at) <= now))


def tokens_after(db: Session, user_id: UUID, after: UUID | None, limit: int) -> Sequence[Token]:
    """A person's tokens that were not revoked, oldest first, one more than `limit`."""
    query = (
        select(Token)
        .where(Token.user_id == user_id, col(Token.revoked_at).is_(None))
        .order_by(col(Token.id))
        .limit(limit + 1)
    )
    if after is not None:
        query = query.where(col(Token.id) > after)
    return db.exec(query).all()


# --- tries to sign in --------------------------------------------------------------------------


def tries_of(db: Session, bucket: str) -> Tries:
    """The tries in a bucket."""
    row = db.get(SignInTries, bucket)
    return NO_TRIES if row is None else Tries(row.count, row.last_at)


def keep_tries(db: Session, bucket: str, tries: Tries) -> None:
    """Write a bucket down."""
    db.merge(SignInTries(bucket=bucket, count=tries.count, last_at=tries.last_at))


def clear_tries(db: Session, buckets: Sequence[str]) -> None:
    """Empty buckets after a sign-in that worked."""
    db.exec(delete(SignInTries).where(col(SignInTries.bucket).in_(buckets)))


def forget_tries(db: Session, before: datetime) -> None:
    """Drop buckets that were quiet for long."""
    db.exec(delete(SignInTries).where(col(SignInTries.last_at) < before))


# --- security events ---------------------------------------------------------------------------


def last_event(db: Session) -> SecurityEvent | None:
    """The newest security event: the head of its chain."""
    return db.exec(select(SecurityEvent).order_by(col(SecurityEvent.seq).desc()).limit(1)).first()


def events_before(
    db: Session, seq: int | None, limit: int, *, person_id: UUID | None = None
) -> Sequence[SecurityEvent]:
    """Security events, newest first, one more than `limit`; by or about a person, or all."""
    query = select(SecurityEvent).order_by(col(SecurityEvent.seq).desc()).limit(limit + 1)
    if seq is not None:
        query = query.where(SecurityEvent.seq < seq)
    if person_id is not None:
        theirs = or_(
            col(SecurityEvent.by_id) == person_id, col(SecurityEvent.about_id) == person_id
        )
        query = query.where(theirs)
    return db.exec(query).all()


def all_events(db: Session) -> Any:
    """Every security event, oldest first, a row at a time."""
    return db.exec(
        select(SecurityEvent).order_by(col(SecurityEvent.seq)).execution_options(yield_per=1_000)
    )
