"""Column types that keep what they were given, on every engine.

Moments are fixed-width UTC text and amounts are decimal text: both read the same everywhere, enter
the hash chain as they stand, and lose no digit (a REAL column would).
"""

from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Dialect, String
from sqlalchemy.types import TypeDecorator
from sqlmodel import SQLModel

from service.kernel import clock

# Every key and index has the same name on every engine, so that a later migration can find it.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class UtcMoment(TypeDecorator[datetime]):
    """An aware `datetime`, kept as `2026-03-03T14:05:00.000000Z`."""

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        """To text; a moment without a time zone is a programming error and raises."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        return clock.as_text(value)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        """From text."""
        return None if value is None else clock.from_text(value)


class ExactAmount(TypeDecorator[Decimal]):
    """A finite `Decimal`, kept as plain decimal text (`0.5`), every digit as it came."""

    impl = String(40)
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:
        """To text without an exponent."""
        return None if value is None else format(value, "f")

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Decimal | None:
        """From text."""
        return None if value is None else Decimal(value)
