"""A bank on a running server, with enough straws for a proof."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx

from tests import building
from tests.serving import http_client

PASSWORD = "a long demo password for proofs"


def add_vet(data: Path) -> None:
    """A vet and a manager who can sign in, added by the command line."""
    for name in ("vet", "manager"):
        command = [sys.executable, "-m", "service", "user", "add", name, "--role", name]
        subprocess.run(
            [*command, "--password-stdin", "--data", str(data)],
            input=PASSWORD.encode(),
            check=True,
            capture_output=True,
        )


def signed_in(address: str, name: str) -> httpx.Client:
    """A program that acts as this person, by token."""
    with http_client(address) as browser:
        answer = browser.post("/api/session", json={"username": name, "password": PASSWORD})
        assert answer.status_code == 204, answer.text
        token = browser.post(
            "/api/tokens", json={"name": "proof"}, headers={"Sec-Fetch-Site": "same-origin"}
        )
        assert token.status_code == 201, token.text
    headers = {"Authorization": f"Bearer {token.json()['token']}"}
    return http_client(address, headers=headers, timeout=30)


def fill(address: str, *, straws: int, in_goblets: int) -> dict[str, Any]:
    """One stallion at a straw a dose, his straws spread over goblets; a mare. What was made."""
    with signed_in(address, "manager") as manager:
        each = straws // in_goblets
        body = building.tank(canisters=in_goblets, goblets=1, straws=each)
        goblets = building.goblets_of(_made(manager.post("/api/tanks", json=body)))
        stallion = _made(manager.post("/api/stallions", json=building.stallion(straws=1)))
        mare = _made(manager.post("/api/mares", json={"name": "Bramblewick"}))
        codes: list[str] = []
        batches = []
        for goblet in goblets:
            body = building.freeze(stallion["id"], [(goblet["id"], each)])
            freeze = _made(manager.post("/api/freezes", json=body))
            codes += [straw["code"] for straw in freeze["straws"]]
            batches.append((goblet["id"], freeze["batch"]["id"]))
        return {
            "stallion_id": stallion["id"],
            "mare_id": mare["id"],
            "codes": codes,
            "batches": batches,
        }


def _made(answer: httpx.Response) -> Any:
    assert answer.status_code == 201, answer.text
    return answer.json()
