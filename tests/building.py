"""Builders: the bodies of common requests, with what a test does not care about filled in."""

from typing import Any
from uuid import uuid4


def tank(name: str = "North", *, canisters: int = 2, goblets: int = 2, straws: int = 50) -> Any:
    """A tank laid out evenly."""
    return {
        "name": name,
        "capacity_litres": 35,
        "rated_loss_litres_per_day": "0.18",
        "minimum_level_cm": 12,
        "calibration": [
            {"level_cm": 0, "litres": 0},
            {"level_cm": 25, "litres": "16.5"},
            {"level_cm": 50, "litres": 35},
        ],
        "layout": {
            "canisters": canisters,
            "goblets_per_canister": goblets,
            "straws_per_goblet": straws,
        },
    }


def goblets_of(made_tank: Any) -> list[Any]:
    """The goblets of a tank as it was answered, in order."""
    return [goblet for canister in made_tank["canisters"] for goblet in canister["goblets"]]


def stallion(name: str = "Lanternfield", *, straws: int = 8, **more: Any) -> Any:
    """A stallion with a fixed rule."""
    return {"name": name, "dose_rule": {"kind": "straws", "straws": straws}, **more}


def freeze(stallion_id: str, placements: list[tuple[str, int]], **more: Any) -> Any:
    """A freeze of a good collection into these goblets: (goblet id, straws)."""
    return {
        "id": str(uuid4()),
        "stallion_id": stallion_id,
        "collected_at": "2026-03-03T08:15:00Z",
        "collection": {
            "volume_ml": 60,
            "concentration_million_per_ml": 200,
            "progressive_motility_percent": 70,
        },
        "straw": {"volume_ml": 0.5, "concentration_million_per_ml": 200},
        "recovery_percent": 85,
        "post_thaw": {"progressive_motility_percent": 40, "minutes": 10},
        "thaw": {"steps": [{"water_c": 37, "seconds": 30}]},
        "straws": sum(straws for _, straws in placements),
        "placements": [
            {"goblet_id": goblet_id, "straws": straws} for goblet_id, straws in placements
        ],
        **more,
    }


def withdrawal(stallion_id: str, **more: Any) -> Any:
    """A withdrawal of one dose for a new mare; give `picks` or `straw_codes`."""
    return {
        "id": str(uuid4()),
        "stallion_id": stallion_id,
        "mare": {"name": "Bramblewick"},
        "doses": 1,
        **more,
    }
