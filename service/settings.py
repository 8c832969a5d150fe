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

    @property
    def database_url(self) -> str:
        """Where the book is kept."""
        return sqlite_url(self.data)
