"""A watched station for a test."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI

from tests.alerts.watched import Postbox, Watched, open_watched, postbox
from tests.conftest import Founded


@pytest.fixture
def station(app: FastAPI, data: Path, founded: Founded) -> Iterator[Watched]:
    """A station that nothing is wrong with yet."""
    with open_watched(app, data, founded) as made:
        yield made


@pytest.fixture(scope="module")
def smtp() -> Iterator[Postbox]:
    """A real SMTP server, shared by the tests of one module; each empties it first (`box`)."""
    with postbox() as box:
        yield box


@pytest.fixture
def box(smtp: Postbox) -> Postbox:
    """The SMTP server, empty."""
    smtp.letters.clear()
    smtp.answer = "250 kept"
    return smtp
