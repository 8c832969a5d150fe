"""The stock goes out as a file and comes back from it into an empty bank as it was.

The short form runs 25 random stocks; RIMEBOOK_ROUND_TRIPS=10000 is the long one.
"""

import os
import random
import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError
from sqlalchemy import select as sa_select
from sqlmodel import Session, col, select

from service.app import open_book
from service.bank.rules import folded
from service.bank.store import Batch, Canister, Goblet, Hold, Stallion, Tank
from service.edge.fields import Name, Note
from service.kernel.acts import Act, Person
from service.kernel.database import Database, sqlite_url
from service.kernel.ids import new_id
from service.ledger.check import check
from service.ledger.store import Straw
from service.settings import Settings
from service.spreadsheet import actions, booking, exports
from service.spreadsheet.actions import Spreadsheet
from service.spreadsheet.fates import KnownStallion, PlannedBatch, Share
from service.spreadsheet.thaws import read_thaw, written_thaw
from service.spreadsheet.understanding import Answers, Said
from service.spreadsheet.writing import Style, pieces

ROUND_TRIPS = int(os.environ.get("RIMEBOOK_ROUND_TRIPS", "25"))

GOBLETS = 12
NOW = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
WHO = Person(id=UUID(int=7), username="mo", display_name="Mo", role="manager")

NASTY = (
    *("=1+1", "+1", "-1", "@now", "'", "''", "'=x", "3E10", "1,5", "1;2", '"', '""', "a\tb", "＝1"),
    *("Ölzweig", "Ærø", "Δοκιμή", "日本", "عربي", "'t Zand", "unknown", "n/a", "01/02/03", "?"),
)


def kept_by(kind: Any, text: str) -> str | None:
    """The text as the book would keep it; None for what it refuses."""
    try:
        return TypeAdapter(kind).validate_python(text) or None
    except ValidationError:
        return None


texts = st.one_of(st.sampled_from(NASTY), st.text(min_size=1, max_size=40))
names = texts.map(lambda text: kept_by(Name, text)).filter(lambda text: text is not None)
notes = st.one_of(texts, st.text(alphabet="\r\n\t=+-@'\" äx,;", min_size=1, max_size=60)).map(
    lambda text: kept_by(Note, text)
)
maybe_name = st.one_of(st.none(), names)
amounts = st.decimals(min_value=Decimal("0.01"), max_value=Decimal(1_900), places=3).map(
    lambda amount: Decimal(format(amount.normalize(), "f"))
)
percents = st.integers(0, 10_000).map(
    lambda hundredths: Decimal(format((Decimal(hundredths) / 100).normalize(), "f"))
)
steps = st.lists(st.tuples(st.integers(1, 100), st.integers(1, 3_600)), min_size=1, max_size=5).map(
    lambda some: " + ".join(f"{water} C {seconds} s" for water, seconds in some)
)
past_days = st.dates(date(1970, 1, 1), NOW.date())


@st.composite
def stocks(draw: st.DrawFn) -> tuple[list[KnownStallion], list[PlannedBatch]]:
    """Stallions told apart by name, and batches of theirs in a few goblets."""
    called = draw(
        st.lists(names, min_size=1, max_size=4, unique_by=lambda name: folded(name or ""))
    )
    stallions = [
        KnownStallion(None, name or "", f"276020{number:09d}" if draw(st.booleans()) else None)
        for number, name in enumerate(called)
    ]
    batches = []
    for line in range(draw(st.integers(1, 6))):
        hold = draw(maybe_name)
        said = Said(
            line=line,
            marks_as_read=draw(maybe_name),
            collected_on=draw(st.one_of(st.none(), past_days)),
            collected_where=draw(maybe_name),
            approval_number=draw(maybe_name),
            extender=draw(maybe_name),
            straw_volume_ml=draw(st.one_of(st.none(), amounts)),
            concentration_million_per_ml=draw(st.one_of(st.none(), amounts)),
            post_thaw_percent=draw(st.one_of(st.none(), percents)),
            post_thaw_minutes=draw(st.one_of(st.none(), amounts)),
            straw_colour=draw(maybe_name),
            thaw=draw(st.one_of(st.none(), steps)),
            from_=draw(maybe_name),
            hold_reason=hold,
            hold_until=(
                draw(st.one_of(st.none(), st.just(NOW.date() + timedelta(days=30))))
                if hold
                else None
            ),
        )
        batch = PlannedBatch(draw(st.sampled_from(stallions)), said, line)
        for _ in range(draw(st.integers(1, 3))):
            goblet = draw(st.integers(0, GOBLETS - 1))
            batch.shares.append(
                Share(UUID(int=goblet), draw(st.integers(1, 30)), draw(maybe_name), ())
            )
        note = draw(st.one_of(st.none(), notes))
        if note is not None:
            batch.notes[note] = None
        batches.append(batch)
    used = [one for one in stallions if any(batch.stallion is one for batch in batches)]
    return used, batches


@dataclass
class Banks:
    """Two banks with the same goblets: a folder that is copied for each."""

    template: Path
    work: Path

    def fresh(self, name: str) -> Database:
        """An empty bank."""
        folder = self.work / name
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(self.template, folder)
        return Database(sqlite_url(folder))


@pytest.fixture(scope="module")
def banks(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Banks]:
    template = tmp_path_factory.mktemp("template")
    database = open_book(Settings(data=template))
    with database.writing() as db:
        _places(db)
    database.close()
    yield Banks(template, tmp_path_factory.mktemp("work"))


def _places(db: Session) -> None:
    tank = Tank(
        id=UUID(int=1), code="T00000000", name="North", short_name="N", capacity_litres=Decimal(35),
        rated_loss_litres_per_day=Decimal(1), minimum_level_cm=Decimal(10),
        calibration=[["0", "0"], ["50", "35"]], created_at=NOW,
    )  # fmt: skip
    canister = Canister(id=UUID(int=2), tank_id=tank.id, code="C00000000", number=1)
    for one in (tank, canister):
        db.add(one)
        db.flush()
    for number in range(GOBLETS):
        db.add(Goblet(
            id=UUID(int=number), canister_id=canister.id, code=f"G0000{number:04d}", tier="upper",
            position=number + 1, address=f"N-1-U{number + 1}", capacity_straws=1_000,
        ))  # fmt: skip


def act(chance: random.Random) -> Act:
    return Act(new_id(), WHO, NOW, NOW, new_id, chance.getrandbits)


def whole(db: Session) -> list[Any]:
    """All that the stock has, but for ids: straws with their batch, stallion, place and hold."""
    holds = {hold.batch_id: (hold.reason, hold.until) for hold in db.exec(select(Hold))}
    rows = db.execute(
        sa_select(Straw, Batch, Stallion, col(Goblet.address))
        .join(Batch, col(Batch.id) == col(Straw.batch_id))
        .join(Stallion, col(Stallion.id) == col(Batch.stallion_id))
        .join(Goblet, col(Goblet.id) == col(Straw.goblet_id))
        .order_by(col(Straw.code))
    )
    return [
        (
            *(straw.code if straw.coded else None, straw.owner, address),
            *(stallion.name, stallion.ueln, batch.code, batch.received_from, batch.marks_as_read),
            *(batch.collected_on, batch.collected_where, batch.approval_number, batch.extender),
            *(batch.straw_volume_ml, batch.straw_concentration_million_per_ml, batch.straw_colour),
            *(batch.post_thaw_percent, batch.post_thaw_minutes, str(batch.thaw), batch.note),
            holds.get(batch.id),
        )
        for straw, batch, stallion, address in rows
    ]


def put_in(database: Database, stock: Any, *, coded: bool) -> None:
    """The stock as it stands in the book, some of it with labels."""
    stallions, batches = stock
    chance = random.Random(1)
    with database.writing() as db:
        doing = act(chance)
        made = booking.enter_stallions(db, doing, stallions, straws_a_dose=8)
        booking.book_batches(db, doing, batches, made, kind=None, tell=lambda _: None)
        if coded:
            for number, straw in enumerate(db.exec(select(Straw).order_by(col(Straw.code)))):
                straw.coded = number % 3 > 0
                db.add(straw)


@given(
    stock=stocks(),
    coded=st.booleans(),
    delimiter=st.sampled_from([",", ";", "\t"]),
    decimal=st.sampled_from(["comma", "point"]),
)
@settings(
    max_examples=ROUND_TRIPS,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_a_stock_that_went_out_comes_back_as_it_was(
    banks: Banks, stock: Any, coded: bool, delimiter: Any, decimal: Literal["comma", "point"]
) -> None:
    one, other = banks.fresh("one"), banks.fresh("other")
    put_in(one, stock, coded=coded)
    style = Style(delimiter, decimal)
    with one.reading() as db:
        went = whole(db)
        content = b"".join(pieces(exports.STOCK, exports.stock(db, NOW.date()), style))
    sheet = Spreadsheet(
        content=content,
        answers=Answers(decimal=decimal),
        make_stallions=8,
    )
    with other.writing() as db:
        actions.carry_out(db, act(random.Random(2)), sheet, tell=lambda *_: None)
    with other.reading() as db:
        assert Counter(whole(db)) == Counter(went)
        assert check(db).sound
    one.close()
    other.close()


def test_every_column_of_the_stock_is_one_that_an_import_reads() -> None:
    fields = {field.rstrip("_") for field in Said.__dataclass_fields__} - {"line"}
    assert set(exports.STOCK) == fields


def test_a_thaw_as_the_book_keeps_it_is_read_back() -> None:
    kept = [{"water_c": "37", "seconds": "30"}, {"water_c": "46.5", "seconds": "5.5"}]
    assert read_thaw(written_thaw(kept)) == kept
