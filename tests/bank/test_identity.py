"""Identity numbers: what is possible is spelled one way, what is impossible is refused."""

from importlib import import_module

import iso3166
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.bank import identity
from service.bank.identity import BadCountry, BadMicrochip, BadUeln

# ueln.net, "Rules of attribution" (year not known): numbers of a French and of an Irish data base.
ATTRIBUTED = [
    ("250", "001", "00155928M", "25000100155928M"),
    ("372", "414", "1234567", "372414001234567"),
]


@pytest.mark.parametrize(("country", "database", "number", "ueln"), ATTRIBUTED)
def test_a_national_number_is_filled_with_zeros_to_nine(
    country: str, database: str, number: str, ueln: str
) -> None:
    composed = identity.compose_ueln(country=country, database=database, national_number=number)
    assert composed == ueln
    assert identity.read_ueln(ueln) == ueln


@pytest.mark.parametrize(
    ("written", "stored"),
    [
        ("25000100155928m", "25000100155928M"),
        (" 250 001 00155928M\n", "25000100155928M"),
        ("250-001-00155928M", "25000100155928M"),
        ("250.001.00155928M", "25000100155928M"),
        ("250\u00a0001\u201100155928M", "25000100155928M"),
        ("372IRE001234567", "372IRE001234567"),
        ("208DK10Å1234567", "208DK10A1234567"),
        ("276DE4ä12345678", "276DE4A12345678"),
        ("276DE4a\u030812345678", "276DE4A12345678"),
        ("578NO10Ø1234567", "578NO10O1234567"),
        ("208DK1Æ1234567", "208DK1AE1234567"),
        ("276DE4ß1234567", "276DE4SS1234567"),
        ("616PL00Ł1234567", "616PL00L1234567"),
        ("891YUG001234567", "891YUG001234567"),
    ],
)
def test_a_ueln_has_one_spelling(written: str, stored: str) -> None:
    assert identity.read_ueln(written) == stored
    assert identity.read_ueln(stored) == stored


@pytest.mark.parametrize(
    ("written", "fact"),
    [
        ("", "this has 0"),
        ("25000100155928", "this has 14"),
        ("25000100155928MM", "this has 16"),
        ("00000100155928M", "“000” is none"),
        ("99900100155928M", "“999” is none"),
        ("98300100155928M", "“983” is none"),
        ("FRA00100155928M", "“FRA” is none"),
        ("25000100155928*", "“*” is neither"),
        ("25000100155928М", "“М” is neither"),  # Cyrillic
        ("٢٥٠٠٠١٠٠١٥٥٩٢٨٠", "is neither"),
        ("🐴" * 15, "“🐴” is neither"),
        ("2" * 10_000_000, "this has far more"),
    ],
)
def test_an_impossible_ueln_is_refused_with_the_fact(written: str, fact: str) -> None:
    with pytest.raises(BadUeln) as refused:
        identity.read_ueln(written)
    assert refused.value.code == "bad-ueln"
    assert fact in refused.value.detail
    assert len(refused.value.detail) < 300


def test_no_check_digit_is_invented() -> None:
    """Any last character may be right: no universal check digit exists."""
    for last in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ":
        assert identity.read_ueln("25000100155928" + last) == "25000100155928" + last


@pytest.mark.parametrize(
    ("country", "database", "number"),
    [
        ("25", "001", "1"),
        ("250", "01", "1"),
        ("250", "001", ""),
        ("250", "001", "1234567890"),
        ("250", "001", "9" * 1000),
        ("000", "001", "1"),
    ],
)
def test_parts_that_make_no_ueln_are_refused(country: str, database: str, number: str) -> None:
    with pytest.raises(BadUeln):
        identity.compose_ueln(country=country, database=database, national_number=number)


# ISO 11784 (1996): 38 bits for the animal, so 274,877,906,943 at most; ICAR's introduction to
# animal identification repeats the figure. 900 to 998 for makers, 999 for tests: from memory.


@pytest.mark.parametrize(
    ("written", "stored"),
    [
        ("826274877906943", "826274877906943"),
        (" 826 2748 7790 6943 ", "826274877906943"),
        ("826-274877906943", "826274877906943"),
        ("900000000000001", "900000000000001"),
        ("983000000000001", "983000000000001"),
        ("998000000000001", "998000000000001"),
        ("004000000000001", "004000000000001"),
    ],
)
def test_a_possible_microchip_has_one_spelling(written: str, stored: str) -> None:
    assert identity.read_microchip(written) == stored


@pytest.mark.parametrize(
    ("written", "fact"),
    [
        ("999000000000001", "test chip"),
        ("826274877906944", "at most 274877906943"),
        ("82627487790694", "this has 14"),
        ("8262748779069430", "this has 16"),
        ("82627487790694X", "not all of them digits"),
        ("٨٢٦٢٧٤٨٧٧٩٠٦٩٤٣", "not all of them digits"),
        ("000000000000001", "“000” is neither"),
        ("899000000000001", "“899” is neither"),
        ("", "this has 0"),
        ("8" * 10_000_000, "this has far more"),
    ],
)
def test_an_impossible_microchip_is_refused_with_the_fact(written: str, fact: str) -> None:
    with pytest.raises(BadMicrochip) as refused:
        identity.read_microchip(written)
    assert refused.value.code == "bad-microchip"
    assert fact in refused.value.detail
    assert len(refused.value.detail) < 300


def test_every_country_of_iso_3166_1_is_known() -> None:
    """iso3166 3.0 for the numeric codes; 249 of them since 2011 (ISO 3166-1:2013, from memory)."""
    numerics = [country.numeric for country in iso3166.countries if country.alpha2 != "XK"]
    assert len(numerics) == 249
    for numeric in numerics:
        assert identity.read_ueln(f"{numeric}001000000001") == f"{numeric}001000000001"
        assert identity.read_microchip(f"{numeric}000000000001") == f"{numeric}000000000001"


def test_country_letters_agree_with_a_second_library() -> None:
    """python-stdnum 2.2 lists ISO 3166-1 alpha-2 for securities' numbers (ISO 6166), plus a few."""
    others = set(import_module("stdnum.isin")._country_codes)
    not_countries = {"AN", "CS", "EU", "QS", "QT", "XA", "XB", "XC", "XD", "XF", "XS"}
    assert {letters for letters in others if is_country(letters)} == others - not_countries


def is_country(letters: str) -> bool:
    try:
        identity.read_country(letters)
    except BadCountry:
        return False
    return True


def test_a_station_s_country_is_stored_in_upper_case() -> None:
    assert identity.read_country(" ie ") == "IE"


@pytest.mark.parametrize("written", ["", "UK", "IRL", "276", "İE", "ıe", "🇮🇪", "I" * 10_000_000])
def test_what_is_no_country_is_refused(written: str) -> None:
    with pytest.raises(BadCountry) as refused:
        identity.read_country(written)
    assert refused.value.code == "bad-country"
    assert len(refused.value.detail) < 200


@given(st.text())
def test_any_text_is_spelled_one_way_or_refused(text: str) -> None:
    for read, bad in (
        (identity.read_ueln, BadUeln),
        (identity.read_microchip, BadMicrochip),
    ):
        try:
            spelled = read(text)
        except bad:
            continue
        assert read(spelled) == spelled
