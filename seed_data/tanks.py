"""The tanks: three for stock, of different sizes and layouts, and a small one for quarantine.

Goblets of 35 mm take 85 straws of 0.5 mL (ICAR-IASRI e-course on artificial insemination); those
of 25 and 20 mm are reckoned from it, 0.55 times the square of goblet by straw diameter.
Capacities, losses and dipstick tables are no maker's.
"""

from decimal import Decimal

from service.bank.tanks_rules import CalibrationPoint, NewGoblet, NewTank, even_layout, in_tiers

_LARGE, _MIDDLE, _SMALL = 85, 43, 28


def _table(*points: tuple[int, str]) -> list[CalibrationPoint]:
    return [CalibrationPoint(level_cm=Decimal(cm), litres=Decimal(litres)) for cm, litres in points]


def _kestrel() -> list[list[NewGoblet]]:
    """Three canisters of two large goblets, three of four small ones."""
    roomy = in_tiers([("lower", _LARGE), ("upper", _LARGE)])
    narrow = in_tiers([("lower", _SMALL), ("lower", _SMALL), ("upper", _SMALL), ("upper", _SMALL)])
    return [roomy] * 3 + [narrow] * 3


TANKS = (
    NewTank(
        name="Heron",
        short_name=None,
        capacity_litres=Decimal(47),
        rated_loss_litres_per_day=Decimal("0.30"),
        minimum_level_cm=Decimal(14),
        empty_weight_kg=Decimal("19.5"),
        calibration=_table((0, "0"), (10, "7.6"), (20, "16.9"), (35, "31.6"), (50, "47")),
        quarantine=False,
        canisters=even_layout(canisters=6, goblets_per_canister=2, straws_per_goblet=_LARGE),
    ),
    NewTank(
        name="Kestrel",
        short_name=None,
        capacity_litres=Decimal(34),
        rated_loss_litres_per_day=Decimal("0.21"),
        minimum_level_cm=Decimal(12),
        empty_weight_kg=Decimal("14.5"),
        calibration=_table((0, "0"), (10, "6.4"), (20, "14.1"), (30, "21.9"), (45, "34")),
        quarantine=False,
        canisters=_kestrel(),
    ),
    NewTank(
        name="Plover",
        short_name=None,
        capacity_litres=Decimal(11),
        rated_loss_litres_per_day=Decimal("0.09"),
        minimum_level_cm=Decimal(10),
        empty_weight_kg=Decimal("6.2"),
        calibration=_table((0, "0"), (12, "3.1"), (24, "7"), (36, "11")),
        quarantine=False,
        canisters=even_layout(canisters=6, goblets_per_canister=1, straws_per_goblet=_MIDDLE),
    ),
    NewTank(
        name="Wren",
        short_name=None,
        capacity_litres=Decimal(6),
        rated_loss_litres_per_day=Decimal("0.11"),
        minimum_level_cm=Decimal(8),
        empty_weight_kg=None,
        calibration=_table((0, "0"), (15, "2.9"), (28, "6")),
        quarantine=True,
        canisters=even_layout(canisters=2, goblets_per_canister=2, straws_per_goblet=_MIDDLE),
    ),
)
