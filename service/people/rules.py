"""The refusals of people, their user names, and how long sessions and tokens last."""

import unicodedata
from datetime import date, datetime, timedelta

from service.kernel.acts import Role
from service.kernel.errors import Conflict, Forbidden, Invalid, SignedOut, TooMany, Unknown
from service.kernel.quoting import shown

#: A session ends this long after signing in, whatever happens.
SESSION_LIFETIME = timedelta(hours=12)

#: A session opened with a one-time code is for setting a password and for nothing else.
SET_PASSWORD_WITHIN = timedelta(minutes=30)

#: A session ends when it was not used for so long. At the tank a phone rests between two acts;
#: who may change the station sits at a desk.
IDLE: dict[Role, timedelta] = {
    "technician": timedelta(minutes=60),
    "vet": timedelta(minutes=60),
    "manager": timedelta(minutes=30),
    "auditor": timedelta(minutes=30),
}

#: How exactly it is kept when a session or token was last used. A session may therefore end up to
#: this much early, never late.
USE_NOTED_EVERY = timedelta(minutes=1)

#: Within this time after signing in, a new password needs no second proof of the old one.
FRESH = timedelta(minutes=15)

SET_UP_CODE_LIFETIME = timedelta(hours=24)
RESET_CODE_LIFETIME = timedelta(minutes=15)

#: Tokens end, so that a forgotten one does: after a year where nothing else is said, or sooner.
LONGEST_TOKEN_DAYS = 366
USUAL_TOKEN_DAYS = 365

LONGEST_USERNAME = 60


class WrongSignIn(SignedOut):
    """The one answer to a wrong name, a wrong password, an old code and a closed account."""

    code = "wrong-sign-in"
    title = "Name or password is wrong"


class TooManySignIns(TooMany):
    """This name, or this address, was tried too often."""

    code = "too-many-tries"
    title = "Too many tries to sign in"


class SessionNeeded(Forbidden):
    """Only a person who signed in may do this, not a program with a token."""

    code = "session-needed"
    title = "Sign in for this; a token is not enough"


class WrongPassword(Forbidden):
    """The password that was to be replaced is another."""

    code = "wrong-password"
    title = "The present password is wrong"


class WeakPassword(Invalid):
    """A password that is guessed soon."""

    code = "weak-password"
    title = "This password is guessed too easily"


class BadUsername(Invalid):
    """Not a name to sign in with."""

    code = "bad-username"
    title = "This cannot be a user name"


class UsernameTaken(Conflict):
    """Somebody has this name already."""

    code = "username-taken"
    title = "This user name is taken"


class LastManager(Conflict):
    """Without this person nobody could manage the station."""

    code = "last-manager"
    title = "This is the last manager"


class PersonDisabled(Conflict):
    """The person's account is closed."""

    code = "person-disabled"
    title = "This account is disabled"


class OwnReset(Conflict):
    """A reset is for people who cannot sign in."""

    code = "own-reset"
    title = "Set your own password instead"


class UnknownPerson(Unknown):
    """Nobody has this id."""

    code = "unknown-person"
    title = "There is no such person"


class UnknownToken(Unknown):
    """No token of this person has this id."""

    code = "unknown-token"
    title = "There is no such token"


class BadExpiry(Invalid):
    """A token cannot end on that day."""

    code = "bad-expiry"
    title = "A token cannot end then"


def folded(username: str) -> str:
    """The form in which user names are compared and kept: NFKC, case folded, NFKC again."""
    once = unicodedata.normalize("NFKC", username).casefold()
    return unicodedata.normalize("NFKC", once).strip()


def new_username(username: str) -> str:
    """A user name, folded; letters of any script, digits, and `. _ @ + -` inside.

    Raises BadUsername.
    """
    name = folded(username)
    if not 2 <= len(name) <= LONGEST_USERNAME:
        raise _bad_username(f"A user name has 2 to {LONGEST_USERNAME} signs.")
    strange = next((sign for sign in name if not _may_stand_in_username(sign)), None)
    if strange is not None:
        raise _bad_username(f"“{shown(strange)}” cannot stand in a user name.")
    return name


def _may_stand_in_username(sign: str) -> bool:
    return sign in "._@+-" or unicodedata.category(sign)[0] in "LMN"


def _bad_username(fact: str) -> BadUsername:
    return BadUsername(
        f"{fact} Use letters, digits and . _ @ + - without spaces.",
        errors=[{"field": "username", "message": fact}],
    )


def session_is_open(
    *, role: Role, now: datetime, last_seen_at: datetime, expires_at: datetime
) -> bool:
    """Whether a session still stands: neither over nor idle for too long."""
    return now < expires_at and now < last_seen_at + IDLE[role]


def token_is_open(*, today: date, expires_on: date) -> bool:
    """Whether a token still works: until the end of its last day, in UTC."""
    return today <= expires_on


def token_end(asked: date | None, *, today: date) -> date:
    """The last day of a new token. Raises BadExpiry."""
    if asked is None:
        return today + timedelta(days=USUAL_TOKEN_DAYS)
    last = today + timedelta(days=LONGEST_TOKEN_DAYS)
    if today <= asked <= last:
        return asked
    fact = f"Choose a day from {today} to {last}."
    raise BadExpiry(
        f"{fact} A token that is needed longer is made anew once a year.",
        errors=[{"field": "expires_on", "message": fact}],
    )
