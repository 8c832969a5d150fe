"""Does the map agree with the book? Where canisters and goblets hang, against what moved them.

The act stands in its entry, under the hash; the map and `goblet_moves` are kept beside it, and are
compared with it here. Plates that people change by hand, and tanks that get another name, are
records and not acts: an address counts as right when any of them explains it.
"""

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, and_, or_
from sqlalchemy import select as sa_select
from sqlmodel import col

from service.bank import tanks_rules
from service.bank.store import Canister, Goblet, Tank
from service.edge.versions import RecordChange
from service.ledger.relocate_rules import Relocation, relocation_in
from service.ledger.store import Entry, GobletMove

_ACTS = (
    sa_select(col(Entry.seq), col(Entry.kind), col(Entry.facts))
    .where(
        or_(
            col(Entry.kind) == "relocate",
            and_(col(Entry.kind) == "correct", col(Entry.facts).contains('"kind":"relocate"')),
        )
    )
    .order_by(col(Entry.seq))
)

_MOVES = sa_select(
    *(col(GobletMove.entry_seq), col(GobletMove.goblet_id), col(GobletMove.from_canister_id)),
    *(col(GobletMove.to_canister_id), col(GobletMove.from_address), col(GobletMove.to_address)),
).order_by(col(GobletMove.entry_seq))

_GOBLETS = (
    sa_select(
        *(col(Goblet.id), col(Goblet.address), col(Goblet.canister_id)),
        *(col(Goblet.tier), col(Goblet.position)),
        *(col(Canister.number), col(Canister.tank_id), col(Tank.short_name)),
    )
    .join(Canister, col(Canister.id) == col(Goblet.canister_id))
    .join(Tank, col(Tank.id) == col(Canister.tank_id))
    .where(col(Goblet.id).in_(sa_select(col(GobletMove.goblet_id))))
    .order_by(col(Goblet.address))
)


@dataclass(slots=True)
class _Said:
    """What the book says: the canisters of each move, and where each canister hangs last."""

    canisters: dict[tuple[int, UUID], tuple[UUID, UUID]] = field(default_factory=dict)
    addresses: dict[tuple[int, UUID], tuple[str, str]] = field(default_factory=dict)
    hooks: dict[UUID, tuple[UUID, int]] = field(default_factory=dict)


def places_astray(connection: Connection) -> Iterator[str]:
    """Canisters, goblets and kept moves that are not as the book says."""
    said = _said(connection)
    moves = connection.execute(_MOVES).all()
    yield from _moves_astray(moves, said)
    last = {move.goblet_id: move for move in moves}
    yield from _goblets_astray(connection, last)
    yield from _canisters_astray(connection, said)


def _said(connection: Connection) -> _Said:
    said = _Said()
    acts: dict[int, Relocation] = {}
    for seq, kind, facts in connection.execute(_ACTS):
        read = json.loads(facts)
        back = kind == "correct"
        done = acts.get(read["corrects"]["seq"]) if back else relocation_in(read)
        if done is None:
            continue
        acts[seq] = done
        for one in done.goblets:
            there, here = one.before.canister_id, one.after.canister_id
            said.canisters[seq, one.goblet_id] = (here, there) if back else (there, here)
            if not back:
                said.addresses[seq, one.goblet_id] = (one.before.address, one.after.address)
        if done.canister is not None:
            hook = done.canister.before if back else done.canister.after
            said.hooks[done.canister.canister_id] = hook
    return said


def _moves_astray(moves: Any, said: _Said) -> Iterator[str]:
    kept = set()
    for move in moves:
        key = (move.entry_seq, move.goblet_id)
        kept.add(key)
        addresses = (move.from_address, move.to_address)
        if (
            said.canisters.get(key) != (move.from_canister_id, move.to_canister_id)
            or said.addresses.get(key, addresses) != addresses
        ):
            yield f"Entry {move.entry_seq} did not hang a goblet where it is kept beside it."
    for seq, _ in sorted(said.canisters.keys() - kept, key=lambda key: (key[0], key[1].hex)):
        yield f"Entry {seq} hung a goblet elsewhere, and that is not kept beside it."


def _goblets_astray(connection: Connection, last: Mapping[UUID, Any]) -> Iterator[str]:
    by_hand, renamed = _changed_addresses(connection)
    for goblet in connection.execute(_GOBLETS):
        move = last[goblet.id]
        by_rule = tanks_rules.goblet_address(
            goblet.short_name, goblet.number, goblet.tier, goblet.position
        )
        explained = {move.to_address, *by_hand[goblet.id]}
        if goblet.tank_id in renamed:
            explained.add(by_rule)
        if goblet.canister_id != move.to_canister_id or goblet.address not in explained:
            yield f"Goblet {goblet.address} does not hang where entry {move.entry_seq} hung it."


def _changed_addresses(connection: Connection) -> tuple[Mapping[UUID, set[str]], set[UUID]]:
    """Addresses that people gave each goblet, and the tanks that got another short name."""
    by_hand: dict[UUID, set[str]] = defaultdict(set)
    renamed = set()
    for kind, record_id, after in connection.execute(
        sa_select(
            col(RecordChange.kind), col(RecordChange.record_id), col(RecordChange.after)
        ).where(col(RecordChange.kind).in_(("goblet", "tank")))
    ):
        if kind == "goblet" and "address" in after:
            by_hand[record_id].add(after["address"])
        if kind == "tank" and "short_name" in after:
            renamed.add(record_id)
    return by_hand, renamed


def _canisters_astray(connection: Connection, said: _Said) -> Iterator[str]:
    rows = connection.execute(
        sa_select(col(Canister.id), col(Canister.tank_id), col(Canister.number))
    )
    for canister_id, tank_id, number in rows:
        if said.hooks.get(canister_id, (tank_id, number)) != (tank_id, number):
            yield f"Canister {number} does not hang where the book last hung it."
