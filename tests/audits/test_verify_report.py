"""The stand-alone checker finds what somebody with every right changed behind the service's back.

It runs here as on another machine: in a process of its own, without anything installed.
"""

import json
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.audits import verify_report
from service.audits.report_form import Report, canonical, digest
from service.kernel import chain
from tests.audits import ledgers
from tests.audits.ledgers import BATCHES, GOBLETS, Book, bank, signed, stock_take, written_anew

Entries = list[dict[str, Any]]
CHECKER = Path(verify_report.__file__)


@pytest.fixture(scope="module")
def true() -> tuple[Book, dict[str, Any]]:
    book = bank()
    return book, stock_take(book)


def lines_of(entries: Entries) -> str:
    return "\n".join(json.dumps(entry, ensure_ascii=False) for entry in entries)


def put(folder: Path, report: Any, extract: str | None) -> list[str]:
    """The files, as the checker's arguments."""
    (folder / "report.json").write_text(json.dumps(report), encoding="utf-8")
    if extract is None:
        return [str(folder / "report.json")]
    (folder / "extract.json").write_text(extract, encoding="utf-8")
    return [str(folder / "report.json"), str(folder / "extract.json")]


def alone(arguments: list[str]) -> tuple[int, str]:
    """The checker in a process that has nothing but Python's own library."""
    done = subprocess.run(
        [sys.executable, "-I", "-S", str(CHECKER), *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert not done.stderr
    return done.returncode, done.stdout


@pytest.fixture
def look(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str]]:
    """The checker in this process, which is quicker."""

    def look(report: Any, entries: Entries | None) -> tuple[int, str]:
        arguments = put(tmp_path, report, None if entries is None else lines_of(entries))
        return verify_report.main(arguments), capsys.readouterr().out

    return look


def test_what_is_true_agrees_on_a_machine_with_nothing_installed(
    true: tuple[Book, dict[str, Any]], tmp_path: Path
) -> None:
    book, report = true
    code, said = alone(put(tmp_path, report, lines_of(book.entries)))
    assert code == 0, said
    last = book.entries[-1]
    assert said == (
        f"The report agrees with itself. SHA-256 {report['sha256']}\n"
        f"It agrees with the ledger to entry {last['seq']}, {last['hash']}\n"
    )
    changed = deepcopy(book.entries)
    changed[2]["by_name"] = "Somebody Else"
    code, said = alone(put(tmp_path, report, lines_of(changed)))
    assert code == 1
    assert "- Entry 3 was changed" in said


def test_an_extract_is_lines_or_a_list_or_in_a_zip(
    true: tuple[Book, dict[str, Any]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, report = true
    for text in (json.dumps(book.entries, indent=1), lines_of(book.entries) + "\n\n"):
        assert verify_report.main(put(tmp_path, report, text)) == 0
    with zipfile.ZipFile(tmp_path / "extract.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("ledger.jsonl", lines_of(book.entries))
        archive.writestr("README.txt", "What is in here")
    [report_file, _] = put(tmp_path, report, "")
    assert verify_report.main([report_file, str(tmp_path / "extract.zip")]) == 0
    with zipfile.ZipFile(tmp_path / "two.zip", "w") as archive:
        archive.writestr("one.txt", "")
        archive.writestr("two.txt", "")
    assert verify_report.main([report_file, str(tmp_path / "two.zip")]) == 1
    assert "two.zip holds more files than one" in capsys.readouterr().out
    assert verify_report.main([report_file, str(tmp_path / "no.json")]) == 1
    assert verify_report.main([report_file]) == 0
    assert "Not looked at: the ledger" in capsys.readouterr().out
    assert verify_report.main([]) == 2


def test_an_extract_may_begin_behind_a_stated_hash(
    true: tuple[Book, dict[str, Any]], look: Callable[..., tuple[int, str]]
) -> None:
    book, report = true
    start = book.entries[3]
    begun: dict[str, Any] = {"starts_after": {"seq": 4, "hash": start["hash"]}}
    code, said = look(report, [begun, *book.entries[4:]])
    assert code == 0, said
    assert "Not looked at: what the book expects" in said
    begun["starts_after"]["hash"] = "a" * 64
    code, said = look(report, [begun, *book.entries[4:]])
    assert (code, "Entry 5 was changed." in said) == (1, True)
    late = {"starts_after": {"seq": 6, "hash": book.entries[5]["hash"]}}
    code, said = look(report, [late, *book.entries[6:]])
    assert "reaches from entry 7 to 10; the report's freeze point is 5" in said
    code, said = look(report, book.entries[4:])
    assert "Entry 1 is missing: entry 5 stands in its place." in said


def edited(entries: Entries) -> Entries:
    entries[3]["lines"][0]["straw_code"] = "S0000009X"
    return entries


def edited_with_fresh_hash(entries: Entries) -> Entries:
    entries[3]["reason"] = "another reason"
    entries[3] = ledgers.hashed(entries[3], entries[2]["hash"])
    return entries


def deleted(entries: Entries) -> Entries:
    del entries[3]
    return entries


def deleted_and_renumbered(entries: Entries) -> Entries:
    del entries[3]
    return [{**entry, "seq": number} for number, entry in enumerate(entries, start=1)]


def inserted(entries: Entries) -> Entries:
    new = ledgers.hashed({**entries[4], "seq": 4, "id": str(UUID(int=5))}, entries[2]["hash"])
    return [*entries[:3], new, *entries[3:]]


def inserted_and_renumbered(entries: Entries) -> Entries:
    return [{**entry, "seq": number} for number, entry in enumerate(inserted(entries), start=1)]


def reordered(entries: Entries) -> Entries:
    entries[3], entries[4] = entries[4], entries[3]
    return entries


def moved_to_the_end(entries: Entries) -> Entries:
    return [*entries[:3], *entries[4:], entries[3]]


def swapped_contents(entries: Entries) -> Entries:
    first, second = entries[3], entries[6]
    entries[3] = {**second, "seq": first["seq"], "hash": first["hash"]}
    entries[6] = {**first, "seq": second["seq"], "hash": second["hash"]}
    return entries


@pytest.mark.parametrize(
    ("tamper", "named"),
    [
        (edited, "Entry 4 was changed"),
        (edited_with_fresh_hash, "Entry 5 was changed; or 4 was, and got a fresh hash."),
        (deleted, "Entry 4 is missing: entry 5 stands in its place."),
        (deleted_and_renumbered, "Entry 4 was changed"),
        (inserted, "Entry 4 stands there twice: one of the two was inserted."),
        (inserted_and_renumbered, "Entry 4 was inserted: 5 had its number before."),
        (reordered, "Entry 4 is out of order: it stands behind entry 5."),
        (moved_to_the_end, "Entry 4 is out of order: it stands behind entry 10."),
        (swapped_contents, "Entry 4 was changed"),
    ],
)
def test_the_first_bad_entry_is_named_by_the_extract_alone(
    true: tuple[Book, dict[str, Any]],
    look: Callable[..., tuple[int, str]],
    tamper: Callable[[Entries], Entries],
    named: str,
) -> None:
    book, report = true
    code, said = look(report, tamper(deepcopy(book.entries)))
    assert code == 1
    assert said.startswith(f"- {named}"), said
    assert said.endswith("It does NOT agree.\n")


def test_a_tail_that_was_cut_is_found_by_the_report(
    true: tuple[Book, dict[str, Any]], look: Callable[..., tuple[int, str]]
) -> None:
    book, report = true
    code, said = look(report, book.entries[:7])
    assert code == 1
    assert "reaches from entry 1 to 7; the report's closing point is 9" in said
    code, said = look(report, book.entries[:-1])
    assert "No entry after the closing point names this report's SHA-256." in said


def test_a_book_written_anew_is_found_by_the_heads_on_an_earlier_report(
    true: tuple[Book, dict[str, Any]], look: Callable[..., tuple[int, str]]
) -> None:
    book, report = true
    entries = deepcopy(book.entries)
    entries[1]["by_name"] = "Somebody Else"
    code, said = look(report, written_anew(entries))
    assert code == 1
    assert "Entry 5 has not the hash of the report's freeze point" in said
    assert "was changed" not in said  # nothing in the extract itself gives it away


def test_lines_that_wander_into_another_field_do_not_pass(
    true: tuple[Book, dict[str, Any]], look: Callable[..., tuple[int, str]]
) -> None:
    """The same hashed text, but one straw fewer."""
    book, report = true
    entries = deepcopy(book.entries)
    line = entries[3]["lines"].pop(0)
    entries[3]["facts"] += "\n" + verify_report.line_text(line)
    assert ledgers.service_text(entries[3]) == ledgers.service_text(book.entries[3])
    code, said = look(report, entries)
    assert (code, "after entry 3" in said) == (1, True)


#: A count by whoever approved the adjustment.
BEFORE = {"round": 1, "counted_by": ledgers.APPROVER, "counted_at": ledgers.at(6), "counted": {}}

Change = Callable[[dict[str, Any]], Any]


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (
            lambda r: r["goblets"][1]["expected"].update({BATCHES[0][0]: 1}),
            "report 1, ledger 2",
        ),
        (lambda r: r["goblets"][2]["counted"].clear(), "off by -10, the differences say 0"),
        (lambda r: r["differences"][0].update(difference=1), "is not counted less expected"),
        (
            lambda r: r["differences"][0].update(adjustment_ids=[]),
            "adjusted, it says, but -1 are left",
        ),
        (lambda r: r["adjustments"][0].update(approved_by=ledgers.COUNTER), "or counted that"),
        (lambda r: r["adjustments"][0].update(approved_by=ledgers.PROPOSER), "whoever proposed it"),
        (lambda r: r["goblets"][0].update(counts_before=[BEFORE]), "or counted that goblet"),
        (lambda r: r["adjustments"][0].update(straw_codes=["S0000006X"]), "not the same straws"),
        (lambda r: r["adjustments"][0].update(reason_code="destroyed"), "not the same reason"),
        (lambda r: r["adjustments"][0].update(batch_code=BATCHES[1][0]), "not the same batch"),
        (lambda r: r["adjustments"][0].update(difference=-2), "not the same numbers"),
        (lambda r: r["adjustments"][0].update(entry_seq=8), "Entry 9 adjusts stock; the report"),
        (lambda r: r["adjustments"][0].update(entry_seq=99), "said to be entry 99: not there"),
        (lambda r: r["adjustments"].append(r["adjustments"][0]), "is in the report twice"),
        (lambda r: r["goblets"].append(r["goblets"][3]), "is in the report twice"),
        (
            lambda r: r["closing"].update(head="b" * 64),
            "Entry 9 has not the hash of",
        ),
        (lambda r: r.update(closing_note="All is well."), "names this report's SHA-256"),
        (lambda r: r.pop("goblets"), "KeyError('goblets')"),
    ],
)
def test_a_report_that_was_made_up_and_hashed_anew_does_not_agree(
    true: tuple[Book, dict[str, Any]],
    look: Callable[..., tuple[int, str]],
    change: Change,
    named: str,
) -> None:
    book, report = true
    other = deepcopy(report)
    change(other)
    code, said = look(signed(other), book.entries)
    assert code == 1
    assert named in said
    code, said = look(other, None)
    assert (code, "The report was changed" in said or "KeyError" in said) == (1, True)


def test_overs_and_unders_of_a_batch_are_never_set_off_against_each_other(
    true: tuple[Book, dict[str, Any]], look: Callable[..., tuple[int, str]]
) -> None:
    _, report = true
    other = deepcopy(report)
    place = {"goblet_id": GOBLETS[1], "batch_code": BATCHES[1][0]}
    for number, off in enumerate((-1, 1)):
        row = {**other["differences"][0], **place, "difference": off, "counted": 10 + off}
        booked = {**other["adjustments"][0], **place, "difference": off, "entry_seq": 50 + number}
        booked["id"] = str(UUID(int=number))
        other["differences"].append(row | {"adjustment_ids": [str(UUID(int=n)) for n in (0, 1)]})
        other["adjustments"].append(booked)
    code, said = look(signed(other), None)
    assert code == 0, said
    other["adjustments"].pop()
    code, said = look(signed(other), None)
    assert "adjusted, it says, but +1 are left" in said
    other["differences"][2]["end"] = "open"
    code, said = look(signed(other), None)
    assert code == 0, said


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("{}", "is not a report of the form"),
        ("[" * 100_000, "not what it should be"),
        ('{"form": 1, "form": 2}', "A name stands twice"),
        ('{"form": 1.5}', "1.5 is not a whole number"),
        ("\xff", "not what it should be"),
    ],
)
def test_what_is_no_report_is_told_so(
    text: str, named: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "report.json").write_text(text, encoding="latin-1")
    assert verify_report.main([str(tmp_path / "report.json")]) == 1
    assert named in capsys.readouterr().out


def test_an_extract_that_breaks_off_is_told_so(
    true: tuple[Book, dict[str, Any]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, report = true
    assert verify_report.main(put(tmp_path, report, lines_of(book.entries)[:-900])) == 1
    assert "The extract breaks off after entry" in capsys.readouterr().out
    assert verify_report.main(put(tmp_path, report, lines_of(book.entries[:2]) + "\n7")) == 1
    assert "What comes after entry 2 is no entry." in capsys.readouterr().out


def test_a_straw_taken_from_where_it_was_not_is_found(
    look: Callable[..., tuple[int, str]],
) -> None:
    book = bank()
    book.places["S0000007X"] = ("stored", GOBLETS[2])
    book.book("discard", [("S0000007X", "discarded", None)])
    code, said = look(stock_take(book), book.entries)
    assert (code, "Entry 6 takes straw S0000007X from where it was not." in said) == (1, True)


WORDS = st.text(st.characters(blacklist_categories=["Cs", "Cc"]), max_size=8)
IDS = st.uuids().map(str)
LINES = st.fixed_dictionaries(
    {
        "straw_code": WORDS,
        "from_state": WORDS,
        "from_goblet_id": st.none() | IDS,
        "to_state": WORDS,
        "to_goblet_id": st.none() | IDS,
        "withdrawal_id": st.none() | IDS,
        "provisional": st.booleans(),
    }
)
ENTRIES = st.fixed_dictionaries(
    {
        "seq": st.integers(1, 10**9),
        "id": IDS,
        "kind": WORDS,
        "by_id": IDS,
        "by_name": WORDS,
        "occurred_at": WORDS,
        "recorded_at": WORDS,
        "reason": st.none() | WORDS,
        "withdrawal_id": st.none() | IDS,
        "batch_id": st.none() | IDS,
        "facts": WORDS,
        "lines": st.lists(LINES, max_size=3),
    }
)


@given(ENTRIES, WORDS)
def test_its_copy_of_the_text_rules_is_the_service_s(entry: dict[str, Any], previous: str) -> None:
    text = verify_report.entry_text(entry, entry["seq"])
    assert text == ledgers.service_text(entry)
    assert verify_report.link(previous, text) == chain.link(previous, text)
    assert verify_report.GENESIS == chain.GENESIS


def test_the_canonical_form_is_the_same_in_both(true: tuple[Book, dict[str, Any]]) -> None:
    _, report = true
    assert set(report) == set(Report.__annotations__)
    assert verify_report.digest(report) == digest(report) == report["sha256"]
    shuffled = dict(reversed(report.items()))
    assert canonical(shuffled) == canonical(report)
    assert canonical({"b": "é", "a": [1, None]}) == '{"a":[1,null],"b":"é"}'.encode()
    with pytest.raises(ValueError, match="not a whole number"):
        canonical({"litres": 1.5})


def test_a_long_ledger_takes_little_time(tmp_path: Path) -> None:
    """100,000 entries in 60 s, asked of a tenth of them."""
    book = bank()
    for number in range(10_000):
        book.book("move", [(f"S2{number % 12:06}X", "stored", GOBLETS[2 + number % 2])])
    book.chance.seed(2)
    report = stock_take(book)
    for row in report["goblets"]:
        row["cut_off_seq"] = 10_005
    report = signed(report)
    book.entries.pop()
    facts = {"stock_take_id": ledgers.STOCK_TAKE, "report_sha256": report["sha256"]}
    book.book("stock-take", facts=facts)
    arguments = put(tmp_path, report, lines_of(book.entries))
    start = time.perf_counter()
    code, said = alone(arguments)
    assert code == 0, said
    assert time.perf_counter() - start < 6
