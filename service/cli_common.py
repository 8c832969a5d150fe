"""What all commands share: where the book is, and how a failure is said."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer
from sqlalchemy.exc import OperationalError

from service.kernel.clock import utc_now
from service.kernel.errors import DatabaseUnfit, Refusal
from service.kernel.ids import new_id
from service.people.events import Occasion
from service.settings import Settings

Data = Annotated[
    Path | None, typer.Option("--data", help="The folder that holds the book.", show_default=False)
]


def settings_for(data: Path | None) -> Settings:
    """The environment's settings, with the folder that was named."""
    return Settings() if data is None else Settings(data=data)


def book_that_is_there(data: Path | None) -> Settings:
    """The same, for commands that do not make a book where there is none; ends with 1."""
    settings = settings_for(data)
    if settings.embedded and not settings.data.is_dir():
        typer.echo(f"There is no book in {settings.data}.", err=True)
        raise typer.Exit(1)
    return settings


@contextmanager
def plain_words() -> Iterator[None]:
    """Say what is wrong in a sentence and end with 1; a trace helps nobody at the bench."""
    try:
        yield
    except Refusal as refusal:
        typer.echo(f"{refusal.title}. {refusal.detail}", err=True)
        raise typer.Exit(1) from refusal
    except (DatabaseUnfit, OSError) as error:
        typer.echo(str(error), err=True)
        raise typer.Exit(1) from error
    except OperationalError as error:
        typer.echo(f"The database cannot be opened: {error.orig}", err=True)
        raise typer.Exit(1) from error


def local(moment: datetime) -> str:
    """A moment as this machine's clock shows it."""
    return f"{moment.astimezone():%d %b %Y %H:%M %Z}"


def by_command() -> Occasion:
    """Now, done by whoever may type commands on this machine."""
    return Occasion(at=utc_now(), new_id=new_id)
