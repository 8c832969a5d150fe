"""Every route, as everybody: `roles.toml` says who is let in, and a refusal changes nothing.

Each call carries what would make it succeed. The book is compared, whole, before and after the
refused ones; then the first role that is allowed sends the same and must succeed, so that a refused
call is known to be one that would have changed something.
"""

import base64
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from secrets import randbits
from typing import Any
from uuid import uuid4

import pytest
from fastapi import APIRouter, FastAPI
from fastapi.routing import APIRoute, iter_route_contexts
from fastapi.testclient import TestClient

from labels import raster
from labels.shapes import Printer
from labels.straws import Flag, flag
from service import app as composition
from service.alerts.channels import NewChannel, add_channel
from service.alerts.store import plan_of
from service.app import lay_book_under, make_app
from service.edge.asking import COOKIE, api_routes, refuse_open_doors, roles_of
from service.kernel.acts import ROLES, Act, Person
from service.kernel.database import Database
from service.kernel.ids import new_id
from service.people import actions, hashing, signing_in
from service.people.events import Occasion
from service.people.store import SignedInSession, as_person
from service.settings import Settings
from tests import building
from tests.engine import Books, everything_in
from tests.labels.words import with_code

TABLE = tomllib.loads((Path(__file__).parent / "roles.toml").read_text())
ROUTES: dict[str, str] = TABLE["routes"]
NOW = datetime(2026, 3, 3, 14, 5, tzinfo=UTC)
PASSWORD = "seven grey geese over the fjord"
NEXT_PASSWORD = "eleven brown hares under a hedge"


def roles_named(words: str) -> set[str]:
    return set(ROLES) if words == "all" else set() if words == "open" else set(words.split())


@dataclass
class Book:
    """A stocked book: what stands in the paths, what is needed for bodies, and everybody's key."""

    settings: Settings
    ids: dict[str, str] = field(default_factory=dict)
    made: dict[str, Any] = field(default_factory=dict)
    cookies: dict[str, str] = field(default_factory=dict)
    disabled_token: str = ""


@pytest.fixture(scope="module")
def stocked(app: FastAPI, books: Books, tmp_path_factory: pytest.TempPathFactory) -> Book:
    """Made once; each test works on a copy."""
    book = Book(books.new(tmp_path_factory.mktemp("roles") / "data"))
    with running(app, book) as service:
        people(book)
        stock(book, Caller(service, book.cookies["manager"]))
    return book


def running(app: FastAPI, book: Book) -> TestClient:
    lay_book_under(app, book.settings, clock=lambda: NOW)
    return TestClient(app, raise_server_exceptions=False)


def people(book: Book) -> None:
    """The four, one whose account was closed, one without a password; and their sessions."""
    database = Database(book.settings.book_url)
    hashed = hashing.hashed_password(PASSWORD)
    now = Occasion(at=NOW, new_id=new_id)

    def add(name: str, role: Any, password_hash: str | None = hashed) -> tuple[Any, Any]:
        return actions.add_user(
            db, username=name, display_name=name.title(), role=role, occasion=now,
            password_hash=password_hash,
        )  # fmt: skip

    with database.writing() as db:
        for role in ROLES:
            add(role, role)
        _, code = add("newcomer", "manager", None)
        closed, _ = add("closed", "manager")
        _, book.disabled_token = actions.make_token(
            db, who=as_person(closed), name="t", expires_on=None, occasion=now
        )
        actions.change_person(db, closed, occasion=now, disabled=True)
        book.cookies["disabled"] = hashing.new_session_token()
        db.add(SignedInSession(
            token_hash=hashing.digest(book.cookies["disabled"]), user_id=closed.id,
            created_at=NOW, last_seen_at=NOW, expires_at=NOW + timedelta(hours=1),
        ))  # fmt: skip
        spare, _ = add("spare", "vet")
        book.ids["person_id"] = str(spare.id)
    for name, password, ago in [
        *((role, PASSWORD, timedelta(0)) for role in ROLES),
        ("newcomer", code.code, timedelta(0)),
        ("idle", PASSWORD, timedelta(minutes=31)),
        ("expired", PASSWORD, timedelta(hours=12)),
    ]:
        # These two are managers whose sessions are over, though nobody has ended them.
        username = "manager" if name in ("idle", "expired") else name
        opened = signing_in.sign_in(
            database, username=username, password=password,
            occasion=Occasion(at=NOW - ago, new_id=new_id),
        )  # fmt: skip
        book.cookies[name] = opened.token
    database.close()


@dataclass
class Caller:
    """Somebody on a page of the service."""

    service: TestClient
    cookie: str | None = None
    token: str | None = None

    def __call__(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        headers["Origin"] = "http://testserver"
        if self.cookie is not None:
            headers["Cookie"] = f"{COOKIE}={self.cookie}"
        if self.token is not None:
            headers["Authorization"] = f"Bearer {self.token}"
        options: dict[str, Any] = {} if body is None else {"json": body}
        if isinstance(body, bytes):
            headers["Content-Type"] = "image/png"
            options = {"content": body}
        return self.service.request(method, path, headers=headers, **options)

    def ok(self, method: str, path: str, body: Any = None) -> Any:
        answer = self(method, path, body)
        assert answer.status_code in (200, 201), (path, answer.text)
        return answer.json()


def stock(book: Book, manager: Caller) -> None:
    """A little of everything, so that every path leads somewhere."""
    ids, made = book.ids, book.made
    tank = manager.ok("POST", "/api/tanks", building.tank("North"))
    spare = manager.ok("POST", "/api/tanks", building.tank("Spare"))
    made["tank_id"], made["canister_id"] = tank["id"], tank["canisters"][0]["id"]
    made["address"] = building.goblets_of(tank)[3]["address"]
    made["goblets"] = [goblet["id"] for goblet in building.goblets_of(tank)]
    made["stallion_id"] = manager.ok("POST", "/api/stallions", building.stallion(straws=4))["id"]
    made["mare_id"] = manager.ok("POST", "/api/mares", {"name": "Bramblewick"})["id"]
    frozen = manager.ok(
        "POST", "/api/freezes", building.freeze(made["stallion_id"], [(made["goblets"][0], 40)])
    )
    made["batch_id"] = frozen["batch"]["id"]
    held = manager.ok(
        "POST", "/api/freezes", building.freeze(made["stallion_id"], [(made["goblets"][1], 8)])
    )["batch"]["id"]
    made["held"] = held
    manager.ok("POST", f"/api/batches/{held}/hold", {"id": str(uuid4()), "reason": "a test"})
    move = {"id": str(uuid4()), "picks": [pick(book, 4)], "goblet_id": made["goblets"][2]}
    manager.ok("POST", "/api/moves", move)
    taken = manager.ok("POST", "/api/withdrawals", withdrawal(book))
    made["lifted"] = [straw["code"] for straw in taken["straws"]]
    used = manager.ok("POST", "/api/withdrawals", withdrawal(book))["id"]
    insemination = manager.ok(
        "POST",
        f"/api/withdrawals/{used}/insemination",
        {"id": str(uuid4()), "inseminated_at": NOW.isoformat(), "straws_used": 4},
    )
    ids |= {
        "tank_id": spare["id"],
        "canister_id": spare["canisters"][0]["id"],
        "goblet_id": spare["canisters"][0]["goblets"][0]["id"],
        "stallion_id": made["stallion_id"],
        "mare_id": made["mare_id"],
        "batch_id": made["batch_id"],
        "code": frozen["straws"][0]["code"],
        "withdrawal_id": taken["id"],
        "insemination_id": insemination["id"],
        "entry_id": move["id"],
        "places": "goblets",
        "place_id": spare["canisters"][0]["goblets"][0]["id"],
        "import_id": str(uuid4()),
        "what": "stock",
    }
    ids["promise_id"] = manager.ok(
        "POST", "/api/promises", {"stallion_id": made["stallion_id"], "owner": "Tarn", "doses": 1}
    )["id"]
    ids["room_id"] = manager.ok("POST", "/api/rooms", room("Cold store"))["id"]
    sent = {"picks": [pick(book, 2)], "to": "Tarn Stud", "seal_number": "A 1"}
    ids["dispatch_id"] = manager.ok("POST", "/api/dispatches", sent)["id"]
    printed = {"what": {"kind": "goblet", "id": ids["goblet_id"]}, "style": "plate"}
    ids["print_id"] = manager.ok("POST", "/api/prints", printed)["id"]
    at = f"/api/tanks/{spare['id']}"
    ids["level_id"] = manager.ok("POST", f"{at}/levels", {"level_cm": 30})["id"]
    ids["top_up_id"] = manager.ok("POST", f"{at}/top-ups", {"litres_added": 3})["id"]
    technician = Caller(manager.service, book.cookies["technician"])
    ids["token_id"] = technician.ok("POST", "/api/tokens", {"name": "printer"})["id"]
    key = technician.ok("POST", "/api/calendar-keys", {})
    ids["key_id"], made["calendar_key"] = key["id"], key["key"]
    stock_alerts(book, manager)
    stock_counts(book, manager)


def stock_counts(book: Book, manager: Caller) -> None:
    """A stock-take of one goblet, two straws short; one adjustment waits for somebody else."""
    auditor = Caller(manager.service, book.cookies["auditor"])
    technician = Caller(manager.service, book.cookies["technician"])
    goblet = book.made["goblets"][0]
    [held] = manager.ok("GET", f"/api/goblets/{goblet}")["contents"]
    scope = {"goblet_ids": [goblet]}
    take = auditor.ok("POST", "/api/stock-takes", {"scope": scope})["id"]
    at = f"/api/stock-takes/{take}"
    seen = [{"batch_id": held["batch_id"], "straws": held["straws"] - 2}]
    technician.ok("POST", f"{at}/counts", {"goblet_id": goblet, "batches": seen})
    auditor.ok("POST", f"{at}/compare", {})
    book.made["adjustment"] = {
        "goblet_id": goblet, "batch_id": held["batch_id"], "difference": -1,
        "reason_code": "destroyed", "note": "broken",
    }  # fmt: skip
    made = auditor.ok("POST", f"{at}/adjustments", book.made["adjustment"])
    book.ids["take_id"], book.ids["adjustment_id"], book.ids["what"] = take, made["id"], "stock"
    book.made["count"] = {"goblet_id": goblet, "batches": seen}


def stock_alerts(book: Book, manager: Caller) -> None:
    """A tank that was nearly dry, a stallion who is low twice told, and two channels."""
    ids, made = book.ids, book.made
    mail = {"name": "Mail", "kind": "email", "target": "a@station.example", "digest": True}
    made["manager_id"] = manager.ok("GET", "/api/session")["id"]
    mail["person_id"] = made["manager_id"]
    ids["channel_id"] = manager.ok("POST", "/api/alert-channels", mail)["id"]
    dry = manager.ok("POST", "/api/tanks", building.tank("Dry"))["id"]
    manager.ok("POST", f"/api/tanks/{dry}/levels", {"level_cm": 1})
    for name in ("low", "lower"):
        stallion = manager.ok("POST", "/api/stallions", building.stallion(name, low_stock_doses=9))
        goblets = building.goblets_of(manager.ok("POST", "/api/tanks", building.tank(f"Of {name}")))
        freeze = building.freeze(stallion["id"], [(goblets[0]["id"], 8)])
        manager.ok("POST", "/api/freezes", freeze)
    app: Any = manager.service.app
    assert app.state.alerts.look()
    found = {one["subject"]: one["id"] for one in manager.ok("GET", "/api/alerts")["items"]}
    ids["alert_id"], made["low"], made["lower"] = found["Dry"], found["low"], found["lower"]
    until = (NOW + timedelta(hours=3)).isoformat()
    shelf = {"until": until, "reason": "known"}
    manager.ok("POST", f"/api/alerts/{made['lower']}/shelve", shelf)
    with app.state.wiring.database.writing() as db:
        act = Act(new_id(), Person(new_id(), "m", "M", "manager"), NOW, NOW, new_id, randbits)
        hook = {"name": "Board", "kind": "webhook", "target": "https://board.example/"}
        more = {"person_id": None, "priorities": ["critical"], "digest": False, "enabled": True}
        made["webhook_id"] = str(add_channel(db, act, NewChannel(**hook, **more)).id)
        plan = plan_of(db)
        plan.outside_watch_url = "https://127.0.0.1/"  # refused, so that nothing leaves
        db.add(plan)


def room(name: str) -> Any:
    return {
        "name": name, "volume_m3": 36, "air_changes_per_hour": 4, "ventilation": "supply",
    }  # fmt: skip


def pick(book: Book, straws: int) -> Any:
    return {
        "goblet_id": book.made["goblets"][0], "batch_id": book.made["batch_id"], "straws": straws,
    }  # fmt: skip


def withdrawal(book: Book) -> Any:
    return building.withdrawal(
        book.made["stallion_id"], mare=None, mare_id=book.made["mare_id"], picks=[pick(book, 4)]
    )


def spreadsheet(book: Book) -> Any:
    """One row of old stock."""
    text = f"stallion,place,straws\nLanternfield,{book.made['address']},3\n"
    content = base64.b64encode(text.encode()).decode()
    return {"id": str(uuid4()), "content_base64": content}


@cache
def straw_picture(code: str) -> bytes:
    """A picture of a straw's label."""
    return raster.png(flag(with_code(code), Flag(), Printer()), Printer())


def body_of(route: str, book: Book) -> Any:
    """What makes a call of this route succeed; None for a route that takes no body."""
    made, reason = book.made, {"id": str(uuid4()), "reason": "a test"}
    freeze = building.freeze(made["stallion_id"], [(made["goblets"][3], 8)])
    event = {"id": str(uuid4())}
    bodies: dict[str, Any] = {
        "POST /api/session": {"username": "technician", "password": PASSWORD},
        "POST /api/session/password": {"password": NEXT_PASSWORD},
        "POST /api/tokens": {"name": "another"},
        "POST /api/people": {"username": "oda", "display_name": "Oda", "role": "vet"},
        "PATCH /api/people/{person_id}": {"role": "auditor"},
        "PATCH /api/station": {"name": "Another"},
        "POST /api/tanks": building.tank("South"),
        "PATCH /api/tanks/{tank_id}": {"name": "Another"},
        "POST /api/tanks/{tank_id}/retire": reason,
        "POST /api/calendar-keys": {},
        "PATCH /api/nitrogen/plan": {"fill_weekdays": [0, 3]},
        "POST /api/rooms": room("Attic"),
        "PATCH /api/rooms/{room_id}": {"volume_m3": 40},
        "POST /api/rooms/{room_id}/retire": reason,
        "POST /api/canisters/{canister_id}/retire": reason,
        "PATCH /api/goblets/{goblet_id}": {"capacity_straws": 7},
        "POST /api/goblets/{goblet_id}/retire": reason,
        "POST /api/goblets/{goblet_id}/relocate": {**event, "canister_id": made["canister_id"]},
        "POST /api/canisters/{canister_id}/relocate": {**event, "tank_id": made["tank_id"]},
        "POST /api/tanks/{tank_id}/levels": {**event, "level_cm": 29},
        "POST /api/tanks/{tank_id}/levels/{level_id}/strike": reason,
        "POST /api/tanks/{tank_id}/top-ups": {**event, "litres_added": 2},
        "POST /api/tanks/{tank_id}/top-ups/{top_up_id}/strike": reason,
        "POST /api/stallions": building.stallion("Another"),
        "PATCH /api/stallions/{stallion_id}": {"name": "Another"},
        "POST /api/mares": {"name": "Another"},
        "PATCH /api/mares/{mare_id}": {"name": "Another"},
        "POST /api/batches": {**event, "stallion_id": made["stallion_id"], "straws_planned": 8},
        "POST /api/batches/{batch_id}/hold": reason,
        "POST /api/batches/{batch_id}/post-thaw": {
            **event, "progressive_motility_percent": 38, "picks": [pick(book, 1)],
        },
        "POST /api/batches/{batch_id}/release": reason,
        "POST /api/batches/{batch_id}/tests": {
            **event, "test": "EIA", "sampled_on": "2026-03-02", "result": "negative",
        },
        "POST /api/freezes": freeze,
        "POST /api/freezes/calculation": {
            name: freeze[name] for name in ("stallion_id", "collection", "straw")
        },
        "POST /api/imports/dry-run": spreadsheet(book),
        "POST /api/imports": spreadsheet(book),
        "POST /api/ledger/{entry_id}/correct": reason,
        "POST /api/moves": {**event, "picks": [pick(book, 4)], "goblet_id": made["goblets"][3]},
        "POST /api/discards": {**reason, "picks": [pick(book, 4)]},
        "POST /api/receipts": {
            **event, "kind": "opening", "stallion_id": made["stallion_id"], "straws": 3,
            "placements": [{"goblet_id": made["goblets"][3], "straws": 3}],
        },
        "POST /api/dispatches": {**event, "picks": [pick(book, 4)], "to": "Tarn Stud"},
        "POST /api/dispatches/holding": {
            "filled_at": NOW.isoformat(), "holding_days_rated": 12,
        },
        "POST /api/dispatches/{dispatch_id}/seals": {**reason, "number": "B 2"},
        "POST /api/scan/picture": straw_picture(book.ids["code"]),
        "POST /api/labels/walk-cards": {
            "stallion_id": made["stallion_id"], "mare": "Brindlewick", "picks": [pick(book, 4)],
        },
        "POST /api/prints": {
            **event, "what": {"kind": "tank", "id": made["tank_id"]}, "style": "plate",
        },
        "POST /api/owner-changes": {**reason, "picks": [pick(book, 4)], "owner": "Marrow Farm"},
        "POST /api/promises": {
            **event, "stallion_id": made["stallion_id"], "mare_id": made["mare_id"], "doses": 1,
        },
        "POST /api/promises/{promise_id}/end": reason,
        "POST /api/withdrawals": withdrawal(book),
        "POST /api/withdrawals/plan": {"stallion_id": made["stallion_id"]},
        "POST /api/withdrawals/{withdrawal_id}/discard": reason,
        "POST /api/withdrawals/{withdrawal_id}/lost": reason,
        "POST /api/withdrawals/{withdrawal_id}/identify": {
            **event, "straw_codes": made["lifted"],
        },
        "POST /api/withdrawals/{withdrawal_id}/insemination": {
            **event, "inseminated_at": NOW.isoformat(), "straws_used": 4,
        },
        "POST /api/withdrawals/{withdrawal_id}/return": {
            **event, "straws": 4, "goblet_id": made["goblets"][0], "kept_in_nitrogen": True,
        },
        "POST /api/inseminations/{insemination_id}/correct": reason,
        "POST /api/inseminations/{insemination_id}/outcome": {
            **event, "checked_on": "2026-03-03", "pregnant": True,
        },
        "POST /api/alerts/acknowledge": {**event, "ids": [made["low"], book.ids["alert_id"]]},
        "POST /api/alerts/{alert_id}/acknowledge": {**event, "note": "on my way"},
        "POST /api/alerts/{alert_id}/inspection": {**event, "found": "all under nitrogen"},
        "POST /api/alerts/{alert_id}/shelve": {
            **reason, "until": (NOW + timedelta(hours=5)).isoformat(),
        },
        "POST /api/alerts/{alert_id}/take-down": event,
        "POST /api/alert-channels": {
            **event, "name": "More", "kind": "email", "target": "b@station.example",
        },
        "PATCH /api/alert-channels/{channel_id}": {"priorities": ["critical"]},
        "PATCH /api/alert-settings": {"digest_at": "06:30"},
        "PATCH /api/duty": {
            "handovers": [{"weekday": 0, "at": "07:00", "person_id": made["manager_id"]}],
        },
        "POST /api/alert-digest": event,
        "POST /api/stock-takes": {**event, "scope": {}},
        "POST /api/stock-takes/{take_id}/counts": {**event, **made["count"]},
        "POST /api/stock-takes/{take_id}/compare": event,
        "POST /api/stock-takes/{take_id}/recounts": {
            **event, "goblet_ids": [made["count"]["goblet_id"]],
        },
        "POST /api/stock-takes/{take_id}/adjustments": {**event, **made["adjustment"]},
        "POST /api/stock-takes/{take_id}/adjustments/{adjustment_id}/approve": event,
        "POST /api/stock-takes/{take_id}/reviews": {**event, "meaning": "reviewed"},
        "POST /api/stock-takes/{take_id}/close": {**event, "note": "known"},
        "PATCH /api/stock-take-plan": {"count_every_days": 90},
    }  # fmt: skip
    return bodies.get(route)


def ids_for(path: str, book: Book) -> dict[str, str]:
    """The ids in a path; some routes need a thing of their own."""
    own = {
        "/release": {"batch_id": book.made["held"]},
        "/shelve": {"alert_id": book.made["low"]},
        "/take-down": {"alert_id": book.made["lower"]},
        "/secret": {"channel_id": book.made["webhook_id"]},
    }
    found = (more for end, more in own.items() if path.endswith(end))
    return book.ids | next(found, {})


def call_of(route: str, book: Book) -> tuple[str, str, Any]:
    """Method, path and body of a call that succeeds for whoever may make it."""
    method, path = route.split()
    queries = {
        "/api/goblets/free": "?straws=4",
        "/api/nitrogen/schedule.ics": f"?key={book.made['calendar_key']}",
        "/api/goblets/{goblet_id}/relocation": f"?canister_id={book.made['canister_id']}",
        "/api/canisters/{canister_id}/relocation": f"?tank_id={book.made['tank_id']}",
    }
    path = path.format(**ids_for(path, book)) + queries.get(path, "")
    return method, path, body_of(route, book)


@pytest.fixture
def book(books: Books, stocked: Book, tmp_path: Path) -> Iterator[Book]:
    """A copy of the stocked book."""
    copied = replace(stocked, settings=books.copy(stocked.settings, tmp_path / "data"))
    yield copied
    books.drop(copied.settings)


@pytest.fixture
def service(app: FastAPI, book: Book) -> Iterator[TestClient]:
    with running(app, book) as service:
        yield service


def strangers(book: Book, service: TestClient) -> dict[str, Caller]:
    """Everybody who is not signed in, whatever they hold in their hands."""
    return {
        "nobody": Caller(service),
        "somebody with an invented cookie": Caller(service, hashing.new_session_token()),
        "somebody with an invented token": Caller(service, token=hashing.new_token()),
        "an expired session": Caller(service, book.cookies["expired"]),
        "an idle session": Caller(service, book.cookies["idle"]),
        "a disabled person": Caller(service, book.cookies["disabled"]),
        "a disabled person's token": Caller(service, token=book.disabled_token),
    }


# Who is let in is decided before any engine is asked.
@pytest.mark.sqlite_only
@pytest.mark.parametrize("route", ROUTES)
def test_a_route_serves_the_roles_it_names_and_refuses_everybody_else_without_a_trace(
    route: str, book: Book, service: TestClient
) -> None:
    words = ROUTES[route]
    method, path, body = call_of(route, book)
    callers = {role: Caller(service, book.cookies[role]) for role in ROLES}
    allowed = [role for role in ROLES if role in roles_named(words)]
    version = {}
    if method == "PATCH":
        version["If-Match"] = callers["manager"]("GET", path).headers["etag"]
    before = everything_in(book.settings)

    if words != "open":
        for who, caller in strangers(book, service).items():
            answer = caller(method, path, body, **version)
            assert answer.status_code == 401, (who, answer.text)
            assert answer.json()["code"] == "not-signed-in"
        for role in ROLES:
            if role not in allowed:
                answer = callers[role](method, path, body, **version)
                assert answer.status_code == 403, (role, answer.text)
                assert answer.json()["code"] == "forbidden"
        if route not in TABLE["before_password"]["routes"]:
            newcomer = Caller(service, book.cookies["newcomer"])
            answer = newcomer(method, path, body, **version)
            assert answer.status_code == 403, answer.text
            assert answer.json()["code"] == "password-needed"
        assert everything_in(book.settings) == before, "a refused call changed the book"

    entering = [callers[role] for role in allowed] or [Caller(service)]
    answer = entering[0](method, path, body, **version)
    assert answer.status_code in (200, 201, 204), (words, answer.text)
    if method in ("GET", "POST") and (method == "GET" or path in READING_POSTS):
        assert everything_in(book.settings) == before, "reading changed the book"
    else:
        assert everything_in(book.settings) != before, (
            "this call would change nothing: it proves nothing"
        )
    for caller in entering[1:]:
        answer = caller(method, path, body, **version)
        assert answer.status_code < 500
        assert answer.status_code not in (401, 403), answer.text


#: POSTs that only calculate.
READING_POSTS = (
    "/api/freezes/calculation",
    "/api/withdrawals/plan",
    "/api/imports/dry-run",
    "/api/dispatches/holding",
    "/api/labels/walk-cards",
    "/api/scan/picture",
    "/api/alert-settings/outside-watch/test",
)


@pytest.mark.parametrize("route", TABLE["before_password"]["routes"])
def test_what_is_open_before_a_password_is_set_works(
    route: str, book: Book, service: TestClient
) -> None:
    newcomer = Caller(service, book.cookies["newcomer"])
    assert newcomer(*call_of(route, book)).status_code == 204


def test_the_table_and_the_routes_agree_both_ways(service: TestClient) -> None:
    app: Any = service.app
    served = {
        f"{method} {path}": roles_of(dependant) for method, path, dependant in api_routes(app)
    }
    assert served.keys() == ROUTES.keys()
    assert served == {route: roles_named(words) for route, words in ROUTES.items()}


def test_the_description_names_the_same_routes(service: TestClient) -> None:
    described = {
        f"{method.upper()} {path}"
        for path, operations in service.get("/api/openapi.json").json()["paths"].items()
        for method in operations
    }
    assert described == ROUTES.keys() - {"GET /"}  # a page, not part of the API


def test_nothing_else_is_served(service: TestClient) -> None:
    """A mount, a bare route or a web socket would pass by the doors."""
    app: Any = service.app
    beside = [
        context.path
        for context in iter_route_contexts(app.routes)
        if not isinstance(context.original_route, APIRoute)
    ]
    assert sorted(map(str, beside)) == sorted(TABLE["beside"]["paths"])


def test_a_route_that_names_no_roles_stops_the_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    forgotten = APIRouter()

    @forgotten.get("/api/forgotten")
    def read() -> None:
        """Serves whom?"""

    monkeypatch.setattr(composition, "ROUTERS", (*composition.ROUTERS, forgotten))
    with pytest.raises(RuntimeError, match="GET /api/forgotten names no roles"):
        make_app(Settings(data=tmp_path))


@pytest.mark.parametrize("method", ["get", "post", "put", "patch", "delete"])
def test_a_door_is_looked_for_on_every_method(method: str) -> None:
    app = FastAPI()
    getattr(app, method)("/open")(lambda: None)
    with pytest.raises(RuntimeError, match=f"{method.upper()} /open names no roles"):
        refuse_open_doors(app)
