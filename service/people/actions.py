"""What managers do with people's accounts, and everybody with their own tokens."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.kernel.acts import Person, Role
from service.people import hashing, passwords, store
from service.people.events import Kind, Occasion, record
from service.people.rules import (
    RESET_CODE_LIFETIME,
    SET_UP_CODE_LIFETIME,
    LastManager,
    OwnReset,
    PersonDisabled,
    UnknownPerson,
    UnknownToken,
    UsernameTaken,
    folded,
    new_username,
    token_end,
)
from service.people.store import Token, User

#: The first manager's account at set-up; a name that nobody would choose for themselves.
SET_UP_USERNAME = "first-manager"


@dataclass(frozen=True, slots=True)
class OneTimeCode:
    """A code that opens an account once, to set a password; kept hashed, so shown only now."""

    username: str
    code: str
    expires_at: datetime


def hashed_new_password(password: str, *, username: str, display_name: str) -> str:
    """A first password, checked and hashed; call it before the transaction. Raises WeakPassword."""
    normal = passwords.new_password(password, own_words=(username, display_name))
    return hashing.hashed_password(normal)


def add_user(
    db: Session,
    *,
    username: str,
    display_name: str,
    role: Role,
    occasion: Occasion,
    password_hash: str | None = None,
) -> tuple[User, OneTimeCode | None]:
    """Add a person. Without a password a one-time code comes back, good for a day.

    Raises BadUsername, UsernameTaken.
    """
    name = new_username(username)
    if store.user_named(db, name) is not None:
        raise UsernameTaken(f"“{name}” is taken. Choose another user name.", username=name)
    user = User(
        id=occasion.new_id(),
        username=name,
        display_name=display_name,
        role=role,
        password_hash=password_hash,
        created_at=occasion.at,
    )
    db.add(user)
    db.flush()
    code = None
    if password_hash is None:
        code = _give_code(user, occasion.at, SET_UP_CODE_LIFETIME)
    record(db, Kind.USER_ADDED, occasion, about=user, role=role)
    return user, code


def first_manager_code(db: Session, *, occasion: Occasion) -> OneTimeCode | None:
    """A code for the first manager, to be shown at start; None when it is not needed.

    Needed while no manager has a password and none holds a code that is still good: so a code that
    nobody used is replaced at the next start, and never a second account is made.
    """
    waiting = None
    for manager in store.managers(db):
        if manager.password_hash or _code_is_good(manager, occasion.at):
            return None
        waiting = waiting or manager
    if waiting is None:
        _, code = add_user(
            db,
            username=_free_username(db),
            display_name="Manager",
            role="manager",
            occasion=occasion,
        )
        return code
    code = _give_code(waiting, occasion.at, SET_UP_CODE_LIFETIME)
    record(db, Kind.SET_UP_CODE_MADE, occasion, about=waiting)
    return code


def end_set_up(db: Session, *, occasion: Occasion) -> None:
    """Close set-up accounts that nobody used, now that a manager can sign in another way."""
    for manager in store.managers(db):
        unused = manager.username.startswith(SET_UP_USERNAME) and manager.password_hash is None
        if unused and manager.disabled_at is None:
            manager.disabled_at = occasion.at
            manager.one_time_code_hash = manager.one_time_code_expires_at = None
            record(db, Kind.USER_DISABLED, occasion, about=manager)


def _code_is_good(user: User, at: datetime) -> bool:
    return user.one_time_code_expires_at is not None and at < user.one_time_code_expires_at


def _free_username(db: Session) -> str:
    number, name = 1, SET_UP_USERNAME
    while store.user_named(db, name) is not None:
        number += 1
        name = f"{SET_UP_USERNAME}{number}"
    return name


def _give_code(user: User, at: datetime, lifetime: timedelta) -> OneTimeCode:
    code = hashing.new_code()
    user.one_time_code_hash = hashing.code_digest(code)
    user.one_time_code_expires_at = at + lifetime
    return OneTimeCode(user.username, code, user.one_time_code_expires_at)


def person(db: Session, user_id: UUID) -> User:
    """The person with this id. Raises UnknownPerson."""
    user = db.get(User, user_id)
    if user is None:
        raise UnknownPerson("Nobody has this id. Look the person up in the list of people.")
    return user


def named(db: Session, username: str) -> User:
    """The person with this user name, in any case. Raises UnknownPerson."""
    user = store.user_named(db, folded(username))
    if user is None:
        raise UnknownPerson(f"Nobody has the user name “{username}”.")
    return user


def person_called(db: Session, text: str) -> User:
    """The person with this id, or with this user name. Raises UnknownPerson."""
    try:
        return person(db, UUID(text))
    except ValueError:
        if not text.isprintable():  # no database can compare with a NUL
            raise UnknownPerson("Nobody has this user name.") from None
        return named(db, text)


def change_person(
    db: Session,
    user: User,
    *,
    occasion: Occasion,
    display_name: str | None = None,
    role: Role | None = None,
    disabled: bool | None = None,
) -> None:
    """Change a person's name or role, close or open the account; None leaves a thing as it is.

    A new role counts from the next request on; closing ends every session, and stops every token
    while the account is closed.
    Raises LastManager.
    """
    before = _changeable(user)
    given = {"display_name": display_name, "role": role, "disabled": disabled}
    after = before | {name: value for name, value in given.items() if value is not None}
    _keep_a_manager(db, user, before, after)
    user.display_name = after["display_name"]
    user.role = after["role"]
    if after["disabled"] and not before["disabled"]:
        user.disabled_at = occasion.at
        store.end_sessions(db, user.id)
    elif not after["disabled"]:
        user.disabled_at = None
    changes = {name: after[name] for name in after if after[name] != before[name]}
    if changes:
        record(db, _kind_of(changes), occasion, about=user, changes=changes)


def _changeable(user: User) -> dict[str, Any]:
    return {
        "display_name": user.display_name,
        "role": user.role,
        "disabled": user.disabled_at is not None,
    }


def _kind_of(changes: Mapping[str, Any]) -> Kind:
    if "disabled" in changes:
        return Kind.USER_DISABLED if changes["disabled"] else Kind.USER_ENABLED
    return Kind.USER_CHANGED


def _keep_a_manager(
    db: Session, user: User, before: Mapping[str, Any], after: Mapping[str, Any]
) -> None:
    was = before["role"] == "manager" and not before["disabled"]
    stays = after["role"] == "manager" and not after["disabled"]
    if was and not stays and store.other_managers(db, user.id) == 0:
        raise LastManager(
            "Nobody else can manage the station. Make another person a manager first, and let "
            "them set their password."
        )


def reset(db: Session, user_id: UUID, *, occasion: Occasion) -> OneTimeCode:
    """Give a person who cannot sign in a code, good for a quarter of an hour.

    The password and every session end at once; tokens stay, for a printer should not stop because
    its owner forgot a password. An account that is no longer trusted is disabled instead.
    Raises UnknownPerson, PersonDisabled, OwnReset.
    """
    user = person(db, user_id)
    if user.disabled_at is not None:
        raise PersonDisabled("This account is disabled. Enable it first, then reset it.")
    if occasion.by is not None and occasion.by.id == user.id:
        raise OwnReset("You are signed in. Set a new password in your own settings.")
    code = _give_code(user, occasion.at, RESET_CODE_LIFETIME)
    user.password_hash = None
    store.end_sessions(db, user.id)
    record(db, Kind.USER_RESET, occasion, about=user)
    return code


def make_token(
    db: Session, *, who: Person, name: str, expires_on: date | None, occasion: Occasion
) -> tuple[Token, str]:
    """Make a token that acts as its owner; its text comes back this once. Raises BadExpiry."""
    text = hashing.new_token()
    token = Token(
        id=occasion.new_id(),
        user_id=who.id,
        name=name,
        token_hash=hashing.digest(text),
        created_at=occasion.at,
        expires_on=token_end(expires_on, today=occasion.at.date()),
    )
    db.add(token)
    record(
        db,
        Kind.TOKEN_MADE,
        occasion,
        about=person(db, who.id),
        token_id=str(token.id),
        expires_on=token.expires_on.isoformat(),
    )
    return token, text


def revoke_token(db: Session, token_id: UUID, *, who: Person, occasion: Occasion) -> None:
    """Stop one of one's own tokens, at once. Raises UnknownToken."""
    token = db.get(Token, token_id)
    if token is None or token.user_id != who.id or token.revoked_at is not None:
        raise UnknownToken("You have no token with this id. Look it up in your list of tokens.")
    token.revoked_at = occasion.at
    record(db, Kind.TOKEN_REVOKED, occasion, about=person(db, who.id), token_id=str(token.id))
