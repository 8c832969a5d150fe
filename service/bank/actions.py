"""What is done to station, stallions and mares (`tanks_actions`: to tanks).

Inside the write transaction of the caller, so what is checked still holds when it commits.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from functools import cache
from typing import Any
from uuid import UUID
from zoneinfo import available_timezones

from sqlmodel import Session

from service.bank import identity, rules, search
from service.bank.doses import DoseRule
from service.bank.records import Changes, Facts, apply, facts_of, kept
from service.bank.rules import NewMare, NewStallion, RuleAmounts, Warned
from service.bank.store import (
    DoseRuleRow,
    Mare,
    Stallion,
    Station,
    day_of,
    dose_rules_of,
    rule_in,
    station_of,
)
from service.kernel.acts import Act

#: Under which the station's changes are kept; the table's own key is a plain 1.
STATION_ID = UUID(int=1)


def ensure_station(db: Session) -> Station:
    """The station; at the very first start it is made, to be put right by a manager."""
    station = db.get(Station, 1)
    if station is None:
        # The separators keep a day from being taken for a year.
        station = Station(
            name="Our station", time_zone="UTC", mark_date_format="dd.mm.yy", level_unit="cm"
        )
        db.add(station)
        db.flush()
    return station


def change_station(db: Session, act: Act, changes: Changes) -> Station:
    """Change what is given. Raises BadTimeZone, BadCountry, SameTestTwice, SameMarkTwice."""
    station = station_of(db)
    changes = dict(changes)
    if "time_zone" in changes and changes["time_zone"] not in _time_zones():
        raise rules.BadTimeZone(
            "A time zone is named after a city, such as Europe/Dublin (IANA data base).",
            errors=[{"field": "time_zone", "message": "is not a time zone"}],
        )
    if changes.get("country") is not None:
        changes["country"] = identity.read_country(changes["country"])
    if "required_tests" in changes:
        rules.refuse_same_test_twice(changes["required_tests"])
    if "required_marks" in changes:
        rules.refuse_same_mark_twice(changes["required_marks"])
    with kept(db, act, "station", STATION_ID, lambda: facts_of(station)):
        apply(station, changes)
    return station


@cache
def _time_zones() -> frozenset[str]:
    """All names of the data base; reading them takes tens of milliseconds.

    Two that some machines list are no place on earth: `localtime` is whatever the machine is set
    to, `Factory` says that nobody has set it.
    """
    return frozenset(available_timezones() - {"localtime", "Factory"})


@dataclass(frozen=True, slots=True)
class StallionSeen:
    """A stallion with the rule that holds and what is unusual about him."""

    stallion: Stallion
    rule: DoseRule
    warnings: list[Warned]


def stallion_of(db: Session, stallion_id: UUID) -> Stallion:
    """The stallion. Raises UnknownStallion."""
    stallion = db.get(Stallion, stallion_id)
    if stallion is None:
        raise rules.UnknownStallion(
            "No stallion has this id. Choose one of the list.", stallion_id=stallion_id
        )
    return stallion


def look_at(db: Session, stallions: Sequence[Stallion], now: datetime) -> list[StallionSeen]:
    """The stallions as they are shown, with what is unusual."""
    today = day_of(db, now)
    held = dose_rules_of(db, [stallion.id for stallion in stallions])
    shared = search.shared_names(db, [stallion.folded_name for stallion in stallions])
    return [
        StallionSeen(
            stallion,
            held[stallion.id],
            rules.weigh_stallion(
                ueln=stallion.ueln,
                namesake=stallion.folded_name in shared,
                foaled_on=stallion.foaled_on,
                last_day=stallion.died_on or today,
            )
            + rules.weigh_dose_rule(held[stallion.id]),
        )
        for stallion in stallions
    ]


def add_stallion(db: Session, act: Act, new: NewStallion) -> Stallion:
    """Enter a stallion and his first dose rule.

    Raises BadUeln, BadMicrochip, AlreadyKnown, BadDates.
    """
    facts = {field.name: getattr(new, field.name) for field in fields(new)}
    asked = facts.pop("dose_rule")
    stallion = Stallion(
        id=act.id,
        folded_name=rules.folded(new.name),
        created_at=act.recorded_at,
        **_in_one_spelling(facts),
    )
    _refuse_impossible(db, act, stallion)
    db.add(stallion)
    db.flush()
    db.add(_rule_row(act, stallion.id, number=1, asked=asked))
    db.flush()
    return stallion


def change_stallion(
    db: Session, act: Act, stallion: Stallion, changes: Changes, asked: RuleAmounts | None
) -> None:
    """Change what is given; another dose rule is added to those before.

    Raises BadUeln, BadMicrochip, AlreadyKnown, BadDates, ReserveIsManagers.
    """
    newest = search.rules_of(db, stallion.id)[0]
    rules.refuse_lower_reserve(
        reserve_doses=changes.get("reserve_doses", stallion.reserve_doses),
        now_reserved=stallion.reserve_doses,
        manager=act.by.role == "manager",
    )

    def facts() -> Facts:
        return facts_of(stallion) | {"dose_rule": _rule_facts(newest)}

    with kept(db, act, "stallion", stallion.id, facts):
        apply(stallion, _in_one_spelling(changes))
        stallion.folded_name = rules.folded(stallion.name)
        _refuse_impossible(db, act, stallion)
        if asked is not None:
            row = _rule_row(act, stallion.id, number=newest.number + 1, asked=asked)
            if rule_in(row) != rule_in(newest):
                db.add(row)
                newest = row


def _refuse_impossible(db: Session, act: Act, stallion: Stallion) -> None:
    rules.refuse_impossible_life(
        foaled_on=stallion.foaled_on,
        died_on=stallion.died_on,
        today=day_of(db, act.recorded_at),
    )
    for other in search.stallion_with(db, ueln=stallion.ueln, microchip=stallion.microchip):
        if other.id != stallion.id:
            number = "UELN" if stallion.ueln and other.ueln == stallion.ueln else "microchip"
            raise rules.AlreadyKnown(
                f"{other.name} has this {number} already. Two numbers alike are one stallion: "
                "use his record, or copy the number again.",
                stallion_id=other.id,
                stallion_name=other.name,
                field=number.lower(),
            )


def _in_one_spelling(facts: Mapping[str, Any]) -> dict[str, Any]:
    spelled = dict(facts)
    if facts.get("ueln") is not None:
        spelled["ueln"] = identity.read_ueln(facts["ueln"])
    if facts.get("microchip") is not None:
        spelled["microchip"] = identity.read_microchip(facts["microchip"])
    return spelled


def _rule_row(act: Act, stallion_id: UUID, *, number: int, asked: RuleAmounts) -> DoseRuleRow:
    return DoseRuleRow(
        id=act.new_id(),
        stallion_id=stallion_id,
        number=number,
        kind="sperm" if asked.straws is None else "straws",
        straws=asked.straws,
        progressive_million=asked.progressive_million,
        minimum_post_thaw_percent=asked.minimum_post_thaw_percent,
        since=act.occurred_at,
        set_by=act.by.id,
        set_by_name=act.by.display_name,
    )


def _rule_facts(row: DoseRuleRow) -> dict[str, Any]:
    amounts = {"kind", "straws", "progressive_million", "minimum_post_thaw_percent"}
    return row.model_dump(mode="json", include=amounts, exclude_none=True)


def mare_of(db: Session, mare_id: UUID) -> Mare:
    """The mare. Raises UnknownMare."""
    mare = db.get(Mare, mare_id)
    if mare is None:
        raise rules.UnknownMare(
            "No mare has this id. Choose one of the list, or enter her.", mare_id=mare_id
        )
    return mare


def new_mare(db: Session, act: Act, new: NewMare, *, id: UUID) -> Mare:
    """Enter a mare; others may have her name. Raises BadUeln.

    `id` is the act's own when entering her is the act, and a new one when she comes with another
    act (a withdrawal for a mare seen for the first time).
    """
    mare = Mare(
        id=id,
        name=new.name,
        folded_name=rules.folded(new.name),
        ueln=None if new.ueln is None else identity.read_ueln(new.ueln),
        owner=new.owner,
        created_at=act.recorded_at,
    )
    db.add(mare)
    db.flush()
    return mare


def change_mare(db: Session, act: Act, mare: Mare, changes: Changes) -> None:
    """Change what is given. Raises BadUeln."""
    with kept(db, act, "mare", mare.id, lambda: facts_of(mare)):
        apply(mare, _in_one_spelling(changes))
        mare.folded_name = rules.folded(mare.name)


def look_at_mares(db: Session, mares: Sequence[Mare]) -> list[tuple[Mare, list[Warned]]]:
    """The mares as they are shown, each with what is unusual."""
    bearers = search.mares_with(db, [mare.ueln for mare in mares if mare.ueln is not None])
    return [
        (
            mare,
            rules.weigh_mare(
                [other.name for other in bearers[mare.ueln] if other.id != mare.id]
                if mare.ueln is not None
                else []
            ),
        )
        for mare in mares
    ]
