"""The commands that keep the book from being lost: backup, restore, copy."""

from pathlib import Path
from typing import Annotated

import typer
from fastapi import FastAPI

from service.app import VERSION, make_app, open_book
from service.backups import actions, restoring
from service.backups.copying import move
from service.backups.restoring import Restored
from service.backups.rules import BackupFailed, Contents, NotRestored
from service.cli_common import Data, book_that_is_there, by_command, local, plain_words
from service.settings import Settings, url_of


def backup(
    data: Data = None,
    to: Annotated[
        Path | None,
        typer.Option(
            help="The folder for backups; RIMEBOOK_BACKUP_FOLDER unless given.", show_default=False
        ),
    ] = None,
) -> None:
    """Make a verified backup, also while the service runs; old ones go by rotation."""
    with plain_words():
        settings = book_that_is_there(data)
        folder = to or settings.backups
        if folder == settings.data / "backups":
            folder.mkdir(mode=0o700, exist_ok=True)
        database = open_book(settings)
        try:
            made = actions.back_up(database, folder, now=by_command().at, version=VERSION)
        except BackupFailed as failed:
            typer.echo(f"{failed.title} in {folder}. {failed.detail}", err=True)
            raise typer.Exit(1) from failed
        finally:
            database.close()
    manifest = made.manifest
    typer.echo(f"Backup  {folder / manifest.file}")
    _say_contents(manifest.contents)
    typer.echo(f"    SHA-256   {manifest.sha256}")
    typer.echo(
        f"Copied in {made.picture_seconds:.2f} s and verified in {made.verify_seconds:.2f} s."
    )
    if made.rotated:
        typer.echo(f"{len(made.rotated)} older backups were deleted by the rotation.")
    if folder.is_relative_to(settings.data):
        typer.echo(
            "This is on the same disk as the book. Name another with --to, or set "
            "RIMEBOOK_BACKUP_FOLDER: one disk dies as a whole."
        )


def _say_contents(contents: Contents) -> None:
    straws = ", ".join(f"{number} {state}" for state, number in contents.straws.items())
    typer.echo(f"    entries   {contents.entries}, head {contents.head}")
    typer.echo(f"    straws    {straws or 'none'}")
    typer.echo(f"    people    {contents.people}")


def restore(
    backup: Annotated[
        Path, typer.Argument(help="A backup's .db file, or a folder: then its newest backup.")
    ],
    data: Annotated[
        Path | None,
        typer.Option("--data", help="A new or empty folder for the book.", show_default=False),
    ] = None,
    only_drill: Annotated[
        bool, typer.Option("--drill", help="Only prove that it could be restored.")
    ] = False,
) -> None:
    """Make a book of a backup in a new folder, and prove that it works."""
    with plain_words():
        if only_drill:
            _say(restoring.only_drill(backup, by_command(), _opened))
            typer.echo("Nothing was restored or changed: this was the drill only.")
            return
        if data is None:
            raise NotRestored("Name a new folder for the book with --data.")
        _say(restoring.restore(backup, data, by_command(), _opened))
    typer.echo(_NEXT.format(data=data))


_NEXT = """
The book is in {data}. What to do next:
  1. Compare the number of entries and the head above with what left the old machine
     (a printed list, a mail). What was booked after the backup is not in it.
  2. Serve it:  rimebook serve --data {data}
  3. Sign in with your own password. Who lost it:  rimebook user reset NAME --data {data}
  4. Make a backup of it at once:  rimebook backup --data {data} --to FOLDER"""


def _opened(folder: Path) -> FastAPI:
    return make_app(Settings(data=folder, database_url=None, backup_folder=None))


def _say(done: Restored) -> None:
    manifest, drilled = done.manifest, done.drilled
    typer.echo(f"Backup {manifest.file} of {local(manifest.created_at)}")
    _say_contents(manifest.contents)
    typer.echo("Proved:")
    typer.echo("    the file is byte for byte what was written (SHA-256)")
    typer.echo("    the database is whole, and nothing refers to what is not there")
    typer.echo("    every hash of the book leads to the head above, every straw is where it says")
    if done.upgraded_to:
        typer.echo(
            f"    it was brought from version {manifest.contents.revision} to {done.upgraded_to}, "
            "with every hash kept"
        )
    typer.echo(
        f"    on a throw-away copy {drilled.username} signed in with a one-time code made there, "
        f"and read {drilled.straws_stored} straws in store"
    )
    typer.echo(f"It took {done.seconds:.1f} s, {drilled.seconds:.1f} s of it the drill.")


def copy(
    source: Annotated[
        str, typer.Option("--from", help="A folder with a book, or a PostgreSQL address.")
    ],
    target: Annotated[
        str, typer.Option("--to", help="A new folder, or the address of an empty database.")
    ],
) -> None:
    """Move a bank between SQLite and PostgreSQL, with every hash kept."""
    with plain_words():
        contents = move(url_of(source), url_of(target))
    typer.echo("Copied, and the copy was checked whole:")
    _say_contents(contents)
    typer.echo("Stop the old service before you start the new one: what is booked into the old")
    typer.echo("book from now on is not in the new one.")
