"""What is printed: a batch, a straw or a place, and the codes that its labels bear."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args
from uuid import UUID

from sqlmodel import Session

from service.kernel import codes
from service.kernel.codes import Kind
from service.printing import rules, store
from service.printing.store import VOID, Place

SubjectKind = Literal["batch", "straw", "goblet", "canister", "tank"]
StrawStyle = Literal["strip", "flag"]
Style = Literal["strip", "flag", "plate", "plates"]

STRAW_STYLES: tuple[StrawStyle, ...] = get_args(StrawStyle)
_OF_STRAWS = ("batch", "straw")


@dataclass(frozen=True, slots=True)
class Subject:
    """A thing with labels: `id` is a straw's code, or the hexadecimal id of all others."""

    kind: SubjectKind
    id: str
    batch_id: UUID | None
    codes: tuple[str, ...]
    places: tuple[Place, ...] = ()


def read_what(db: Session, what: str) -> tuple[SubjectKind, str]:
    """The kind and id of what a code names. Raises MisreadCode, UnknownSubject."""
    read = codes.read(what)
    if read.kind is Kind.STRAW:
        return "straw", read.code
    found = store.id_of_code(db, read)
    if found is None:
        raise _unknown()
    kind: SubjectKind = read.kind.value  # type: ignore[assignment]
    return kind, found.hex


def subject_of(db: Session, kind: SubjectKind, id: str, *, inside: bool = False) -> Subject:
    """The labels of a thing; `inside`: with the plates of all that hangs in a place.

    Raises UnknownSubject, NoLabels, MisreadCode.
    """
    if kind == "straw":
        return _straw(db, id)
    try:
        key = UUID(id)
    except ValueError:
        raise _unknown() from None
    if kind == "batch":
        return _batch(db, key)
    places = store.places(db, kind, key, inside=inside)
    if not places:
        raise _unknown()
    return Subject(kind, key.hex, None, tuple(place.code for place in places), places)


def styled(kind: SubjectKind, style: Style) -> None:
    """Raise OtherStyle where this kind of thing has no such label."""
    if (kind in _OF_STRAWS) != (style in STRAW_STYLES):
        raise rules.OtherStyle(
            "Straws have strips and flags; goblets, canisters and tanks have plates.",
            errors=[{"field": "style", "message": f"is not for a {kind}"}],
        )


def narrowed(subject: Subject, straws: Sequence[str] | None) -> tuple[str, ...]:
    """The labels that are wanted: all, or those of the straws that are named, in the book's order.

    Raises OtherStraws, MisreadCode.
    """
    if straws is None:
        return subject.codes
    asked = [codes.read(code).code for code in straws]
    rules.refuse_other_straws(asked, subject.codes)
    return tuple(code for code in subject.codes if code in set(asked))


def recorded(
    db: Session, kind: SubjectKind, id: str, style: Style, labels: tuple[str, ...]
) -> Subject:
    """What a print of the past was of, whatever became of its straws and places since."""
    if style in STRAW_STYLES:
        straw = store.straw_of_code(db, labels[0])
        return Subject(kind, id, straw.batch_id if straw else None, labels)
    places = tuple(place for code in labels for place in _place_of_code(db, code))
    return Subject(kind, id, None, labels, places)


def _place_of_code(db: Session, code: str) -> tuple[Place, ...]:
    read = codes.read(code)
    found = store.id_of_code(db, read)
    return store.places(db, read.kind.value, found, inside=False) if found else ()


def _straw(db: Session, code: str) -> Subject:
    read = codes.read(code)
    straw = store.straw_of_code(db, read.code)
    if straw is None:
        raise _unknown()
    if straw.state == VOID:
        raise rules.NoLabels(
            "This straw was marked and never filled: its label is worth nothing. Destroy it where "
            "it turns up.",
            straw_code=read.code,
        )
    if not straw.coded:
        raise rules.NoLabels("This straw is from before labels, and goes by count.")
    return Subject("straw", read.code, straw.batch_id, (read.code,))


def _batch(db: Session, batch_id: UUID) -> Subject:
    if not store.is_batch(db, batch_id):
        raise _unknown()
    found = store.codes_of_batch(db, batch_id)
    if not found:
        raise rules.NoLabels(
            "This batch has no straws with a code: they are from before labels, and go by count."
        )
    return Subject("batch", batch_id.hex, batch_id, found)


def _unknown() -> rules.UnknownSubject:
    return rules.UnknownSubject("There is nothing under this. Scan it again, or choose it anew.")
