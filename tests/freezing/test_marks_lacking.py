"""What must stand on straws and is not known is told when they are marked and when frozen."""

from typing import Any

from tests.bank.changing import change
from tests.freezing.conftest import Bench


def lacking(made: Any) -> list[str]:
    return [one["message"] for one in made["warnings"] if one["code"] == "marks-missing"]


def test_a_mark_that_is_not_known_is_told_before_straws_are_marked(bench: Bench) -> None:
    [message] = lacking(bench.prepare(2))
    assert message.startswith("These straws must say the day of collection, which is not known.")
    assert lacking(bench.prepare(2, collected_on="2026-03-03")) == []


def test_a_freeze_that_lacks_a_required_mark_is_told_so(bench: Bench) -> None:
    assert lacking(bench.freeze(1)) == []
    [message] = lacking(bench.freeze(1, stallion_id=bench.other_stallion(ueln=None)))
    assert "must say the stallion's identity number (UELN or microchip), which" in message


def test_what_is_required_is_the_stations_setting(bench: Bench) -> None:
    nameless = bench.other_stallion(ueln=None)
    change(bench.manager, "/api/station", {"required_marks": ["breed"]})
    [message] = lacking(bench.freeze(1, stallion_id=nameless))
    assert "must say the stallion's breed, which" in message
    change(bench.manager, "/api/station", {"required_marks": []})
    assert lacking(bench.freeze(1, stallion_id=nameless)) == []


def test_the_number_of_another_place_is_asked_for_once(bench: Bench) -> None:
    told = [one["code"] for one in bench.freeze(1, collected_where="Another stud")["warnings"]]
    assert (told.count("approval-number-missing"), told.count("marks-missing")) == (1, 0)
