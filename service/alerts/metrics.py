"""Figures for a Prometheus server: what is open, what was done last, how full each tank is.

Moments of last success rather than "is it well": who watches from outside decides what is too long.
No ids as labels; about a dozen series and three for each tank.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime

from sqlalchemy import func
from sqlmodel import Session, select

from service.alerts import store
from service.alerts.rules import PRIORITIES, STATES
from service.alerts.service_conditions import Machine
from service.bank.search import tanks_in_use
from service.ledger.store import Stock, head_of
from service.nitrogen import states

#: Gauge: name, what it says, labels' names, values by labels.
Gauge = tuple[str, str, tuple[str, ...], Iterable[tuple[tuple[str, ...], float]]]


def text(db: Session, machine: Machine, *, now: datetime, version: str) -> bytes:
    """The figures in Prometheus' text form."""
    from prometheus_client import CollectorRegistry, generate_latest
    from prometheus_client import Gauge as PrometheusGauge

    registry = CollectorRegistry()
    for name, says, labels, values in _gauges(db, machine, now, version):
        gauge = PrometheusGauge(name, says, labels, registry=registry)
        for named, value in values:
            (gauge.labels(*named) if named else gauge).set(value)
    return generate_latest(registry)


def _gauges(db: Session, machine: Machine, now: datetime, version: str) -> Iterator[Gauge]:
    yield _one("rimebook_build_info", "The version that runs.", 1, version=version)
    yield (
        "rimebook_alerts",
        "Alerts that are not closed.",
        ("priority", "state"),
        _alerts(db),
    )
    counts = store.message_counts(db)
    yield (
        "rimebook_messages",
        "Messages by what became of them.",
        ("state",),
        [((state,), counts.get(state, 0)) for state in store.MESSAGE_STATES],
    )
    yield from _moments(db, machine)
    head = head_of(db)
    yield _one("rimebook_ledger_entries", "Entries in the book.", head.seq if head else 0)
    if machine.soundness is not None:
        sound = float(machine.soundness.sound)
        yield _one("rimebook_ledger_sound", "1 when the last check found the book sound.", sound)
    straws = db.exec(select(func.coalesce(func.sum(Stock.straws), 0))).one()
    yield _one("rimebook_straws_stored", "Straws that stand in a goblet.", straws)
    yield from _tanks(db, now)


def _one(name: str, says: str, value: float, **labels: str) -> Gauge:
    return name, says, tuple(labels), [(tuple(labels.values()), value)]


def _alerts(db: Session) -> list[tuple[tuple[str, ...], float]]:
    standing = store.standing_alerts(db)
    return [
        (
            (priority, state),
            sum(1 for one in standing if (one.priority, one.state) == (priority, state)),
        )
        for priority in PRIORITIES
        for state in STATES
        if state != "closed"
    ]


def _moments(db: Session, machine: Machine) -> Iterator[Gauge]:
    watch = store.watch_of(db)
    backups = machine.backups.items
    for name, says, at in (
        ("watch", "When tanks and stock were looked at last.", watch.last_run_at),
        ("delivery", "When a message was accepted last.", watch.last_delivery_at),
        ("digest", "When the daily summary was queued last.", watch.last_digest_at),
        ("check", "When the whole book was read last.", watch.last_check_at),
        ("backup", "When the newest verified backup was made.", backups and backups[0].created_at),
    ):
        if at:
            yield _one(f"rimebook_last_{name}_timestamp_seconds", says, at.timestamp())


def _tanks(db: Session, now: datetime) -> Iterator[Gauge]:
    found = states.states_of(db, tanks_in_use(db), now=now)
    read = [one for one in found if one.estimate.litres is not None]
    yield (
        "rimebook_tank_litres",
        "Nitrogen in the tank, estimated.",
        ("tank",),
        [((one.tank.name,), one.estimate.litres or 0.0) for one in read],
    )
    yield (
        "rimebook_tank_minimum_litres",
        "Nitrogen in the tank at its minimum level.",
        ("tank",),
        [((one.tank.name,), float(one.minimum_litres)) for one in found],
    )
    yield (
        "rimebook_tank_loss_litres_per_day",
        "What the tank loses a day, measured.",
        ("tank",),
        [((one.tank.name,), one.estimate.loss_litres_per_day or 0.0) for one in read],
    )
