"""Identity numbers of horses, and the station's country: spelled one way, refused if impossible.

Pure. A number that is stored has its one canonical spelling, so that two spellings of one horse are
one horse. What cannot be known is not invented: neither number has a universal check digit, so a
wrong digit inside a plausible number goes unseen.

UELN (Universal Equine Life Number), 15 characters, after ueln.net, "Rules of attribution": three
digits for the country of the data base (ISO 3166-1 numeric), three characters for the data
base within it, nine for the national number, left-padded with zeros; letters are allowed,
special signs are transliterated.

Microchip after ISO 11784 (ISO, 1996 and later), 15 digits: a country (ISO 3166-1 numeric) or a
maker (900 to 998, allotted by ICAR, from memory), then a 38-bit number in twelve digits.
"""

import re
import unicodedata

import iso3166

from service.kernel.errors import Invalid
from service.kernel.quoting import shown

UELN_LENGTH = 15
NATIONAL_NUMBER_LENGTH = 9
MICROCHIP_LENGTH = 15
LARGEST_CHIP_NUMBER = 2**38 - 1  # 274,877,906,943

_TEST_CHIP = "999"
_CHIP_MAKERS = range(900, 999)
_LONGEST_INPUT = 60

# ISO 3166-1 leaves 900 to 999 to its users; the library lists one of them (983), which as a
# microchip's prefix is a maker. Countries that ended after the UELN began still stand in the
# numbers of living and frozen horses: Netherlands Antilles, Sudan before 2011, Serbia and
# Montenegro (from memory).
_ENDED_COUNTRIES = {"530", "736", "891"}
_COUNTRIES = {
    country.numeric for country in iso3166.countries if country.numeric < "900"
} | _ENDED_COUNTRIES

_SEPARATORS = re.compile(r"[\s.\-/\u2010-\u2014\u2212]+")

# Letters that do not fall apart into a base letter and a mark.
_TRANSLITERATED = str.maketrans(
    {
        "Æ": "AE",
        "Œ": "OE",
        "Ø": "O",
        "Đ": "D",
        "Ð": "D",
        "Ł": "L",
        "Þ": "TH",
        "Ħ": "H",
        "Ŧ": "T",
        "ẞ": "SS",
    }
)


class BadUeln(Invalid):
    """Not a life number that any data base can have given."""

    code = "bad-ueln"
    title = "This is not a UELN"


class BadMicrochip(Invalid):
    """Not a number that any horse's microchip can carry."""

    code = "bad-microchip"
    title = "This is not a microchip number"


class BadCountry(Invalid):
    """Not a country's two letters."""

    code = "bad-country"
    title = "This is not a country code"


def read_ueln(text: str) -> str:
    """A UELN in its one spelling: 15 characters, upper case, nothing between them."""
    ueln = _plain(text)
    if strange := _strange(ueln):
        raise BadUeln(
            f"A UELN has only digits and the letters A to Z; “{shown(strange)}” is neither. "
            "Copy it from the passport again.",
            ueln=shown(text),
        )
    if len(ueln) != UELN_LENGTH:
        raise BadUeln(
            f"A UELN has {UELN_LENGTH} characters; this has {_length(ueln)}. Put the country and "
            f"data base (six characters) before the national number, and fill that with zeros on "
            f"the left to {NATIONAL_NUMBER_LENGTH}.",
            ueln=shown(text),
        )
    if ueln[:3] not in _COUNTRIES:
        raise BadUeln(
            f"A UELN begins with three digits for a country (ISO 3166-1); “{ueln[:3]}” is none. "
            "Copy it from the passport again.",
            ueln=shown(text),
        )
    return ueln


def compose_ueln(*, country: str, database: str, national_number: str) -> str:
    """The UELN of a horse known by its national number, filled with zeros on the left to nine.

    `country` is the data base's ISO 3166-1 numeric code, `database` its three characters.
    """
    country, database, number = _plain(country), _plain(database), _plain(national_number)
    if len(country) != 3 or len(database) != 3:
        raise BadUeln(
            f"The country (“{shown(country)}”) and the data base (“{shown(database)}”) have "
            "three characters each. Look them up in the passport.",
        )
    if not 1 <= len(number) <= NATIONAL_NUMBER_LENGTH:
        raise BadUeln(
            f"The national number has one to {NATIONAL_NUMBER_LENGTH} characters; this has "
            f"{_length(number)}. Leave out what is not part of the number.",
            national_number=shown(national_number),
        )
    return read_ueln(country + database + number.rjust(NATIONAL_NUMBER_LENGTH, "0"))


def read_microchip(text: str) -> str:
    """A microchip's number in its one spelling: 15 digits, nothing between them."""
    number = _plain(text)
    if not re.fullmatch(rf"[0-9]{{{MICROCHIP_LENGTH}}}", number):
        raise BadMicrochip(
            f"A microchip has {MICROCHIP_LENGTH} digits; this has {_length(number)} characters"
            f"{'' if re.fullmatch('[0-9]*', number) else ', not all of them digits'}. "
            "Scan the chip again.",
            microchip=shown(text),
        )
    prefix, chip_number = number[:3], int(number[3:])
    if prefix == _TEST_CHIP:
        raise BadMicrochip(
            "999 marks a test chip, never a horse's. Scan the horse's own chip.",
            microchip=shown(text),
        )
    if prefix not in _COUNTRIES and int(prefix) not in _CHIP_MAKERS:
        raise BadMicrochip(
            f"A microchip begins with a country (ISO 3166-1) or a maker (900 to 998); “{prefix}” "
            "is neither. Scan the chip again.",
            microchip=shown(text),
        )
    if chip_number > LARGEST_CHIP_NUMBER:
        raise BadMicrochip(
            f"The last twelve digits of a microchip are at most {LARGEST_CHIP_NUMBER:012d}; these "
            f"are {number[3:]}. Scan the chip again.",
            microchip=shown(text),
        )
    return number


def read_country(text: str) -> str:
    """A country's two letters (ISO 3166-1 alpha-2), upper case.

    XK is let through: it is not of the standard but of the range left to users, and trade papers
    in Europe use it (from memory).
    """
    letters = text.strip().upper() if len(text) <= _LONGEST_INPUT and text.isascii() else ""
    if letters not in iso3166.countries_by_alpha2:
        raise BadCountry(
            f"“{shown(text)}” is not a country's two letters (ISO 3166-1), such as IE, FR or GB.",
            country=shown(text),
        )
    return letters


def _plain(text: str) -> str:
    """Upper case, without separators, special letters transliterated.

    The rules of attribution name no table; ours keeps the base letter (Ä becomes A), so that a
    number keeps its length.
    """
    if len(text) > _LONGEST_INPUT:
        return text
    apart = unicodedata.normalize("NFKD", _SEPARATORS.sub("", text).upper())
    return "".join(sign for sign in apart if not unicodedata.combining(sign)).translate(
        _TRANSLITERATED
    )


def _strange(text: str) -> str | None:
    found = re.search(r"[^0-9A-Z]", text) if len(text) <= _LONGEST_INPUT else None
    return found.group() if found else None


def _length(text: str) -> str:
    return str(len(text)) if len(text) <= _LONGEST_INPUT else "far more"
