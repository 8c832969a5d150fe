"""The composition root: settings in, the application out. The only place that mounts routers."""

import logging
import secrets
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import timedelta
from pathlib import Path

import anyio.to_thread
from fastapi import FastAPI
from fastapi.middleware.gzip import GZipMiddleware
from fastapi.responses import FileResponse
from fastapi.staticfiles import StaticFiles
from starlette.types import ASGIApp

from service.alerts import api as alerts_api
from service.alerts import channels_api, metrics_api, plans_api, run_out_api
from service.alerts.cards import refuse_kinds_without_card
from service.alerts.service_conditions import Machine
from service.alerts.worker import Surroundings, Worker
from service.audits import api as audits_api
from service.audits import plan_api as count_plan_api
from service.audits import reading_room_api
from service.audits.blindness import NoteReadings, Readings
from service.backups import api as backups_api
from service.backups.actions import back_up_before_upgrade
from service.backups.automatic import Automatic
from service.bank import api as bank_api
from service.bank.actions import ensure_station
from service.edge import problems
from service.edge.asking import OPEN_TO_ALL, refuse_open_doors
from service.edge.headers import SecureHeaders
from service.edge.sizes import LargestBody
from service.edge.wiring import Wiring
from service.freezing import api as freezing_api
from service.kernel.clock import Clock, utc_now
from service.kernel.database import Database
from service.kernel.ids import new_id
from service.ledger import api as ledger_api
from service.ledger import places_api, relocate_api
from service.ledger.check import Soundness, Watch
from service.lookup import api as lookup_api
from service.migrations import upgrade
from service.nitrogen import api as nitrogen_api
from service.nitrogen import calendar_api, oxygen_api, rounds_api
from service.people import api as people_api
from service.people.doorkeeper import Doorkeeper
from service.printing import api as printing_api
from service.settings import Settings
from service.spreadsheet import api as spreadsheet_api
from service.spreadsheet.progress import ProgressBoard
from service.transfers import api as transfers_api
from service.transfers import dispatches_api, owners_api, receipts_api
from service.withdrawals import api as withdrawals_api
from service.withdrawals import cards_api, promises_api

log = logging.getLogger("rimebook")

VERSION = "0.1.0"

WEB = Path(__file__).resolve().parent.parent / "webui"

#: Paths whose bodies hold a file; everything else keeps the smaller limit of the settings.
LARGE_BODIES = spreadsheet_api.LARGE_BODIES | lookup_api.LARGE_BODIES

ROUTERS = (
    people_api.router,
    bank_api.router,
    ledger_api.router,
    # Before the places: /goblets/free would be read as a goblet's id.
    freezing_api.router,
    places_api.router,
    relocate_api.router,
    lookup_api.router,
    withdrawals_api.router,
    transfers_api.router,
    spreadsheet_api.router,
    owners_api.router,
    dispatches_api.router,
    receipts_api.router,
    promises_api.router,
    # Before the places' plates: /labels/withdrawals/… would be read as one.
    cards_api.router,
    printing_api.router,
    nitrogen_api.router,
    oxygen_api.router,
    rounds_api.router,
    calendar_api.router,
    backups_api.router,
    audits_api.router,
    reading_room_api.router,
    count_plan_api.router,
    alerts_api.router,
    channels_api.router,
    plans_api.router,
    metrics_api.router,
    run_out_api.router,
)


class Service(FastAPI):
    """The application with its own layers outermost.

    `add_middleware` would put them inside of what answers failures (500) and large bodies (413).
    """

    def build_middleware_stack(self) -> ASGIApp:
        """Everything that stands around the routes."""
        largest: int = self.state.settings.largest_body_bytes
        bounded = LargestBody(
            NoteReadings(super().build_middleware_stack(), lambda: self.state.readings),
            largest_bytes=largest,
            larger={path: max(size, largest) for path, size in LARGE_BODIES.items()},
        )
        return SecureHeaders(bounded)


def make_app(settings: Settings, *, clock: Clock = utc_now) -> FastAPI:
    """The whole service on its database, which is made or brought up to date first.

    Raises DatabaseUnfit when the database cannot be trusted, RuntimeError when a route names no
    roles or a kind of alert has no card.
    """
    app = Service(
        title="Rimebook",
        description="The straw bank of a stallion station.",
        version=VERSION,
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        lifespan=_lifespan,
        responses=problems.ALWAYS,
        max_body_size=settings.largest_body_bytes,
    )
    lay_book_under(app, settings, clock=clock)
    problems.install(app)
    for router in ROUTERS:
        app.include_router(router)
    _serve_pages(app)
    refuse_open_doors(app)
    refuse_kinds_without_card()
    return app


def lay_book_under(app: FastAPI, settings: Settings, *, clock: Clock = utc_now) -> None:
    """Serve this book from the next start of the app on.

    Tests do so with one app for all: making its routes takes longer than most of them.
    """
    database = open_book(settings)
    doorkeeper = Doorkeeper(database)
    app.state.doorkeeper = doorkeeper
    app.state.settings = settings
    app.state.imports = ProgressBoard()
    app.state.watch = Watch(database)
    app.state.readings = Readings(database, clock=clock, new_id=new_id)
    app.state.backups = Automatic(
        database,
        folder=settings.backups,
        folder_set=settings.backup_folder is not None,
        every=timedelta(hours=settings.backup_every_hours),
        clock=clock,
        version=VERSION,
    )
    app.state.alerts = Worker(
        Surroundings(
            database=database,
            clock=clock,
            new_id=new_id,
            machine=lambda: Machine(
                backups=app.state.backups.standing(),
                soundness=app.state.watch.last,
                folder=settings.data if settings.embedded else None,
            ),
            check=lambda: app.state.watch.renew(_tell, afresh=True),
            address=settings.address,
            private_allowed=settings.private_addresses,
        )
    )
    app.state.wiring = Wiring(
        database=database,
        clock=clock,
        new_id=new_id,
        draw=secrets.randbits,
        identify=doorkeeper.identify,
    )


def open_book(settings: Settings) -> Database:
    """The database in the data folder, made or brought up to date.

    A book that comes from an older version is backed up into that folder first. Raises
    BackupFailed, and leaves the book as it was, when that does not work.
    """
    settings.data.mkdir(parents=True, exist_ok=True)
    database = Database(settings.book_url)
    back_up_before_upgrade(database, settings.data, now=utc_now(), version=VERSION)
    upgrade(database)
    with database.writing() as session:
        ensure_station(session)
    return database


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    anyio.to_thread.current_default_thread_limiter().total_tokens = (
        app.state.settings.worker_threads
    )
    check = threading.Thread(target=app.state.watch.renew, args=(_tell,), name="check")
    check.start()
    app.state.backups.start()
    if app.state.settings.watch:
        app.state.alerts.start()
    yield
    app.state.alerts.stop()
    app.state.backups.stop()
    check.join()
    app.state.readings.close()
    app.state.doorkeeper.close()
    app.state.wiring.database.close()


def _tell(result: Soundness) -> None:
    if result.sound:
        log.info("the book is sound: %d entries, head %s", result.entries, result.head)
    for problem in result.problems:
        log.critical("the book is not sound: %s", problem)


def _serve_pages(app: FastAPI) -> None:
    @app.get("/health", operation_id="read_health", dependencies=[OPEN_TO_ALL], tags=["service"])
    def health() -> dict[str, str]:
        """Answers when the service is ready."""
        return {"status": "ready"}

    @app.get("/", include_in_schema=False, dependencies=[OPEN_TO_ALL])
    def index() -> FileResponse:
        return FileResponse(WEB / "index.html")

    # Answers to people are not compressed: who can make a page send some could guess secrets by
    # their length. The pages' own files hold none.
    app.mount("/web", GZipMiddleware(StaticFiles(directory=WEB)), name="web")
