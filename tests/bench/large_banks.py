"""Banks of many straws for the benchmarks, booked through the ledger so that they check."""

import random
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from uuid import UUID

from sqlalchemy import insert
from sqlmodel import Session

from service.app import open_book
from service.bank.rules import folded
from service.bank.store import Batch, Canister, DoseRuleRow, Goblet, Mare, Stallion, Tank
from service.freezing.store import new_straw_codes
from service.kernel.acts import Act, Person
from service.kernel.codes import Kind, make
from service.kernel.database import Database
from service.ledger.book import book
from service.ledger.rules import Movement, Place, new_straw
from service.people.actions import add_user, make_token
from service.people.events import Occasion
from service.people.store import as_person
from service.settings import Settings

STRAWS_A_BATCH = 200
BATCHES_A_STALLION = 20
GOBLETS_A_CANISTER = 4
CANISTERS_A_TANK = 10
BEGINNING = datetime(2020, 1, 1, tzinfo=UTC)

dice = random.Random(20260303)


def new_id() -> UUID:
    """An id that is the same in every run."""
    return UUID(int=dice.getrandbits(128), version=4)


def build(data: Path, straws: int) -> str:
    """Make a bank with so many straws in this folder; gives a vet's token."""
    database = open_book(Settings(data=data))
    with database.writing() as db:
        token, who = _vet(db)
    batches = straws // STRAWS_A_BATCH
    with database.writing() as db:
        goblets = _places(db, batches)
        db.execute(
            insert(Mare).values(id=new_id(), name="M", folded_name="m", created_at=BEGINNING)
        )
        stallion = UUID(int=0)
        for number in range(batches):
            if number % BATCHES_A_STALLION == 0:
                stallion = _stallion(db, number // BATCHES_A_STALLION)
            _freeze(db, _act(who, number), stallion, goblets[number])
    database.close()
    return token


def _vet(db: Session) -> tuple[str, Person]:
    occasion = Occasion(at=datetime.now(UTC), new_id=new_id)
    user, _ = add_user(db, username="vet", display_name="Vet", role="vet", occasion=occasion)
    user.password_hash = "by token only"
    user.one_time_code_hash = user.one_time_code_expires_at = None
    _, token = make_token(db, who=as_person(user), name="bench", expires_on=None, occasion=occasion)
    return token, as_person(user)


def _act(who: Person, number: int) -> Act:
    at = BEGINNING + timedelta(minutes=number)
    return Act(new_id(), who, at, at, new_id, dice.getrandbits)


def _places(db: Session, goblets: int) -> list[UUID]:
    made: list[UUID] = []
    for number in range(-(-goblets // (GOBLETS_A_CANISTER * CANISTERS_A_TANK))):
        tank = Tank(
            id=new_id(),
            code=make(Kind.TANK, dice.getrandbits),
            name=f"Tank {number}",
            short_name=f"T{number}",
            capacity_litres=Decimal(100),
            rated_loss_litres_per_day=Decimal("0.5"),
            minimum_level_cm=Decimal(10),
            calibration=[["0", "0"], ["50", "100"]],
            created_at=BEGINNING,
        )
        db.add(tank)
        db.flush()
        made += _canisters(db, tank, number)
    return made


def _canisters(db: Session, tank: Tank, number: int) -> list[UUID]:
    made = []
    for hook in range(1, CANISTERS_A_TANK + 1):
        canister = Canister(
            id=new_id(), tank_id=tank.id, code=make(Kind.CANISTER, dice.getrandbits), number=hook
        )
        db.add(canister)
        db.flush()
        for position in range(1, GOBLETS_A_CANISTER + 1):
            goblet = Goblet(
                id=new_id(),
                canister_id=canister.id,
                code=make(Kind.GOBLET, dice.getrandbits),
                tier="upper" if position % 2 else "lower",
                position=position,
                address=f"T{number}-{hook}-{position}",
                capacity_straws=STRAWS_A_BATCH + 20,
            )
            db.add(goblet)
            made.append(goblet.id)
    db.flush()
    return made


def _stallion(db: Session, number: int) -> UUID:
    stallion = Stallion(
        id=new_id(), name=f"S{number}", folded_name=folded(f"S{number}"), created_at=BEGINNING
    )
    db.add(stallion)
    db.flush()
    rule = {"straws": 8, "kind": "straws"}
    if number % 2:
        rule = {
            "kind": "sperm",
            "progressive_million": Decimal(250),
            "minimum_post_thaw_percent": Decimal(35),
        }
    db.add(
        DoseRuleRow(
            id=new_id(),
            stallion_id=stallion.id,
            number=1,
            since=BEGINNING,
            set_by=new_id(),
            set_by_name="Vet",
            **rule,
        )
    )
    return stallion.id


def _freeze(db: Session, act: Act, stallion_id: UUID, goblet_id: UUID) -> None:
    batch = Batch(
        id=new_id(),
        code=make(Kind.BATCH, act.draw),
        stallion_id=stallion_id,
        state="frozen",
        straws_planned=STRAWS_A_BATCH,
        created_at=act.occurred_at,
        collected_on=act.occurred_at.date(),
        straw_volume_ml=Decimal("0.5"),
        straw_concentration_million_per_ml=Decimal(200),
        post_thaw_percent=Decimal(dice.randint(35, 55)),
        thaw=[{"water_c": "37", "seconds": "30"}],
    )
    db.add(batch)
    db.flush()
    movements = [
        Movement(
            new_straw(code, batch.id, since=act.occurred_at),
            Place("stored", goblet_id=goblet_id),
        )
        for code in new_straw_codes(db, STRAWS_A_BATCH, act.draw)
    ]
    book(db, act, "freeze", movements, batch_id=batch.id)
    db.expunge_all()


def some_codes(database: Database, number: int) -> list[str]:
    """Codes of stored straws, spread over the bank."""
    with database.reading() as db:
        found = db.connection().exec_driver_sql(
            "SELECT code FROM straws WHERE state = 'stored' ORDER BY code"
        )
        codes = [code for (code,) in found]
    return dice.sample(codes, number)
