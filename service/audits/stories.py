"""Tells what may have happened where count and book do not agree, the likeliest first.

Pure. A story is the likelier the more exactly it fits: a code that was read before a number that
fits, a number that fits an act before a habit, a habit before what can always be. Of acts that fit
alike the newer comes first. The weights say that order and nothing more.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations

from service.audits.rules import Act, Difference, Story

#: What is older than this, seen from the newest act, is not remembered as the cause.
LAST_WEEKS = timedelta(weeks=8)

#: Two like acts this close may be one act that was recorded twice.
CLOSE = timedelta(hours=48)

#: From so many straws on a hand that counts is easily wrong by one or two.
MANY_STRAWS = 20

#: So many stories are told at most.
MOST_STORIES = 6

_DONE = {
    "withdraw": "withdrawal",
    "discard": "discard",
    "dispatch": "dispatch",
    "move": "move",
    "return": "return",
    "receive": "receipt",
    "freeze": "freeze",
}


@dataclass(frozen=True, slots=True)
class _Told:
    """A story before it is ranked: by weight (the lower the likelier), then the newer act."""

    weight: float
    kind: str
    words: str
    seq: int = 0


def stories(
    difference: Difference, acts: Sequence[Act], neighbours: Sequence[Difference] = ()
) -> list[Story]:
    """The likely stories of a difference, ranked from 1.

    `acts` are acts on its batch, in its goblet or in others (then only those of the same size are
    told), in any order. `neighbours` are the other differences of its goblet.
    """
    if difference.kind == "disturbed":
        told = [_Told(0, "count-again", "Something was booked here during the count: count again.")]
    elif difference.batch_id is None or not difference.difference:
        told = list(_of_marks(difference))
    else:
        recent = _recent(acts)
        here = [act for act in recent if act.goblet_id == difference.goblet_id]
        told = [
            *_by_code_or_place(difference),
            *_by_neighbours(difference, neighbours),
            *_twice(difference, here),
            *_recorded_wrongly(difference, here),
            *_elsewhere(difference, recent),
            *_not_recorded(difference, here),
            *_count_slip(difference),
        ]
    ranked = sorted(told, key=lambda one: (one.weight, -one.seq, one.kind))[:MOST_STORIES]
    return [
        Story(rank, one.kind, one.words, one.seq or None)
        for rank, one in enumerate(ranked, start=1)
    ]


def _recent(acts: Sequence[Act]) -> list[Act]:
    """The acts of the last weeks, the oldest first."""
    newest = max((act.occurred_at for act in acts), default=None)
    recent = [act for act in acts if newest and newest - act.occurred_at <= LAST_WEEKS]
    return sorted(recent, key=lambda act: (act.occurred_at, act.seq))


def _of_marks(difference: Difference) -> Iterable[_Told]:
    if difference.foreign:
        yield _Told(
            0,
            "foreign",
            "A straw that this bank never marked: received and not recorded, or put here wrongly.",
        )
    else:
        yield _Told(0, "mark-lost", "Marks that cannot be read any more: rubbed off, or iced over.")


def _by_code_or_place(difference: Difference) -> Iterable[_Told]:
    move, straws = difference.move, abs(difference.difference)
    if move is not None:
        away = difference.difference < 0
        weight = {"certain": 0, "likely": 10, "possible": 26}[move.sure]
        why = {
            "certain": "their codes were read",
            "likely": f"just as many are {'too many' if away else 'missing'}",
            "possible": f"straws are {'too many' if away else 'missing'}",
        }[move.sure]
        what = "Put into another goblet" if away else "Come from another goblet"
        yield _Told(weight, "put-elsewhere", f"{what} without a record: {why} there.")
    elif difference.kind == "ambiguous" and difference.candidates:
        yield _Told(28, "put-elsewhere", "One of several places may explain it: look there first.")
    if difference.kind == "surplus" and difference.codes:
        yield _Told(
            6,
            "other-straw-recorded",
            f"The record that took {_straws(straws)} away named these, and they are still here: "
            "another straw went, or none, or it was put back.",
        )


def _by_neighbours(difference: Difference, neighbours: Sequence[Difference]) -> Iterable[_Told]:
    by = difference.difference
    for other in neighbours:
        if other.batch_id is None and other.kind == "unknown" and not other.foreign and by < 0:
            exact = other.difference == -by
            how = "just as many" if exact else f"{other.difference}"
            words = f"Marks were lost: {how} here could not be read."
            yield _Told(12 if exact else 34, "mark-lost", words)
        elif other.batch_id == difference.batch_id and other.difference * by < 0:
            words = "A mark was lost, or one straw taken for another of the same batch."
            yield _Told(14, "mark-lost", words)
        elif other.batch_id is not None and other.difference * by < 0:
            exact = other.difference == -by
            more = "missing" if by > 0 else "too many"
            how = "just as many" if exact else f"{abs(other.difference)}"
            words = f"Neighbours taken for each other: of another batch here {how} are {more}."
            yield _Told(11 if exact else 45, "neighbours-swapped", words)


def _twice(difference: Difference, acts: Sequence[Act]) -> Iterable[_Told]:
    """Two like acts close in time, each as large as what is too many (or, of arrivals, missing)."""
    fitting = [act for act in acts if act.change == -difference.difference]
    for first, second in combinations(fitting, 2):
        apart = second.occurred_at - first.occurred_at
        if first.kind == second.kind and apart <= CLOSE:
            words = (
                f"Recorded twice: the {_named(second)} has a like one {_apart(apart)} before it, "
                "and the difference is just as large."
            )
            yield _Told(15 + 6 * (apart / CLOSE), "recorded-twice", words, second.seq)


def _recorded_wrongly(difference: Difference, acts: Sequence[Act]) -> Iterable[_Told]:
    """Acts whose size says how they may have been written down wrongly."""
    by = difference.difference
    for act in acts:
        age = _age(act, acts)
        if act.change == -by:
            words = (
                f"The {_named(act)} was of another goblet or batch, or did not happen: "
                "the difference is just as large."
            )
            yield _Told(22 + age, "wrong-goblet-or-batch", words, act.seq)
        elif act.change == by:
            words = f"The {_named(act)} was of twice as many: the difference is just as large."
            yield _Told(29 + age, "wrong-number", words, act.seq)
        elif act.change == -2 * by:
            words = f"The {_named(act)} was of half as many: the difference is the other half."
            yield _Told(30 + age, "wrong-number", words, act.seq)
        elif act.change and abs(by) == 1 and abs(act.change) > 1:
            words = f"The {_named(act)} was written down wrong by one."
            yield _Told(46 + age, "wrong-number", words, act.seq)


def _elsewhere(difference: Difference, acts: Sequence[Act]) -> Iterable[_Told]:
    for act in acts:
        if act.goblet_id != difference.goblet_id and act.change == difference.difference:
            words = f"The {_named(act)} was recorded in another goblet and happened here."
            yield _Told(20 + _age(act, acts), "wrong-goblet-or-batch", words, act.seq)


def _not_recorded(difference: Difference, acts: Sequence[Act]) -> Iterable[_Told]:
    by = difference.difference
    if by > 0:
        taken = [act for act in acts if act.kind in {"withdraw", "lift"} and act.change == -by]
        returned = Counter(act.change for act in acts if act.kind == "return")
        if taken and returned[by] < len(taken):
            words = f"Put back and not recorded: the {_named(taken[-1])} was of just as many."
            yield _Told(17, "put-back-not-recorded", words, taken[-1].seq)
        else:
            yield _Told(42, "put-back-not-recorded", "Straws were put back and not recorded.")
        yield _Told(48, "arrival-not-recorded", "Straws came here and were not recorded.")
        return
    usual = Counter(act.change for act in acts if act.kind == "withdraw")
    if usual[by]:
        words = f"A withdrawal was never recorded: others here were of {_straws(-by)} as well."
        yield _Told(24, "withdrawal-not-recorded", words)
    else:
        words = "A withdrawal was never recorded."
        yield _Told(38, "withdrawal-not-recorded", words)
    words = "A discard, a dispatch or a move out of this goblet was never recorded."
    yield _Told(44, "departure-not-recorded", words)


def _count_slip(difference: Difference) -> Iterable[_Told]:
    """Only where somebody counted by hand: codes that were read do not slip."""
    straws = abs(difference.difference)
    if difference.codes or straws > 2:
        return
    if difference.expected >= MANY_STRAWS:
        words = f"A slip of the count: {difference.expected} straws, and {straws} off."
        yield _Told(21 + straws, "count-slip", words)
    else:
        yield _Told(49 + straws, "count-slip", f"A slip of the count by {straws}.")


def _age(act: Act, acts: Sequence[Act]) -> float:
    """0 for the newest act, up to 4 for one of eight weeks before it."""
    return 4 * ((acts[-1].occurred_at - act.occurred_at) / LAST_WEEKS)


def _named(act: Act) -> str:
    day: datetime = act.occurred_at
    done = _DONE.get(act.kind, f"entry “{act.kind}”")
    return f"{done} of {_straws(abs(act.change))} on {day.day} {day:%b %Y} by {act.by}"


def _apart(time: timedelta) -> str:
    minutes = int(time.total_seconds() // 60)
    if minutes < 120:
        return f"{minutes} minutes"
    return f"{minutes // 60} hours"


def _straws(number: int) -> str:
    return "1 straw" if number == 1 else f"{number} straws"
