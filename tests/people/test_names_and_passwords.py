"""User names, the password policy and one-time codes: pure rules."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.people import hashing, passwords, rules

OWN = ("ilva", "Ilva Thornby")


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("Ilva", "ilva"),
        ("  ILVA\t", "ilva"),
        ("ｉｌｖａ", "ilva"),
        ("Straße", "strasse"),
        ("o.brien-2@stud_x+y", "o.brien-2@stud_x+y"),
        ("Ольга", "ольга"),
        ("רות", "רות"),
        ("ऋतु", "ऋतु"),
    ],
)
def test_user_names_are_kept_folded(typed, kept):
    assert rules.new_username(typed) == kept


@pytest.mark.parametrize(
    "typed",
    ["", " ", "i", "x" * 61, "il va", "il\u202eva", "il\x00va", "il/va", "🐎🐎", "a\u200bb"],
)
def test_a_name_nobody_could_type_again_is_refused(typed):
    with pytest.raises(rules.BadUsername):
        rules.new_username(typed)


@given(st.text(max_size=40))
def test_a_kept_name_folds_to_itself(typed):
    assert rules.folded(rules.folded(typed)) == rules.folded(typed)


@given(st.text(max_size=40))
def test_upper_and_lower_case_are_one_name(typed):
    assert rules.folded(typed.upper().lower()) == rules.folded(typed.upper())


@pytest.mark.parametrize(
    "password",
    [
        "seven grey geese over the fjord",
        "kx7 vm2 qp9 rt4 wz",
        "pörröinen kissa nukkuu",
        "七つの灰色の雁がフィヨルドを越えて飛ぶ",
        "🐎🦆🌊🌾🍏🪵🧲🧵🎻🏔🛶🪶🧭🕯🪁",
        "                seven geese",
        "x" * 60 + "seven grey geese" + "y" * 60,
    ],
)
def test_a_long_password_of_any_signs_is_taken_as_it_is(password):
    assert passwords.new_password(password, own_words=OWN) == unicodedata.normalize(
        "NFKC", password
    )


def test_the_shortest_password_has_fifteen_signs():
    """NIST SP 800-63B-4 (2025), 3.1.1.2: 15 without a second factor (from memory)."""
    assert passwords.new_password("kx7vm2qp9rt4wzj", own_words=OWN)
    with pytest.raises(rules.WeakPassword) as refused:
        passwords.new_password("kx7vm2qp9rt4wz", own_words=OWN)
    assert refused.value.facts["errors"][0]["field"] == "password"


def test_a_password_longer_than_anyone_types_is_refused_and_never_cut():
    long = "kx7vm2qp9rt4wzj " * 62 + "12345678"
    assert len(long) == 1_000
    assert passwords.new_password(long, own_words=OWN) == long
    with pytest.raises(rules.WeakPassword):
        passwords.new_password(long + "x", own_words=OWN)


@pytest.mark.parametrize(
    "password",
    [
        "passwordpassword",
        "Password1234567890",
        "correct horse battery staple",
        "aaaaaaaaaaaaaaaaaaaa",
        "abcabcabcabcabcabc",
        "123456789012345",
        "987654321098765",
        "qwertyuiopasdfgh",
        "stallion station straws",
        "ilvailvailvailva1",
        "Ilva Thornby 2026",
        "thornby-thornby-thornby",
        "rimebook-nitrogen-tank",
        "ＰＡＳＳＷＯＲＤＰＡＳＳＷＯＲＤ",
    ],
)
def test_what_is_guessed_first_is_refused(password):
    with pytest.raises(rules.WeakPassword):
        passwords.new_password(password, own_words=OWN)


@given(st.integers(min_value=0, max_value=2**80 - 1))
def test_a_code_reads_back_however_it_is_typed(number):
    code = passwords.code_text(number)
    assert len(code) == 19
    bare = code.replace("-", "")
    for typed in (code, bare, code.lower(), f"  {code.replace('-', ' ')} "):
        assert passwords.bare_code(typed) == bare
    assert passwords.bare_code(bare.replace("1", "l").replace("0", "o")) == bare


@given(st.integers(min_value=0, max_value=2**80 - 1), st.integers(min_value=0, max_value=2**80 - 1))
def test_each_of_the_eighty_bits_is_in_the_code(one, other):
    assert (passwords.code_text(one) == passwords.code_text(other)) == (one == other)


@given(st.text(max_size=40))
def test_other_text_is_no_code_or_one_of_sixteen_symbols(typed):
    bare = passwords.bare_code(typed)
    assert bare is None or len(bare) == 16


def test_secrets_are_long_random_and_kept_hashed():
    tokens = {hashing.new_token() for _ in range(100)} | {
        hashing.new_session_token() for _ in range(100)
    }
    assert len(tokens) == 200
    assert all(len(token.removeprefix("rimebook_")) * 6 >= 256 for token in tokens)
    assert len({hashing.new_code() for _ in range(100)}) == 100
    kept = hashing.hashed_password("seven grey geese over the fjord")
    assert kept.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
    assert kept != hashing.hashed_password("seven grey geese over the fjord")
