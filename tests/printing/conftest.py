"""A batch of which all is known that must stand on its straws, and one not filled yet."""

from typing import Any
from uuid import uuid4

import pytest

from tests.bank.changing import change
from tests.banks import Bank
from tests.conftest import Client
from tests.printing.asked import UELN


@pytest.fixture
def known(manager: Client, bank: Bank) -> Bank:
    """Nothing that must stand on the straws is unknown."""
    change(manager, "/api/station", {"approval_number": "AI-0417", "country": "IE"})
    change(manager, f"/api/stallions/{bank.stallion['id']}", {"ueln": UELN})
    return bank


@pytest.fixture
def prepared(known: Bank, technician: Client) -> Any:
    """A batch whose straws are not filled yet."""
    body = {
        "id": str(uuid4()),
        "stallion_id": known.stallion["id"],
        "straws_planned": 12,
        "collected_on": "2026-03-03",
    }
    return technician.ok("POST", "/api/batches", body)
