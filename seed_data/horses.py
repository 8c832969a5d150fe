"""Stallions and mares. All are made up, breeds and owners too.

Life numbers have a real country (the rule asks for one), a data base `QHV` and a national number
`DEMO....`, which no stud book gives out; the two microchip numbers are counted from one.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from service.bank.identity import compose_ueln
from service.bank.rules import NewMare, NewStallion, RuleAmounts

_IRELAND, _FRANCE, _DENMARK, _NETHERLANDS = "372", "250", "208", "528"


def _ueln(country: str, number: int) -> str:
    return compose_ueln(country=country, database="QHV", national_number=f"DEMO{number:05d}")


def _straws(straws: int) -> RuleAmounts:
    return RuleAmounts(straws=straws)


def _sperm(million: int, percent: int) -> RuleAmounts:
    return RuleAmounts(
        progressive_million=Decimal(million), minimum_post_thaw_percent=Decimal(percent)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Invented:
    """A stallion as he was entered, so many days ago."""

    key: str
    days_ago: int
    record: NewStallion


#: When Gannet's Ledger died, in days before today.
GANNET_DIED_DAYS_AGO = 2200


def stallions(today: date) -> list[Invented]:
    """The ten of them; their years of birth go with today's."""
    return [*_settled(today), *_by_sperm(today), *_newer(today)]


def _born(today: date) -> Callable[[int, int, int], date]:
    return lambda years, month, day: date(today.year - years, month, day)


def _settled(today: date) -> list[Invented]:
    born = _born(today)
    return [
        Invented(
            key="gannet",
            days_ago=2590,
            record=NewStallion(
                name="Gannet’s Ledger",
                dose_rule=_straws(8),
                ueln=_ueln(_IRELAND, 1),
                breed="Fenland Courser",
                foaled_on=born(26, 4, 17),
                owner="Ottilie Farrowdale",
                straw_colour="grey",
            ),
        ),
        Invented(
            key="umber",
            days_ago=1520,
            record=NewStallion(
                name="Umber Halyard",
                dose_rule=_straws(8),
                ueln=_ueln(_IRELAND, 4),
                microchip="372000000000001",
                breed="Fenland Courser",
                foaled_on=born(17, 5, 2),
                owner="Quillhaven",
                straw_colour="orange",
                low_stock_doses=5,
            ),
        ),
        Invented(
            key="pewter",
            days_ago=1480,
            record=NewStallion(
                name="Pewter Almanac",
                dose_rule=_straws(2),
                ueln=_ueln(_NETHERLANDS, 7),
                breed="Merrow Riding Horse",
                foaled_on=born(12, 3, 28),
                owner="Isidor Wennickdale",
                straw_colour="silver",
                low_stock_doses=10,
            ),
        ),
        Invented(
            key="corvane",
            days_ago=1320,
            record=NewStallion(
                name="Corvane Tidewright",
                dose_rule=_straws(6),
                ueln=_ueln(_IRELAND, 9),
                microchip="372000000000002",
                breed="Merrow Riding Horse",
                foaled_on=born(14, 4, 9),
                owner="Quillhaven",
                straw_colour="blue",
                low_stock_doses=6,
            ),
        ),
    ]


def _by_sperm(today: date) -> list[Invented]:
    born = _born(today)
    return [
        Invented(
            key="thistle",
            days_ago=1140,
            record=NewStallion(
                name="Thistledown Ferrier",
                dose_rule=_straws(14),
                ueln=_ueln(_FRANCE, 12),
                breed="Skerry Pony",
                foaled_on=born(15, 5, 21),
                owner="Perpetua Lindquane",
                straw_colour="violet",
                low_stock_doses=2,
            ),
        ),
        Invented(
            key="saltmarsh",
            days_ago=1120,
            record=NewStallion(
                name="Saltmarsh Cadence",
                dose_rule=_sperm(250, 35),
                ueln=_ueln(_IRELAND, 15),
                breed="Merrow Riding Horse",
                foaled_on=born(10, 4, 3),
                owner="Jorun Tarnholtby",
                straw_colour="green",
                low_stock_doses=4,
            ),
        ),
        Invented(
            key="quorum",
            days_ago=920,
            record=NewStallion(
                name="Quorum of Larks",
                dose_rule=_sperm(200, 30),
                ueln=_ueln(_NETHERLANDS, 18),
                breed="Lowmere Trotter",
                foaled_on=born(9, 3, 15),
                owner="Casimir Vellowick",
                straw_colour="yellow",
            ),
        ),
    ]


def _newer(today: date) -> list[Invented]:
    born = _born(today)
    return [
        Invented(
            key="ninefold",
            days_ago=1020,
            record=NewStallion(
                name="Ninefold Lantern",
                dose_rule=_straws(4),
                ueln=_ueln(_FRANCE, 20),
                breed="Lowmere Trotter",
                foaled_on=born(11, 6, 1),
                owner="Perpetua Lindquane",
                straw_colour="red",
            ),
        ),
        Invented(
            key="blavinge",
            days_ago=660,
            record=NewStallion(
                name="Blåvinge Nattsøn",
                dose_rule=_straws(6),
                ueln=_ueln(_DENMARK, 23),
                breed="Skerry Pony",
                foaled_on=born(8, 5, 12),
                owner="Ásdís Hrafnwell",
                straw_colour="light blue",
                low_stock_doses=3,
            ),
        ),
        Invented(
            key="merrow",
            days_ago=30,
            record=NewStallion(
                name="Merrow Sandglass",
                dose_rule=_straws(8),
                ueln=_ueln(_IRELAND, 26),
                breed="Merrow Riding Horse",
                foaled_on=born(4, 4, 25),
                owner="Quillhaven",
                straw_colour="pink",
            ),
        ),
    ]


def day_gannet_died(today: date) -> date:
    """The day on which the last straw of Gannet's Ledger had been made."""
    return today - timedelta(days=GANNET_DIED_DAYS_AGO)


MARES = {
    "bracken": NewMare(name="Bracken Vesper", ueln=_ueln(_IRELAND, 101), owner="Bramley Askwold"),
    "oatmeal": NewMare(name="Oatmeal Duchess", owner="Ottilie Farrowdale"),
    "tansy": NewMare(name="Tansy Undertow", ueln=_ueln(_FRANCE, 102), owner="Perpetua Lindquane"),
    "fennel": NewMare(name="Fennel Gossamer", owner="Jorun Tarnholtby"),
    "larkspur": NewMare(
        name="Larkspur Ferry", ueln=_ueln(_IRELAND, 103), owner="Casimir Vellowick"
    ),
    "quince": NewMare(name="Quince Parliament", owner="Isidor Wennickdale"),
    "inkwell": NewMare(
        name="Sable Inkwell", ueln=_ueln(_NETHERLANDS, 104), owner="Isidor Wennickdale"
    ),
    "nightjar": NewMare(name="Hollin Nightjar", owner="Bramley Askwold"),
    "rosehip": NewMare(name="Rosehip Sonnet", ueln=_ueln(_DENMARK, 105), owner="Ásdís Hrafnwell"),
    "plimsoll": NewMare(name="Ivory Plimsoll", owner="Quillhaven"),
    "thimble": NewMare(
        name="Copper Thimble", ueln=_ueln(_IRELAND, 106), owner="Ottilie Farrowdale"
    ),
    "windfall": NewMare(name="Windfall Tilney", owner="Casimir Vellowick"),
}
