"""Quillhaven Stallion Station, an invented one: fill an empty bank with it, say how to get in.

Filling is one transaction: it is there as a whole, or, after a Ctrl-C or a failure, not at all.
"""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session, select

from seed_data.alerting import ALERTING
from seed_data.batches import AT_THE_BENCH
from seed_data.bringing import BROUGHT
from seed_data.chronicle import Chance, Chronicle
from seed_data.counting import StockTaken
from seed_data.doses import DOSES
from seed_data.founding import STATION, Founded, StallionChanged, StallionEntered, TanksSetUp
from seed_data.horses import GANNET_DIED_DAYS_AGO, day_gannet_died, stallions
from seed_data.moving import MOVES
from seed_data.nitrogen import tell_nitrogen
from seed_data.people import PEOPLE
from seed_data.sending import SENT
from seed_data.tanks import TANKS
from service.bank.rules import RuleAmounts
from service.bank.store import Stallion, Tank
from service.kernel.acts import Person
from service.kernel.database import Database
from service.people.actions import add_user, hashed_new_password
from service.people.events import Occasion
from service.people.store import User, as_person

#: Any number will do, as long as it stays: it settles every code of the demo.
SEED = 20_210_317

FOUNDED_DAYS_AGO = 2600


def is_empty(database: Database) -> bool:
    """Whether nobody has put anything into this bank yet."""
    with database.reading() as db:
        return all(
            db.exec(select(table).limit(1)).first() is None for table in (User, Tank, Stallion)
        )


def fill(database: Database, *, now: datetime) -> None:
    """Tell seven invented years that end at `now`, all or nothing."""
    hashes = {
        person.username: hashed_new_password(
            person.password, username=person.username, display_name=person.display_name
        )
        for person in PEOPLE
    }
    zone = ZoneInfo(str(STATION["time_zone"]))
    today = now.astimezone(zone).date()
    chance = Chance(SEED)
    with database.writing() as db:
        founded_at = now - timedelta(days=FOUNDED_DAYS_AGO + 1)
        chronicle = Chronicle(
            db=db,
            today=today,
            zone=zone,
            chance=chance,
            people=_people(db, chance, founded_at, hashes),
        )
        chronicle.tell(
            [
                Founded(days_ago=FOUNDED_DAYS_AGO),
                TanksSetUp(days_ago=FOUNDED_DAYS_AGO - 2, tanks=TANKS),
                *(
                    StallionEntered(key=one.key, days_ago=one.days_ago, record=one.record)
                    for one in stallions(today)
                ),
                *BROUGHT,
                *AT_THE_BENCH,
                *DOSES,
                *MOVES,
                *SENT,
                StallionChanged(
                    stallion="gannet",
                    days_ago=GANNET_DIED_DAYS_AGO - 3,
                    changes={"died_on": day_gannet_died(today), "reserve_doses": 2},
                ),
                StallionChanged(
                    stallion="corvane",
                    days_ago=1000,
                    changes={},
                    dose_rule=RuleAmounts(straws=8),
                    by="vera",
                ),
            ]
        )
        tell_nitrogen(chronicle)
        chronicle.tell([*ALERTING, StockTaken()])


def _people(db: Session, chance: Chance, at: datetime, hashes: dict[str, str]) -> dict[str, Person]:
    people = {}
    for person in PEOPLE:
        user, _ = add_user(
            db,
            username=person.username,
            display_name=person.display_name,
            role=person.role,
            occasion=Occasion(at=at, new_id=lambda: chance.id_at(at)),
            password_hash=hashes[person.username],
        )
        people[person.username] = as_person(user)
    return people


def welcome(address: str) -> str:
    """Where to look, how to get in, and what to try first."""
    rows = "\n".join(
        f"    {person.role:<12}{person.username:<9}{person.password}" for person in PEOPLE
    )
    return f"""
Quillhaven Stallion Station is a demo: every horse, person and straw in it is invented, and its
passwords are known to all. Keep no real stock in it.

Open {address} and sign in with one of these user names and passwords:

{rows}

Try this: as vera, take a dose of Corvane Tidewright for a mare, record the insemination, then open
the history of one of its straws. Last night's withdrawal still waits for its record, too.

Alerts leave within a minute, to a mail server and a webhook of the demo's own; what arrives is told
here. Open the link in one as magnus, best on a phone, and take care of it.
"""
