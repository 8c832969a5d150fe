"""Settings, read from the environment by the app and the command line only."""

from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict

from service.kernel.database import sqlite_url


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

    database_url: str | None = Field(
        default=None,
        description="A PostgreSQL database that keeps the book instead of a file in the folder.",
    )

    backup_folder: Path | None = Field(
        default=None,
        description="Where backups go by themselves, best on another disk; none are made without.",
    )
    backup_every_hours: float = Field(
        default=1, ge=0.01, le=24 * 31, description="How often a backup is made by itself."
    )

    @property
    def backups(self) -> Path:
        """Where backups are looked for: the folder that was set, else one beside the book."""
        return self.backup_folder or self.data / "backups"

    @property
    def book_url(self) -> str:
        """Where the book is kept; a plain PostgreSQL address gets its driver's name."""
        return sqlite_url(self.data) if self.database_url is None else url_of(self.database_url)

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
