"""The invented station: alive on any day, the same on every machine, and sound."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from seed_data import quillhaven
from seed_data.people import PEOPLE
from service.app import make_app, open_book
from service.kernel.clock import utc_now
from service.ledger.check import check
from service.ledger.store import Straw
from service.settings import Settings

#: What each stallion has: straws, doses that may be used, doses in reserve, straws on hold.
STOCK = {
    "Blåvinge Nattsøn": (52, 8, 0, 0),
    "Corvane Tidewright": (120, 15, 0, 0),
    "Gannet’s Ledger": (24, 1, 2, 0),
    "Merrow Sandglass": (40, 0, 0, 40),
    "Ninefold Lantern": (52, 5, 0, 32),
    "Pewter Almanac": (90, 45, 0, 0),
    "Quorum of Larks": (89, 10, 0, 0),
    "Saltmarsh Cadence": (124, 17, 0, 0),
    "Thistledown Ferrier": (84, 6, 0, 0),
    "Umber Halyard": (24, 3, 0, 0),
}


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's bank, filled now."""
    folder = tmp_path_factory.mktemp("demo")
    database = open_book(Settings(data=folder))
    assert quillhaven.is_empty(database)
    quillhaven.fill(database, now=utc_now())
    assert not quillhaven.is_empty(database)
    database.close()
    return folder


def test_the_four_people_can_sign_in_and_see_the_expected_stock(filled: Path) -> None:
    with TestClient(make_app(Settings(data=filled))) as service:
        for person in PEOPLE:
            answer = service.post(
                "/api/session", json={"username": person.username, "password": person.password}
            )
            assert answer.status_code == 204
            assert service.get("/api/session").json()["role"] == person.role
        stock = service.get("/api/stock/stallions").json()["items"]
        found = {
            one["stallion_name"]: (
                *(one["straws"], one["doses"], one["doses_in_reserve"], one["straws_on_hold"]),
            )
            for one in stock
        }
        assert found == STOCK
        assert [one["stallion_name"] for one in stock if one["low"]] == ["Umber Halyard"]
        waiting = service.get("/api/withdrawals?state=lifted").json()["items"]
        assert [one["stallion_name"] for one in waiting] == ["Corvane Tidewright"]
        prepared = service.get("/api/batches?state=prepared").json()["items"]
        assert [one["stallion_name"] for one in prepared] == ["Merrow Sandglass"]
        kinds = {one["kind"] for one in service.get("/api/ledger?limit=1000").json()["items"]}
        assert {"exchange", "correct", "hold", "release", "return", "test", "move"} <= kinds


@pytest.mark.parametrize(
    "now",
    [
        datetime(2026, 3, 29, 0, 30, tzinfo=UTC),  # the night the clocks go forward
        datetime(2026, 10, 25, 1, 30, tzinfo=UTC),  # the night they go back
        datetime(2028, 2, 29, 23, 59, tzinfo=UTC),
        datetime(2031, 1, 1, 0, 0, tzinfo=UTC),
    ],
)
def test_it_is_sound_and_the_same_on_any_day(now: datetime, tmp_path: Path) -> None:
    codes = []
    for name in ("first", "second"):
        database = open_book(Settings(data=tmp_path / name))
        quillhaven.fill(database, now=now)
        with database.reading() as db:
            assert check(db).problems == []
            codes.append(sorted(db.exec(select(Straw.code))))
        database.close()
    assert codes[0] == codes[1]


def test_an_interrupted_fill_leaves_an_empty_bank(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    database = open_book(Settings(data=tmp_path))
    with monkeypatch.context() as broken:
        broken.setattr("seed_data.chronicle.Chronicle.tell", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            quillhaven.fill(database, now=utc_now())
    assert quillhaven.is_empty(database)
    database.close()
