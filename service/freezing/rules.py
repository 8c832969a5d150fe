"""When a freeze, a result or a hold is refused; and which straws end where.

Pure: no HTTP, no database, no clock.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from service.bank.marks import in_words
from service.bank.rules import Warned
from service.kernel.errors import Conflict, Invalid, Unknown
from service.ledger.rules import Movement, Place, StrawNow


class UnknownBatch(Unknown):
    """There is no such batch."""

    code = "unknown-batch"
    title = "There is no such batch"


class WrongStallion(Invalid):
    """A batch of another stallion."""

    code = "wrong-stallion"
    title = "This batch is of another stallion"


class NotPrepared(Conflict):
    """The batch was frozen before."""

    code = "already-frozen"
    title = "This batch is frozen already"


class NotFrozen(Conflict):
    """The batch is only prepared."""

    code = "not-frozen"
    title = "This batch is not frozen yet"


class NotOnHold(Conflict):
    """Nothing to release."""

    code = "not-on-hold"
    title = "This batch is not on hold"


class HoldOver(Invalid):
    """A hold that would be over before it began."""

    code = "hold-over"
    title = "This hold would be over already"


class SampledInFuture(Invalid):
    """A sample that was not taken yet."""

    code = "sampled-in-future"
    title = "This sample was not taken yet"


class PositiveTest(Invalid):
    """A batch with a test that found something, released without saying why."""

    code = "positive-test"
    title = "A test of this batch is positive"


class WrongStraws(Invalid):
    """Straws of another batch, or not prepared any more, where this batch's are needed."""

    code = "wrong-straws"
    title = "These are not straws of this batch"


@dataclass(frozen=True, slots=True)
class Share:
    """So many straws of a batch that end in one place; `codes` are those known to."""

    place: Place
    straws: int
    codes: tuple[str, ...] = ()


def weigh_missing(marks: Sequence[str]) -> list[Warned]:
    """What must stand on straws and is not known."""
    if not marks:
        return []
    message = (
        f"These straws must say {in_words(marks)}, which is not known. Enter it before they are "
        "printed."
    )
    field = "collected_on" if "collected_on" in marks else "stallion_id"
    return [Warned("marks-missing", field, message)]


def allot(straws: Sequence[StrawNow], shares: Sequence[Share]) -> list[Movement]:
    """Every straw to its place: named ones where they were seen, the rest in order, place by place.

    The shares name each place once, each code once, and together take all straws. Where the straws
    that nobody named go to several places, nobody can tell which went where: those are provisional.
    One of them that the book does not store is a twin of those in the first goblet, where it looks
    when its code turns up.
    """
    by_code = {straw.code: straw for straw in straws}
    named = {code for share in shares for code in share.codes}
    rest = iter(straw for straw in straws if straw.code not in named)
    unnamed = [share.place for share in shares if share.straws > len(share.codes)]
    in_doubt = len(unnamed) > 1
    twins_in = next((place.goblet_id for place in unnamed if place.goblet_id), None)
    movements = []
    for share in shares:
        movements += [Movement(by_code[code], share.place) for code in share.codes]
        for straw in islice(rest, share.straws - len(share.codes)):
            beside = straw._replace(left_goblet_id=twins_in if in_doubt else None)
            movements.append(Movement(beside, share.place, provisional=in_doubt))
    return movements
