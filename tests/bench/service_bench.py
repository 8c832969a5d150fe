"""How fast the running service is, as ratios to floors measured in the same run.

    python -m tests.bench.service_bench [STRAWS ...]        (default: 10000 1000000)

Prints a table; asserts nothing. Look-ups and withdrawals are timed by one client on a kept
connection, in turn with the bare server, so that both see the same machine.
"""

import hashlib
import http.client
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from service.kernel.database import Database, sqlite_url
from service.ledger import rules
from service.ledger.check import _ENTRIES, _LINES, _entry_text, check
from tests.bench import large_banks
from tests.serving import Server, free_port, rimebook, running

LOOK_UPS = 2_000
WITHDRAWALS = 300
PLANS = 200
CROWD = 16


class Caller:
    """One kept connection, with as little of a client as can be."""

    def __init__(self, server: Server, token: str = "") -> None:
        self._connection = http.client.HTTPConnection(server.address.removeprefix("http://"))
        self._headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}

    def __call__(self, method: str, path: str, body: Any = None) -> Any:
        """The JSON of an answer that must succeed."""
        sent = None if body is None else json.dumps(body)
        self._connection.request(method, path, sent, self._headers)
        answer = self._connection.getresponse()
        text = answer.read()
        assert answer.status < 300, (path, text)
        return json.loads(text)


def timed(do: Callable[[], Any]) -> float:
    """Milliseconds that it took."""
    start = time.perf_counter()
    do()
    return (time.perf_counter() - start) * 1000


def quantiles(times: list[float]) -> tuple[float, float, float]:
    """p50, p95 and p99."""
    cut = statistics.quantiles(times, n=100)
    return cut[49], cut[94], cut[98]


def show(what: str, times: list[float], floor: list[float] | None = None) -> float:
    """Print one line of the table; gives the p50."""
    p50, p95, p99 = quantiles(times)
    ratio = f"  p50 {p50 / quantiles(floor)[0]:.2f} x floor" if floor else ""
    print(f"  {what:34} p50 {p50:7.2f}  p95 {p95:7.2f}  p99 {p99:7.2f} ms{ratio}", flush=True)
    return p50


def look_ups(call: Caller, bare: Caller, codes: list[str]) -> float:
    """Scan look-ups in turn with the floor."""
    ours, floor = [], []
    for code in codes[:200]:
        call("GET", f"/api/scan/{code}")
        bare("GET", f"/straws/{code}")
    for code in codes[200:]:
        ours.append(timed(lambda code=code: call("GET", f"/api/scan/{code}")))
        floor.append(timed(lambda code=code: bare("GET", f"/straws/{code}")))
    show("bare key look-up", floor)
    return show("scan look-up", ours, floor)


def withdrawals(call: Caller, database: Database) -> list[float]:
    """Withdrawals of eight straws by code, out of batches of stallions with a rule of eight."""
    with database.reading() as db:
        rows = (
            db.connection()
            .exec_driver_sql(
                "SELECT stallion_id, min(batches.id) FROM batches JOIN dose_rules "
                "USING (stallion_id) WHERE kind = 'straws' GROUP BY stallion_id LIMIT 20"
            )
            .all()
        )
        stock = {
            batch: [
                code
                for (code,) in db.connection().exec_driver_sql(
                    "SELECT code FROM straws WHERE batch_id = ?", (batch,)
                )
            ]
            for _, batch in rows
        }
        (mare,) = db.connection().exec_driver_sql("SELECT id FROM mares").one()
    times = []
    for number in range(WITHDRAWALS):
        stallion, batch = rows[number % len(rows)]
        codes, stock[batch] = stock[batch][:8], stock[batch][8:]
        if len(codes) < 8:
            break
        body = {
            "id": str(uuid4()),
            "stallion_id": str(UUID(stallion)),
            "mare_id": str(UUID(mare)),
            "doses": 1,
            "straw_codes": codes,
        }
        times.append(timed(lambda body=body: call("POST", "/api/withdrawals", body)))
    return times


def bare_withdrawals(bare: Caller, database: Database) -> list[float]:
    """The same rows, written by the bare handler."""
    with database.reading() as db:
        connection = db.connection()
        (seq,) = connection.exec_driver_sql("SELECT max(seq) FROM entries").one()
        (mare,) = connection.exec_driver_sql("SELECT id FROM mares").one()
        batches = connection.exec_driver_sql(
            "SELECT id, stallion_id FROM batches ORDER BY id DESC LIMIT 20"
        ).all()
        stock = {
            batch: [
                code
                for (code,) in connection.exec_driver_sql(
                    "SELECT code FROM straws WHERE batch_id = ?", (batch,)
                )
            ]
            for batch, _ in batches
        }
    times = []
    for number in range(WITHDRAWALS):
        batch, stallion = batches[number % len(batches)]
        codes, stock[batch] = stock[batch][:8], stock[batch][8:]
        if len(codes) < 8:
            break
        body = {
            "seq": seq + 1 + number,
            "codes": codes,
            "batch_id": str(UUID(batch)),
            "stallion_id": str(UUID(stallion)),
            "mare_id": str(UUID(mare)),
        }
        times.append(timed(lambda body=body: bare("POST", "/withdrawals", body)))
    return times


def plans(call: Caller, database: Database) -> list[float]:
    """Plans of one to four doses for stallions all over the bank, after one to warm up."""
    with database.reading() as db:
        stallions = [
            str(UUID(id))
            for (id,) in db.connection().exec_driver_sql("SELECT id FROM stallions ORDER BY id")
        ]
    times = []
    for number in range(PLANS + 1):
        body = {"stallion_id": stallions[number % len(stallions)], "doses": 1 + number % 4}
        times.append(timed(lambda body=body: call("POST", "/api/withdrawals/plan", body)))
    return times[1:]


def crowd(server: Server, token: str, database: Database, codes: list[str]) -> None:
    """Sixteen clients at once, one act in ten a write."""
    with database.reading() as db:
        connection = db.connection()
        places = connection.exec_driver_sql(
            "SELECT stock.batch_id, goblet_id FROM stock ORDER BY stock.batch_id LIMIT 32"
        ).all()

    def client(number: int) -> tuple[list[float], list[float]]:
        call = Caller(server, token)
        reads, writes = [], []
        batch, goblet = (str(UUID(id)) for id in places[number])
        for turn in range(150):
            code = codes[(number * 150 + turn) % len(codes)]
            if turn % 10:
                reads.append(timed(lambda code=code: call("GET", f"/api/scan/{code}")))
            else:
                body = {
                    "id": str(uuid4()),
                    "picks": [{"batch_id": batch, "goblet_id": goblet, "straws": 1}],
                    "reason": "benchmark",
                }
                writes.append(timed(lambda body=body: call("POST", "/api/discards", body)))
        return reads, writes

    with ThreadPoolExecutor(CROWD) as pool:
        parts = list(pool.map(client, range(CROWD)))
    show(f"scan look-up, {CROWD} clients", [ms for reads, _ in parts for ms in reads])
    show(f"discard of one, {CROWD} clients", [ms for _, writes in parts for ms in writes])


def check_rate(database: Database) -> None:
    """The whole check, the hash chain alone, and hashing the same bytes alone."""
    with database.reading() as db:
        start = time.perf_counter()
        found = check(db)
        whole = time.perf_counter() - start
        texts = _texts(db)
    previous, start = "0" * 64, time.perf_counter()
    for text in texts:
        previous = hashlib.sha256(f"{previous}\n{text}".encode()).hexdigest()
    hashing = time.perf_counter() - start
    lines = sum(text.count("\n") for text in texts)
    print(
        f"  check: {found.entries} entries, {lines} lines in {whole:.2f} s = "
        f"{found.entries / whole:,.0f} entries/s, {lines / whole:,.0f} lines/s; "
        f"hashing the same bytes alone {hashing:.2f} s: {whole / hashing:.1f} x",
        flush=True,
    )


def _texts(db: Any) -> list[str]:
    connection = db.connection()
    lines: dict[int, list[str]] = {}
    for row in connection.execute(_LINES):
        lines.setdefault(row[0], []).append("\n" + rules.line_text(row[1:]))
    return [
        _entry_text(row, "".join(lines.get(row[0], []))) for row in connection.execute(_ENTRIES)
    ]


def start_and_memory(server: Server) -> None:
    """From the command to the first answer, and what it holds then."""
    took = timed(server.start)
    assert server.process is not None
    time.sleep(0.5)
    status = Path(f"/proc/{server.process.pid}/status").read_text()
    resident = next(line for line in status.splitlines() if line.startswith("VmRSS"))
    print(f"  start to first answer {took / 1000:.2f} s; at rest {resident.split(':')[1].strip()}")


def measure(straws: int) -> float:
    """Everything at one size; gives the p50 of a look-up."""
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        start = time.perf_counter()
        token = large_banks.build(data, straws)
        size = (data / "rimebook.db").stat().st_size / 1e6
        print(f"{straws:,} straws ({size:.0f} MB, built in {time.perf_counter() - start:.0f} s)")
        database = Database(sqlite_url(data))
        check_rate(database)
        codes = large_banks.some_codes(database, LOOK_UPS)
        server, port = rimebook(data), free_port()
        command = [sys.executable, "-m", "tests.bench.bare", str(port), str(data)]
        start_and_memory(server)
        with running(Server(command, port, log=Path(folder) / "bare.log")) as bare_server:
            call, bare = Caller(server, token), Caller(bare_server)
            p50 = look_ups(call, bare, codes)
            show("plan of 1 to 4 doses", plans(call, database))
            ours = withdrawals(call, database)
            crowd(server, token, database, codes)
            server.stop()  # the floor's rows are no sound book: nobody else may write beside it
            bare = Caller(bare_server)  # idle longer than a server keeps a connection open
            floor = bare_withdrawals(bare, database)
            show("bare rows of a withdrawal", floor)
            show("withdrawal of 8 by code", ours, floor)
        database.close()
        return p50


if __name__ == "__main__":
    print(f"{os.cpu_count()} cores, Python {sys.version.split()[0]}")
    sizes = [int(size) for size in sys.argv[1:]] or [10_000, 1_000_000]
    medians = [measure(size) for size in sizes]
    if len(medians) > 1:
        print(
            f"look-up from {sizes[0]:,} to {sizes[-1]:,} straws: {medians[-1] / medians[0]:.2f} x"
        )
