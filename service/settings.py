"""Settings, read from the environment by the app and the command line only."""

from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

from service.kernel.database import sqlite_url
from service.kernel.errors import DatabaseUnfit


class Settings(BaseSettings):
    """How this installation runs; each field is also `RIMEBOOK_<NAME>` in the environment."""

    model_config = SettingsConfigDict(env_prefix="RIMEBOOK_", extra="ignore")

    data: Path = Field(default=Path("rimebook-data"), description="The folder that holds the book.")
    worker_threads: int = Field(
        default=4,
        ge=2,
        le=40,
        description="Threads that serve requests; more of them make the slowest slower.",
    )
    largest_body_bytes: int = Field(
        default=1_000_000, ge=10_000, description="The largest request body that is read."
    )

    # Not shown where settings are shown: there may be a password in it.
    database_url: str | None = Field(
        default=None,
        repr=False,
        description="A PostgreSQL database that keeps the book instead of a file in the folder.",
    )

    backup_folder: Path | None = Field(
        default=None,
        description="Where backups go by themselves, best on another disk; none are made without.",
    )
    backup_every_hours: float = Field(
        default=1, ge=0.01, le=24 * 31, description="How often a backup is made by itself."
    )

    address: str | None = Field(
        default=None,
        description="Where people open the pages, for the links in messages: https://rimebook.lan",
    )
    watch: bool = Field(
        default=True, description="Whether this process watches, and tells people what it finds."
    )
    private_addresses: bool = Field(
        default=False,
        description="Whether webhooks may go to this machine and the network around it.",
    )

    @property
    def backups(self) -> Path:
        """Where backups are looked for: the folder that was set, else one beside the book."""
        return self.backup_folder or self.data / "backups"

    @property
    def book_url(self) -> str:
        """Where the book is kept; a plain PostgreSQL address gets its driver's name.

        Raises DatabaseUnfit for an address of anything else, also an empty one: a book in a file
        instead would be another book.
        """
        if self.database_url is None:
            return sqlite_url(self.data)
        scheme, _, rest = self.database_url.partition("://")
        if scheme not in ("postgresql", "postgres", "postgresql+psycopg"):
            raise DatabaseUnfit(
                "RIMEBOOK_DATABASE_URL must begin with postgresql:// (leave it out, and the book "
                "is a file in the data folder)."
            )
        return f"postgresql+psycopg://{rest}"

    @property
    def embedded(self) -> bool:
        """Whether the book is a file in the data folder: then one server at a time serves it."""
        return self.database_url is None


def url_of(place: str) -> str:
    """The address of a book in a folder, or in a database."""
    scheme, separator, rest = place.partition("://")
    if not separator:
        return sqlite_url(Path(place))
    if scheme in ("postgresql", "postgres"):
        scheme = "postgresql+psycopg"
    return f"{scheme}{separator}{rest}"
