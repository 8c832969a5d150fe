"""What the tests of receipts share: a receipt's body, and how the book stands."""

from typing import Any
from uuid import uuid4

from tests.banks import Bank
from tests.conftest import Client

KNOWN = {
    "from": "Fernhollow Stud",
    "marks_as_read": "LF 14 0607",
    "collected_on": "2014-06-07",
    "collected_where": "Fernhollow Stud",
    "approval_number": "ZZ 0042",
    "straw": {"volume_ml": "0.5", "concentration_million_per_ml": 250},
    "post_thaw": {"progressive_motility_percent": 40, "minutes": 30},
    "thaw": {"steps": [{"water_c": 37, "seconds": 30}]},
}


def receipt(bank: Bank, straws: int = 6, *, goblet: int = 1, **more: Any) -> dict[str, Any]:
    """Straws of which nothing is known."""
    return {
        "id": str(uuid4()),
        "kind": "opening",
        "stallion_id": bank.stallion["id"],
        "straws": straws,
        "placements": [{"goblet_id": bank.goblets[goblet]["id"], "straws": straws}],
        **more,
    }


def receive(client: Client, bank: Bank, straws: int = 6, **more: Any) -> Any:
    return client.ok("POST", "/api/receipts", receipt(bank, straws, **more), status=201)


def batch_of(client: Client, made: Any) -> Any:
    return client.ok("GET", f"/api/batches/{made['batch']['id']}")


def codes(warned: Any) -> set[str]:
    return {warning["code"] for warning in warned["warnings"]}


def entries(client: Client) -> int:
    return int(client.ok("GET", "/api/ledger/check")["entries"])


def sound(client: Client) -> bool:
    return bool(client.ok("GET", "/api/ledger/check")["sound"])
