"""What is done to tanks: setting one up with all that hangs in it, changing it.

Inside the write transaction of the caller, so what is checked still holds when it commits.
"""

from collections.abc import Collection, Sequence
from decimal import Decimal
from uuid import UUID

from sqlmodel import Session, col

from service.bank import rooms_actions, rules, search, tanks_rules
from service.bank.records import Changes, apply, facts_of, kept
from service.bank.rules import Warned
from service.bank.store import Canister, Goblet, Tank
from service.bank.tanks_rules import CalibrationPoint, NewGoblet, NewTank
from service.kernel.acts import Act
from service.kernel.codes import Kind


def add_tank(db: Session, act: Act, new: NewTank) -> Tank:
    """Set up a tank with its canisters and goblets, each with its own code.

    Raises UnknownRoom, RoomRetired, BadCalibration, BadLayout, NameTaken, AddressTaken.
    """
    rooms_actions.refuse_unfit(db, new.room_id)
    tanks_rules.check_calibration(
        new.calibration,
        capacity_litres=new.capacity_litres,
        minimum_level_cm=new.minimum_level_cm,
    )
    tanks_rules.refuse_huge_layout(sum(map(len, new.canisters)))
    tank = Tank(
        id=act.id,
        code=search.fresh_codes(db, col(Tank.code), Kind.TANK, 1, act.draw)[0],
        name=new.name,
        short_name=_free_names(db, new.name, new.short_name, but=act.id),
        capacity_litres=new.capacity_litres,
        rated_loss_litres_per_day=new.rated_loss_litres_per_day,
        minimum_level_cm=new.minimum_level_cm,
        empty_weight_kg=new.empty_weight_kg,
        calibration=table_of(new.calibration),
        quarantine=new.quarantine,
        room_id=new.room_id,
        created_at=act.recorded_at,
    )
    db.add(tank)
    db.flush()
    _hang(db, act, tank, new.canisters)
    return tank


def _hang(db: Session, act: Act, tank: Tank, layout: Sequence[Sequence[NewGoblet]]) -> None:
    """Hang the canisters of a new tank, numbered from 1, and stand their goblets in them."""
    addresses = [
        tanks_rules.goblet_address(tank.short_name, number, goblet.tier, goblet.position)
        for number, goblets in enumerate(layout, start=1)
        for goblet in goblets
    ]
    _refuse_taken(db, addresses, but=())
    canister_codes = iter(
        search.fresh_codes(db, col(Canister.code), Kind.CANISTER, len(layout), act.draw)
    )
    goblet_codes = iter(
        search.fresh_codes(db, col(Goblet.code), Kind.GOBLET, len(addresses), act.draw)
    )
    plates = iter(addresses)
    for number, goblets in enumerate(layout, start=1):
        canister = Canister(
            id=act.new_id(), tank_id=tank.id, code=next(canister_codes), number=number
        )
        db.add(canister)
        db.flush()
        db.add_all(
            Goblet(
                id=act.new_id(),
                canister_id=canister.id,
                code=next(goblet_codes),
                tier=goblet.tier,
                position=goblet.position,
                address=next(plates),
                capacity_straws=goblet.capacity_straws,
            )
            for goblet in goblets
        )
    db.flush()


def change_tank(db: Session, act: Act, tank: Tank, changes: Changes) -> list[Warned]:
    """Change what is given; goblets with an address of the old name get one of the new.

    Returns what to do about it in the cold store. Raises TankRetired, UnknownRoom, RoomRetired,
    BadCalibration, NameTaken, AddressTaken.
    """
    if tank.retired_at is not None:
        raise rules.TankRetired(f"{tank.name} was retired; its record stays as it was.")
    rooms_actions.refuse_unfit(db, changes.get("room_id"))
    old = tank.short_name
    renamed = changes.get("name", tank.name) != tank.name
    with kept(db, act, "tank", tank.id, lambda: facts_of(tank)):
        apply(tank, changes)
        wanted = changes.get("short_name", None if renamed else old)
        if renamed or wanted != old:
            tank.short_name = _free_names(db, tank.name, wanted, but=tank.id)
        tanks_rules.check_calibration(
            points_of(tank),
            capacity_litres=tank.capacity_litres,
            minimum_level_cm=tank.minimum_level_cm,
        )
    return [] if tank.short_name == old else _readdress(db, tank, old)


def _readdress(db: Session, tank: Tank, old_short_name: str) -> list[Warned]:
    """New addresses for the goblets whose old one came from the tank's name."""
    fresh: dict[UUID, str] = {}
    [tree] = search.trees_of(db, [tank])
    goblets = {goblet.id: goblet for _, hung in tree.canisters for goblet in hung}
    for canister, hung in tree.canisters:
        for goblet in hung:
            place = (canister.number, goblet.tier, goblet.position)
            if goblet.address == tanks_rules.goblet_address(old_short_name, *place):
                fresh[goblet.id] = tanks_rules.goblet_address(tank.short_name, *place)
    _refuse_taken(db, fresh.values(), but=fresh)
    for goblet_id, address in fresh.items():
        goblets[goblet_id].address = address
    db.flush()
    return tanks_rules.weigh_readdressing(len(fresh), tank.short_name)


def _free_names(db: Session, name: str, wanted: str | None, *, but: UUID) -> str:
    """The short name to go with `name`. Raises NameTaken when either is another tank's."""
    others = [tank for tank in search.tanks_in_use(db) if tank.id != but]
    for tank in others:
        if rules.folded(tank.name) == rules.folded(name):
            raise rules.NameTaken(
                f"A tank is called {tank.name} already. Names of tanks differ in more than "
                "capitals and accents; choose another.",
                tank_id=tank.id,
            )
        if tank.short_name == wanted:
            raise rules.NameTaken(
                f"The addresses in {tank.name} begin with {wanted} already. Choose another.",
                tank_id=tank.id,
            )
    return wanted or tanks_rules.short_name(name, {tank.short_name for tank in others})


def _refuse_taken(db: Session, addresses: Collection[str], *, but: Collection[UUID]) -> None:
    taken = search.goblet_at(db, addresses, but=but)
    if taken is not None:
        raise rules.AddressTaken(
            f"{taken.address} is the address of another goblet. Give this tank another short_name.",
            goblet_id=taken.id,
            address=taken.address,
        )


def points_of(tank: Tank) -> list[CalibrationPoint]:
    """The tank's dipstick table."""
    return [
        CalibrationPoint(level_cm=Decimal(level), litres=Decimal(litres))
        for level, litres in tank.calibration
    ]


def table_of(points: Sequence[CalibrationPoint]) -> list[list[str]]:
    """A dipstick table as it is kept."""
    return [[f"{point.level_cm:f}", f"{point.litres:f}"] for point in points]


def tank_of(db: Session, tank_id: UUID) -> Tank:
    """The tank. Raises UnknownTank."""
    tank = db.get(Tank, tank_id)
    if tank is None:
        raise rules.UnknownTank("No tank has this id. Choose one of the list.", tank_id=tank_id)
    return tank


def weigh_tank(tank: Tank) -> list[Warned]:
    """What is unusual about a tank as it stands in the book."""
    return tanks_rules.weigh_tank(
        points_of(tank),
        capacity_litres=tank.capacity_litres,
        rated_loss_litres_per_day=tank.rated_loss_litres_per_day,
    )
