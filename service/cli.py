"""The command line: demo, serve, user, import, check."""

import gc
import getpass
import logging
import secrets
import signal
import sys
from contextlib import nullcontext
from pathlib import Path
from typing import Annotated, Literal

import typer
import uvicorn
from fastapi import FastAPI

from service import cli_backups
from service.app import make_app, open_book
from service.cli_common import (
    Data,
    book_that_is_there,
    by_command,
    local,
    plain_words,
    settings_for,
)
from service.kernel.acts import Act, Person, Role
from service.kernel.clock import utc_now
from service.kernel.database import Database
from service.kernel.ids import new_id
from service.kernel.only_one import only_server
from service.ledger.check import check as check_book
from service.people.actions import (
    OneTimeCode,
    add_user,
    end_set_up,
    first_manager_code,
    hashed_new_password,
    named,
    reset,
)
from service.people.events import check as check_people
from service.settings import Settings
from service.spreadsheet import terminal
from service.spreadsheet.actions import Spreadsheet
from service.spreadsheet.understanding import Answers

#: What is in flight when the service is stopped has so long to finish.
SECONDS_TO_FINISH = 10

main = typer.Typer(
    help="Rimebook, the straw bank of a stallion station.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
user = typer.Typer(help="People who may sign in.", no_args_is_help=True)
main.add_typer(user, name="user")
main.command()(cli_backups.backup)
main.command()(cli_backups.restore)
main.command()(cli_backups.copy)

Host = Annotated[str, typer.Option(help="The address to listen on; 0.0.0.0 is every one.")]
Port = Annotated[int, typer.Option(min=0, max=65535, help="The port to listen on.")]


@main.command()
def serve(host: Host = "127.0.0.1", port: Port = 8000, data: Data = None) -> None:
    """Serve the bank; makes its database in an empty folder."""
    _log()
    with plain_words():
        settings = settings_for(data)
        settings = settings.model_copy(update={"address": settings.address or _address(host, port)})
        with only_server(settings.data) if settings.embedded else nullcontext():
            app = make_app(settings)
            _welcome_first_manager(app.state.wiring.database)
            _run(app, host, port)


def _welcome_first_manager(database: Database) -> None:
    with database.writing() as session:
        code = first_manager_code(session, occasion=by_command())
    if code is None:
        return
    typer.echo("\nNobody can sign in as a manager yet. Sign in once with")
    _show_code(code)
    typer.echo("or add one yourself:  rimebook user add YOUR-NAME --role manager\n")


def _show_code(code: OneTimeCode) -> None:
    typer.echo(f"    user name      {code.username}")
    typer.echo(f"    one-time code  {code.code}")
    typer.echo(f"    good until     {local(code.expires_at)}")


def _log() -> None:
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s %(message)s")


def _run(app: FastAPI, host: str, port: int) -> None:
    # The server stops by itself on these; it then sends itself the signal once more, which would
    # end a clean stop as if it had failed.
    for stop in (signal.SIGTERM, signal.SIGINT):
        signal.signal(stop, lambda *_: None)
    gc.freeze()  # what the app is made of stays; slow requests were the collector's walks over it
    uvicorn.run(
        app,
        host=host,
        port=port,
        log_level="warning",
        timeout_graceful_shutdown=SECONDS_TO_FINISH,
        server_header=False,
    )


@main.command()
def demo(
    host: Host = "127.0.0.1",
    port: Port = 8000,
    data: Annotated[Path, typer.Option(help="The folder that holds the demo's book.")] = Path(
        "rimebook-demo"
    ),
) -> None:
    """Show the invented Quillhaven Stallion Station, with straws to try everything on."""
    from seed_data import alerting, quillhaven
    from seed_data.mailroom import Mailroom

    _log()
    address = _address(host, port)
    settings = Settings(
        data=data,
        database_url=None,
        backup_folder=None,
        address=address,
        private_addresses=True,
    )
    with plain_words(), only_server(data):
        app = make_app(settings)
        database = app.state.wiring.database
        if quillhaven.is_empty(database):
            typer.echo("Filling the bank of Quillhaven Stallion Station ...")
            quillhaven.fill(database, now=utc_now())
        mailroom = Mailroom(data / "letters", typer.echo)
        mailroom.open()
        with database.writing() as db:
            alerting.deliver_here(db, smtp_port=mailroom.smtp_port, board_url=mailroom.board_url)
        typer.echo(quillhaven.welcome(address))
        _run(app, host, port)
        mailroom.close()


def _address(host: str, port: int) -> str:
    return f"http://{'localhost' if host in ('127.0.0.1', '0.0.0.0') else host}:{port}"  # noqa: S104


@user.command("add")
def add(
    username: Annotated[str, typer.Argument(help="The name to sign in with.")],
    role: Annotated[Literal["technician", "vet", "manager", "auditor"], typer.Option()],
    display_name: Annotated[
        str | None, typer.Option(help="The name in the book; the user name unless given.")
    ] = None,
    password_stdin: Annotated[
        bool, typer.Option("--password-stdin", help="Read the password from standard input.")
    ] = False,
    data: Data = None,
) -> None:
    """Add a person, also while the service runs on the same data.

    Without --password-stdin a one-time code is shown, with which the person signs in once and
    sets a password.
    """
    with plain_words():
        name = display_name or username
        database = open_book(settings_for(data))
        password_hash = None
        if password_stdin:
            password = _read_password()
            password_hash = hashed_new_password(password, username=username, display_name=name)
        _add(database, username, name, role, password_hash)
        database.close()


def _read_password() -> str:
    if sys.stdin.isatty():
        return getpass.getpass("Password: ")
    return sys.stdin.readline().rstrip("\r\n")


def _add(
    database: Database, username: str, name: str, role: Role, password_hash: str | None
) -> None:
    with database.writing() as session:
        added, code = add_user(
            session,
            username=username,
            display_name=name,
            role=role,
            occasion=by_command(),
            password_hash=password_hash,
        )
        username = added.username
        if role == "manager" and password_hash is not None:
            end_set_up(session, occasion=by_command())
    typer.echo(f"Added {username} as {role}.")
    if code is not None:
        _show_code(code)


@user.command("reset")
def reset_person(
    username: Annotated[str, typer.Argument(help="Who cannot sign in any more.")],
    data: Data = None,
) -> None:
    """Show a one-time code for somebody who lost the password; it is good for a quarter hour."""
    with plain_words():
        database = open_book(settings_for(data))
        with database.writing() as session:
            code = reset(session, named(session, username).id, occasion=by_command())
        database.close()
        _show_code(code)


@main.command("import")
def import_spreadsheet(
    file: Annotated[Path, typer.Argument(help="The CSV file with the station's own list.")],
    username: Annotated[str, typer.Option("--as", help="Who books it.", metavar="USERNAME")],
    data: Data = None,
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Only say what would become of every row.")
    ] = False,
    decimal: Annotated[
        Literal["comma", "point"] | None, typer.Option(help="The decimal sign of the file.")
    ] = None,
    dates: Annotated[
        Literal["day-first", "month-first"] | None,
        typer.Option(help="What comes first in dates like 3/4/2014."),
    ] = None,
    columns: Annotated[
        list[str] | None,
        typer.Option(
            "--map", metavar="COLUMN=FIELD", help="What a column is; COLUMN= leaves it out."
        ),
    ] = None,
    make_stallions: Annotated[
        int | None,
        typer.Option(
            min=1,
            max=100,
            metavar="STRAWS",
            help="Enter stallions that are not there, at so many straws a dose.",
        ),
    ] = None,
) -> None:
    """Book old stock from a spreadsheet: every row, or none and exit 1."""
    with plain_words():
        sheet = Spreadsheet(
            content=terminal.read_file(file),
            answers=Answers(
                mapping=terminal.read_mapping(columns or []), decimal=decimal, date_order=dates
            ),
            make_stallions=make_stallions,
        )
        database = open_book(settings_for(data))
        try:
            looked = terminal.dry_run(database, username, sheet, _act_of)
            for line in terminal.in_words(looked):
                typer.echo(line)
            if not looked.ready:
                typer.echo("Nothing was booked.", err=True)
                raise typer.Exit(1)
            if not dry_run:
                terminal.carry_out(database, username, sheet, _act_of, _say)
                typer.echo(f"Booked {looked.straws:,} straws.")
        finally:
            database.close()


def _act_of(person: Person) -> Act:
    now = utc_now()
    return Act(new_id(), person, now, now, new_id, secrets.randbits)


def _say(words: str) -> None:
    typer.echo(words, err=True)


@main.command()
def check(data: Data = None) -> None:
    """Read the whole book: hashes, every straw's way, stock, people. Exit 0 only if sound."""
    with plain_words():
        database = open_book(book_that_is_there(data))
        with database.reading() as session:
            found = check_book(session)
            people = check_people(session)
        database.close()
    problems = [*found.problems, *people.problems]
    for problem in problems:
        typer.echo(problem, err=True)
    verdict = "NOT SOUND" if problems else "sound"
    typer.echo(f"{found.entries} entries, head {found.head}: {verdict}")
    if problems:
        raise typer.Exit(1)
