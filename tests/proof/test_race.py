"""A straw leaves once, however many hands reach for it, over real HTTP.

RIMEBOOK_RACE_STRAWS sets how many straws are contested (500 unless set, 100 on PostgreSQL).
"""

import os
import random
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx

from tests import building
from tests.engine import ON_POSTGRESQL
from tests.proof import banks
from tests.serving import Server, free_port, http_client, rimebook, running

HANDS = 8
STRAWS = int(os.environ.get("RIMEBOOK_RACE_STRAWS", "100" if ON_POSTGRESQL else "500"))

#: What one hand heard about each straw: status and, for a refusal, the problem.
Heard = list[tuple[str, int, dict[str, object]]]


def _reach(hands: int, codes: list[str], take: Callable[[int, str], httpx.Response]) -> Heard:
    """Every hand reaches for every straw, each in its own order."""

    def one(hand: int) -> Heard:
        order = random.Random(hand).sample(codes, len(codes))
        answers = ((code, take(hand, code)) for code in order)
        return [(code, answer.status_code, answer.json()) for code, answer in answers]

    with ThreadPoolExecutor(hands) as pool:
        return [heard for part in pool.map(one, range(hands)) for heard in part]


def _taken_twice(heard: Heard) -> int:
    won = Counter(code for code, status, _ in heard if status == 201)
    return sum(times > 1 for times in won.values())


def _close(clients: list[httpx.Client]) -> None:
    for client in clients:
        client.close()


def each_straw_leaves_once(addresses: Sequence[str]) -> None:
    """Over these servers of one book: each straw once, and the losers hear who has it."""
    bank = banks.fill(addresses[0], straws=STRAWS, in_goblets=5)
    clients = [banks.signed_in(addresses[hand % len(addresses)], "vet") for hand in range(HANDS)]

    def take(hand: int, code: str) -> httpx.Response:
        body = building.withdrawal(bank["stallion_id"], straw_codes=[code])
        body["mare_id"] = bank["mare_id"]
        del body["mare"]
        return clients[hand].post("/api/withdrawals", json=body)

    heard = _reach(HANDS, bank["codes"], take)
    stock = clients[0].get("/api/stock").json()
    check = clients[0].get("/api/ledger/check").json()
    _close(clients)
    assert Counter(status for _, status, _ in heard) == {201: STRAWS, 409: STRAWS * (HANDS - 1)}
    assert _taken_twice(heard) == 0
    for code, status, answer in heard:
        if status == 409:
            facts = {name: answer[name] for name in ("code", "straw_code", "state", "by")}
            expected = {"code": "straw-gone", "straw_code": code, "state": "lifted", "by": "vet"}
            assert facts == expected
            assert answer["at"]
    assert stock["straws"] == 0
    assert check["sound"] is True


def test_each_straw_leaves_once_and_the_losers_hear_who_has_it(tmp_path: Path) -> None:
    data = tmp_path / "data"
    banks.add_vet(data)
    with running(rimebook(data)) as server:
        each_straw_leaves_once([server.address])


def test_the_same_hands_find_a_naive_server_out(tmp_path: Path) -> None:
    """The negative control: looking and then taking hands straws out twice."""
    port = free_port()
    command = [sys.executable, "-m", "tests.proof.naive", "deferred", str(port)]
    server = Server([*command, str(tmp_path / "naive.db")], port, log=tmp_path / "naive.log")
    with running(server):
        clients = [http_client(server.address, timeout=30) for _ in range(HANDS)]
        codes = [f"straw-{number}" for number in range(60)]
        heard = _reach(HANDS, codes, lambda hand, code: clients[hand].post(f"/straws/{code}/take"))
        _close(clients)
    assert _taken_twice(heard) > 0
