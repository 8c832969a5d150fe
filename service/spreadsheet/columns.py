"""The columns of the spreadsheet: our names, what they hold, and how other people head them. Pure.

A header is compared without case, accents, spaces and signs. What a person says of a column goes
before what its header seems to say.
"""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.spreadsheet.rules import BadAnswer


@dataclass(frozen=True, slots=True)
class Column:
    """One of our columns; `kind` is how its cells are read, `spellings` how others head it."""

    name: str
    title: str
    kind: str
    spellings: str = ""


COLUMNS = (
    Column(
        "stallion",
        "Stallion",
        "line",
        "sire, stud, horse, stallion name, name of stallion, donor, hengst, name hengst, "
        "hengstname, vererber, vatertier, spender, etalon, dekhengst",
    ),
    Column(
        "ueln",
        "UELN",
        "ueln",
        "ueln number, life number, lebensnummer, identity number, stallion ueln, ueln "
        "stallion, ueln nr, levensnummer",
    ),
    Column(
        "place",
        "Goblet (address or code)",
        "place",
        "goblet, address, location, position, where, storage place, lagerort, lagerplatz, "
        "platz, ort, becher, bechernummer, goblet address, goblet code, standort, emplacement",
    ),
    Column(
        "straws",
        "Straws",
        "count",
        "number of straws, no of straws, straw count, count, quantity, qty, number, amount, "
        "pailletten, anzahl, anzahl pailletten, paillettenzahl, menge, stueckzahl, bestand, "
        "rietjes, paillettes, doses straws, straws left",
    ),
    Column(
        "marks_as_read",
        "Mark on the straws",
        "line",
        "mark, marks, batch, batch mark, straw mark, marking, print, printed, lot, batch "
        "number, batch no, charge, chargennummer, chargen nr, kennzeichnung, aufdruck, "
        "partie, beschriftung, inscription",
    ),
    Column(
        "collected_on",
        "Collected on",
        "day",
        "collection date, date collected, date of collection, collected, freeze date, frozen "
        "on, date frozen, date, entnahme, entnahmedatum, gewonnen am, gewinnung, absamung, "
        "datum, tg datum, einfrierdatum, eingefroren am, date de recolte",
    ),
    Column(
        "straw_volume_ml",
        "Straw volume, mL",
        "amount",
        "straw volume, volume, volume ml, straw size, size ml, vol, volumen, volumen ml, "
        "paillettenvolumen, inhalt ml, fuellmenge ml, ml",
    ),
    Column(
        "concentration_million_per_ml",
        "Concentration, million/mL",
        "amount",
        "concentration, conc, million per ml, million ml, m ml, mio ml, sperm per ml, "
        "concentration million ml, konzentration, konzentration mio ml, dichte, dichte mio ml",
    ),
    Column(
        "post_thaw_percent",
        "Motility after thawing, %",
        "percent",
        "post thaw, post thaw motility, motility, motility percent, progressive motility, "
        "post thaw progressive motility, pm, ptm, motility after thawing, motilitaet, "
        "beweglichkeit, auftaumotilitaet, motilitaet nach auftauen, auftauwert, "
        "vorwaertsbeweglich",
    ),
    Column(
        "post_thaw_minutes",
        "Minutes from thawing to that result",
        "amount",
        "post thaw minutes, minutes after thawing",
    ),
    Column(
        "straw_colour",
        "Straw colour",
        "line",
        "colour, color, straw color, farbe, paillettenfarbe, couleur, kleur",
    ),
    Column(
        "thaw",
        "Thawing",
        "thaw",
        "thawing, thaw protocol, thaw instructions, how to thaw, auftauen, auftauanleitung, "
        "auftauprotokoll, auftauvorschrift",
    ),
    Column(
        "from",
        "Received from",
        "line",
        "received from, source, supplier, origin, sender, coming from, herkunft, erhalten "
        "von, lieferant, bezogen von, von",
    ),
    Column(
        "owner",
        "Owner of the straws",
        "line",
        "straw owner, owner of straws, belongs to, besitzer, eigentuemer, gehoert, "
        "proprietaire, eigenaar",
    ),
    Column(
        "note",
        "Note",
        "text",
        "notes, remark, remarks, comment, comments, bemerkung, bemerkungen, notiz, anmerkung, "
        "kommentar, hinweis",
    ),
    Column(
        "collected_where",
        "Collected at",
        "line",
        "collection centre, collected at station, collection place, gewonnen in, besamungsstation, "
        "station",
    ),
    Column(
        "approval_number",
        "Approval number of that place",
        "line",
        "approval no, centre approval number, zulassungsnummer, veterinaerkontrollnummer",
    ),
    Column("extender", "Extender", "line", "diluent, verduenner, medium"),
    Column(
        "batch_code",
        "Batch code (of this book)",
        "code",
    ),
    Column(
        "straw_codes",
        "Straw codes (of this book)",
        "codes",
    ),
    Column(
        "hold_reason",
        "On hold because",
        "line",
        "held because, gesperrt wegen",
    ),
    Column(
        "hold_until",
        "On hold until",
        "day",
        "held until, gesperrt bis",
    ),
)

BY_NAME = {column.name: column for column in COLUMNS}

#: What must be there; for the stallion his number does, too.
NEEDED = ("straws", "place")


def folded(header: str) -> str:
    """A header as it is compared."""
    text = header.casefold().replace("ä", "ae").replace("ö", "oe").replace("ü", "ue")
    apart = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    plain = "".join(sign for sign in apart if not unicodedata.combining(sign))
    return "".join(re.findall(r"[a-z0-9]+", plain))


_SPELLED = {
    folded(spelling): column.name
    for column in COLUMNS
    for spelling in (*column.spellings.split(","), column.title, column.name)
    if spelling
}


@dataclass(frozen=True, slots=True)
class Matched:
    """Which column of the file is which of ours: by position, None where it is not taken over."""

    fields: tuple[str | None, ...]
    missing: tuple[str, ...]
    twice: tuple[str, ...]

    def at(self, field: str) -> int | None:
        """The position of one of ours."""
        return self.fields.index(field) if field in self.fields else None


def mapped(header: Sequence[str], said: Mapping[str, str | None]) -> Matched:
    """Our columns in this header, by what a person said and then by how it is spelled.

    Raises BadAnswer for a column that the file does not have or a field that we do not.
    """
    fields: list[str | None] = [_SPELLED.get(folded(name)) for name in header]
    taken = {field for field in said.values() if field}
    fields = [None if field in taken else field for field in fields]
    for name, field in said.items():
        if field and field not in BY_NAME:
            raise BadAnswer(
                f"There is no field {field!r}. The fields are {', '.join(BY_NAME)}.", field=field
            )
        fields[_position(header, name)] = field or None
    twice = tuple(name for name in BY_NAME if fields.count(name) > 1)
    missing = [name for name in NEEDED if name not in fields]
    if "stallion" not in fields and "ueln" not in fields:
        missing.insert(0, "stallion")
    return Matched(tuple(fields), tuple(missing), twice)


def _position(header: Sequence[str], name: str) -> int:
    if name in header:
        return list(header).index(name)
    plain = [folded(one) for one in header]
    if folded(name) and folded(name) in plain:
        return plain.index(folded(name))
    raise BadAnswer(
        f"The file has no column {name!r}. Its columns are {', '.join(header)}.", column=name
    )
