"""Codes: every single wrong symbol and every two that changed places are seen."""

import random
from functools import reduce
from itertools import combinations
from operator import xor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.kernel import codes
from service.kernel.codes import ALPHABET, Code, Kind, MisreadCode

SOME_CODES = [
    codes.make(kind, random.Random(f"{kind}{number}").getrandbits)
    for kind in Kind
    for number in range(500)
]


# An implementation of the field that shares nothing with the service's: polynomials over GF(2) are
# multiplied without carries, and the product is divided by x^5 + x^2 + 1. Textbook arithmetic; the
# primitivity of that polynomial stands in R. Lidl and H. Niederreiter, "Finite Fields", 1997,
# Table C (from memory), and is shown again below.


def carryless_product(left: int, right: int) -> int:
    return reduce(xor, (left << bit for bit in range(5) if right >> bit & 1), 0)


def remainder(dividend: int) -> int:
    while dividend.bit_length() > 5:
        dividend ^= 0b100101 << (dividend.bit_length() - 6)
    return dividend


def product(left: int, right: int) -> int:
    return remainder(carryless_product(left, right))


def power(exponent: int) -> int:
    return reduce(product, [2] * exponent, 1)


def read_anyway(text: str) -> Code | None:
    """What is read of `text`, or None where it is refused."""
    try:
        return codes.read(text)
    except MisreadCode:
        return None


def test_the_reference_multiplication_is_a_field() -> None:
    nonzero = set(range(1, 32))
    for left in nonzero:
        assert {product(left, right) for right in nonzero} == nonzero
        for right in nonzero:
            assert product(left, right) == product(right, left)
            assert product(left, right ^ 5) == product(left, right) ^ product(left, 5)


def test_times_generator_agrees_with_the_reference_multiplication() -> None:
    assert [codes.times_generator(element) for element in range(32)] == [
        product(element, 2) for element in range(32)
    ]


def test_the_generator_runs_through_all_31_non_zero_elements() -> None:
    assert {power(exponent) for exponent in range(31)} == set(range(1, 32))


def test_a_multiplication_worked_by_hand() -> None:
    """(x^4 + 1)(x^2 + x) = x^6 + x^5 + x^2 + x; x^5 = x^2 + 1, x^6 = x^3 + x; sum x^3 + 1."""
    assert product(0b10001, 0b00110) == 0b01001


def test_a_check_worked_by_hand() -> None:
    """Only S (25) and the last random symbol 1 count: 25*g^8 + 1*g, with g^8 = x^3 + x^2 + 1."""
    assert power(8) == 0b01101
    assert codes.check_symbol("S0000001") == ALPHABET[product(25, 0b01101) ^ 0b00010]


@pytest.mark.parametrize("code", SOME_CODES[::25])
def test_the_weighted_sum_of_a_code_is_zero(code: str) -> None:
    terms = [product(ALPHABET.index(code[i]), power(8 - i)) for i in range(9)]
    assert reduce(xor, terms) == 0


def test_every_single_wrong_symbol_is_seen() -> None:
    for code in SOME_CODES:
        for place in range(9):
            for wrong in ALPHABET.replace(code[place], ""):
                assert read_anyway(code[:place] + wrong + code[place + 1 :]) is None


def test_every_two_symbols_that_changed_places_are_seen() -> None:
    """Neighbours, the last with the check, and any two others."""
    swaps = 0
    for code in SOME_CODES:
        for left, right in combinations(range(9), 2):
            if code[left] != code[right]:
                swapped = list(code)
                swapped[left], swapped[right] = code[right], code[left]
                assert read_anyway("".join(swapped)) is None
                swaps += 1
    assert swaps > 80_000


def test_swaps_are_seen_by_the_check_itself_and_not_only_by_the_kind_letter() -> None:
    for code in SOME_CODES:
        for place in range(8):
            if code[place] != code[place + 1]:
                swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
                assert codes.check_symbol(swapped[:8]) != swapped[8]


@pytest.mark.parametrize(
    ("kind", "letter"),
    [
        (Kind.STRAW, "S"),
        (Kind.BATCH, "B"),
        (Kind.GOBLET, "G"),
        (Kind.CANISTER, "C"),
        (Kind.TANK, "T"),
    ],
)
def test_a_code_begins_with_the_letter_of_its_kind(kind: Kind, letter: str) -> None:
    code = codes.make(kind, random.Random(1).getrandbits)
    assert code[0] == letter
    assert codes.read(code) == Code(kind, code)


@given(st.sampled_from(Kind), st.integers(0, 2**35 - 1))
def test_what_is_made_is_read_and_stays_in_the_alphabet(kind: Kind, number: int) -> None:
    code = codes.make(kind, lambda bits: number)
    assert codes.read(code) == Code(kind, code)
    assert len(code) == 9
    assert set(code) <= set("0123456789ABCDEFGHJKMNPQRSTVWXYZ")


def test_the_random_number_is_read_back_from_the_seven_symbols() -> None:
    """No random bit is lost: as many codes as there are numbers."""
    code = codes.make(Kind.TANK, lambda bits: 0b00001_00010_00100_01000_10000_11111_00000)
    assert code[:8] == "T1248GZ0"


def test_a_draw_outside_35_bits_is_a_fault_of_ours() -> None:
    with pytest.raises(ValueError, match="draw"):
        codes.make(Kind.TANK, lambda bits: 1 << bits)


CODE_WITH_LOOK_ALIKES = "S0110010" + codes.check_symbol("S0110010")


@pytest.mark.parametrize(
    "typed",
    [
        CODE_WITH_LOOK_ALIKES.lower(),
        CODE_WITH_LOOK_ALIKES.replace("0", "o").replace("1", "l"),
        CODE_WITH_LOOK_ALIKES.replace("0", "O").replace("1", "I"),
        CODE_WITH_LOOK_ALIKES.replace("1", "i").lower(),
        CODE_WITH_LOOK_ALIKES.replace("1", "L"),
        codes.grouped(CODE_WITH_LOOK_ALIKES),
        "-".join(CODE_WITH_LOOK_ALIKES),
        " - ".join(CODE_WITH_LOOK_ALIKES),
        f"\t {CODE_WITH_LOOK_ALIKES}\r\n",
        "\u2013".join([CODE_WITH_LOOK_ALIKES[:4], CODE_WITH_LOOK_ALIKES[4:]]),
        "\u00a0".join([CODE_WITH_LOOK_ALIKES[:3], CODE_WITH_LOOK_ALIKES[3:]]),
    ],
)
def test_reading_forgives_case_spaces_hyphens_and_look_alikes(typed: str) -> None:
    assert codes.read(typed) == Code(Kind.STRAW, CODE_WITH_LOOK_ALIKES)


def test_people_read_three_groups_of_three() -> None:
    assert codes.grouped("S12345678") == "S12 345 678"


GOOD = SOME_CODES[0]


@pytest.mark.parametrize(
    ("arrived", "fact"),
    [
        ("", "No code arrived"),
        (" - ", "No code arrived"),
        (GOOD[:-1], "this has 8"),
        (GOOD + "0", "this has 10"),
        ("🐴" * 9, "not used in codes"),
        ("S٠٠٠٠٠٠٠٠", "not used in codes"),
        ("Ｓ00000000", "not used in codes"),
        ("ſ" + GOOD[1:], "not used in codes"),
        ("U" + GOOD[1:], "“U” is not used in codes"),
        ("https://example.org/S", "not used in codes"),
        ("S" * 10_000_000, "10000000 characters"),
        ("\ud800" + GOOD[1:], "not used in codes"),
        ("X" + GOOD[1:], "No code begins with “X”"),
        (GOOD[:-1] + ("0" if GOOD[-1] != "0" else "1"), "A symbol is wrong"),
    ],
)
def test_a_misread_code_is_refused_with_the_fact_and_the_way_out(arrived: str, fact: str) -> None:
    with pytest.raises(MisreadCode) as refused:
        codes.read(arrived)
    assert refused.value.code == "misread-code"
    assert fact in refused.value.detail
    assert "Scan it again" in refused.value.detail
    assert len(refused.value.facts["arrived"]) <= 21
    refused.value.detail.encode()


@given(st.text())
def test_any_text_is_either_a_code_or_refused_as_misread(text: str) -> None:
    found = read_anyway(text)
    assert found is None or codes.read(found.code) == found
