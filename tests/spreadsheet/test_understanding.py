"""Cells to what they say: figures, days, thaws, columns; and what is asked back."""

from datetime import date
from decimal import Decimal

import pytest

from service.spreadsheet import columns
from service.spreadsheet.cells import guarded, unguarded
from service.spreadsheet.days import DateOrder, NotADay, orders_in, read_day
from service.spreadsheet.figures import NotAFigure, read_count, read_figure, signs_in
from service.spreadsheet.reading import read
from service.spreadsheet.rules import BadAnswer
from service.spreadsheet.thaws import NotAThaw, read_thaw, written_thaw
from service.spreadsheet.understanding import Answers, Understood, understand

TODAY = date(2026, 3, 10)


def understood(text: str, answers: Answers | None = None) -> Understood:
    return understand(read(text.encode()), answers or Answers(), TODAY)


@pytest.mark.parametrize(
    ("cell", "amount"),
    [
        ("24", "24"),
        ("0,5", "0.5"),
        ("0.25", "0.25"),
        ("0,125", "0.125"),
        ("1.234,5", "1234.5"),
        ("1,234.5", "1234.5"),
        ("1 234,5", "1234.5"),
        ("1.234.567", "1234567"),
        ("1234.567", "1234.567"),
        ("45 %", "45"),
        ("0,5 ml", "0.5"),
        ("400 Mio/ml", "400"),
        ("007", "7"),
        ("12.50", "12.5"),
    ],
)
def test_a_figure_that_settles_its_own_sign_is_read(cell: str, amount: str) -> None:
    assert read_figure(cell, None) == Decimal(amount)


@pytest.mark.parametrize("cell", ["1.234", "12,500", "999.000"])
def test_a_figure_that_means_two_amounts_is_not_read_without_a_sign(cell: str) -> None:
    with pytest.raises(NotAFigure, match="two ways"):
        read_figure(cell, None)
    assert read_figure(cell, "comma") != read_figure(cell, "point")


@pytest.mark.parametrize("cell", ["", "x", "1,2,3", "3E10", "1..2", "0x10", "٣", "NaN", "1.2.3"])
def test_what_is_no_figure_is_refused(cell: str) -> None:
    with pytest.raises(NotAFigure):
        read_figure(cell, "comma")


def test_straws_are_counted_whole() -> None:
    assert read_count("1.000", "comma") == 1000
    assert read_count("24,0", None) == 24
    with pytest.raises(NotAFigure, match="whole"):
        read_count("2,5", None)


def test_one_figure_settles_the_sign_of_a_file() -> None:
    assert signs_in(["1.234", "0,5"]).found == "comma"
    assert signs_in(["1.234", "12.5"]).found == "point"
    assert signs_in(["1.234", "7"]).found is None
    assert signs_in(["0,5", "0.5"]).both


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("2026-03-03", date(2026, 3, 3)),
        ("2026-03-03 00:00:00", date(2026, 3, 3)),
        ("2014/7/1", date(2014, 7, 1)),
        ("23.04.14", date(2014, 4, 23)),
        ("04/23/2014", date(2014, 4, 23)),
        ("5.5.99", date(1999, 5, 5)),
        ("3 Mar 2026", date(2026, 3, 3)),
        ("3. März 2026", date(2026, 3, 3)),
        ("03-Mrz-26", date(2026, 3, 3)),
        ("1. Jänner 2020", date(2020, 1, 1)),
        ("March 3, 2026", date(2026, 3, 3)),
        ("12 Okt. 98", date(1998, 10, 12)),
        ("2nd December 2019", date(2019, 12, 2)),
    ],
)
def test_a_day_that_can_be_read_in_one_way_is_read(cell: str, day: date) -> None:
    assert read_day(cell, None, TODAY) == day


def test_a_year_of_two_digits_is_never_in_the_future() -> None:
    assert read_day("10.03.26", "day-first", TODAY) == date(2026, 3, 10)
    assert read_day("11.03.26", "day-first", TODAY) == date(1926, 3, 11)


@pytest.mark.parametrize(
    ("order", "day"), [("day-first", date(2026, 4, 3)), ("month-first", date(2026, 3, 4))]
)
def test_the_order_is_the_columns_or_a_persons(order: DateOrder, day: date) -> None:
    assert read_day("3/4/2026", order, TODAY) == day
    with pytest.raises(NotADay, match="two ways"):
        read_day("3/4/2026", None, TODAY)


@pytest.mark.parametrize(
    "cell", ["31.02.2020", "46084", "soon", "3 Foo 2020", "2020", "13.13.2020", "0.1.2020"]
)
def test_what_is_no_day_is_refused(cell: str) -> None:
    with pytest.raises(NotADay):
        read_day(cell, "day-first", TODAY)


def test_a_day_that_does_not_fit_the_order_is_refused() -> None:
    with pytest.raises(NotADay, match="day first"):
        read_day("04/23/2014", "day-first", TODAY)


def test_one_day_settles_the_order_of_a_file() -> None:
    assert orders_in(["3/4/2026", "13/4/2026"]).found == "day-first"
    assert orders_in(["3/4/2026", "4/13/2026"]).found == "month-first"
    assert orders_in(["3/4/2026", "4/13/2026", "13/4/2026"]).found is None
    assert orders_in(["5/5/2026", "2026-03-04"]).unsettled is None


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        ("37 C 30 s", "37 C 30 s"),
        ("37°C/30s", "37 C 30 s"),
        ("30 sec at 37 °C", "37 C 30 s"),
        ("75 C 7 s + 37 C 5 s", "75 C 7 s + 37 C 5 s"),
        ("75 °C 7 Sek dann 37 °C 1 min", "75 C 7 s + 37 C 60 s"),
        ("46,5 C 20 s", "46.5 C 20 s"),
    ],
)
def test_a_thaw_is_read_and_written_in_one_way(cell: str, text: str) -> None:
    assert written_thaw(read_thaw(cell)) == text
    assert read_thaw(text) == read_thaw(cell)


@pytest.mark.parametrize("cell", ["warm", "37 C", "30 s", "370 C 30 s", "37 C 0 s", "37 C 30 s x"])
def test_what_is_no_thaw_is_refused(cell: str) -> None:
    with pytest.raises(NotAThaw):
        read_thaw(cell)


def test_columns_are_guessed_from_what_people_write() -> None:
    header = ["Hengst", "Lebensnummer", "Anzahl", "Becher", "Farbe", "Größe", "Wert"]
    assert columns.mapped(header, {}).fields == (
        *("stallion", "ueln", "straws", "place", "straw_colour", None, None),
    )
    said = {"Größe": "straw_volume_ml", "Wert": "post_thaw_percent", "Farbe": None}
    assert columns.mapped(header, said).fields[4:] == (
        *(None, "straw_volume_ml", "post_thaw_percent"),
    )


def test_what_a_person_says_of_a_column_goes_before_its_name() -> None:
    matched = columns.mapped(["straws", "count", "stallion", "place"], {"count": "straws"})
    assert matched.fields == (None, "straws", "stallion", "place")
    with pytest.raises(BadAnswer, match="no column"):
        columns.mapped(["a"], {"b": "straws"})
    with pytest.raises(BadAnswer, match="no field"):
        columns.mapped(["a"], {"a": "weight"})


def test_a_column_that_is_missing_or_there_twice_is_asked_for() -> None:
    assert [q.code for q in understood("stallion,count\nA,1\n").questions] == ["column-missing"]
    twice = understood("stallion,count,qty,place\nA,1,2,N\n").questions
    assert [(q.code, q.choices[0][0]) for q in twice] == [("column-twice", "straws")]


def test_the_decimal_sign_is_asked_once_for_the_file_and_the_answer_holds() -> None:
    text = "stallion;place;straws;conc\nA;N1;3;1.234\nB;N1;4;1.500\n"
    assert [question.code for question in understood(text).questions] == ["decimal"]
    by_point = understood(text, Answers(decimal="point"))
    assert by_point.said[0].concentration_million_per_ml == Decimal("1.234")
    by_comma = understood(text, Answers(decimal="comma"))
    assert by_comma.said[0].concentration_million_per_ml == Decimal(1234)


def test_the_order_of_day_and_month_is_asked_where_no_row_settles_it() -> None:
    text = "stallion,place,straws,date\nA,N1,3,3/4/2014\n"
    assert [question.code for question in understood(text).questions] == ["date-order"]
    settled = understood(text + "A,N1,3,13/4/2014\n")
    assert [said.collected_on for said in settled.said] == [date(2014, 4, 3), date(2014, 4, 13)]
    assert any("3/4/2014" in words for words in settled.assumptions)


@pytest.mark.parametrize("code", ["3E10", "3,00E+10", "2.76E+14"])
def test_a_number_where_a_code_was_is_refused_by_line(code: str) -> None:
    found = understood(f'stallion;mark;place;straws\nA;"{code}";N1;3\n')
    assert "spreadsheet program made the number" in found.complaints[2]
    kept = understood(f"stallion;mark;place;straws\nA;'{code};N1;3\n")
    assert kept.said[0].marks_as_read == code


def test_all_that_is_wrong_with_a_row_is_said_at_once() -> None:
    found = understood("stallion,place,straws,date\nA,N1,many,31.02.2014\n,,5,\n")
    assert "many is not a number" in found.complaints[2]
    assert "31.02.2014 is a day that no calendar has" in found.complaints[2]
    assert found.complaints[3] == "It names no stallion. It says no place."


@pytest.mark.parametrize(
    "text",
    [
        *("=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", "\nx", "'x", "''", "'", "'=x", "3E10"),
        *("＝1+1", "'t Zand", "x=1", "", "Lanternfield", "Ölzweig"),
    ],
)
def test_a_text_comes_back_as_it_went_out_and_is_never_a_formula(text: str) -> None:
    """OWASP, "CSV Injection", owasp.org; ASVS 5.0.0 (OWASP, 2025), 1.2.10."""
    cell = guarded(text)
    assert not cell or cell[0] not in "=+-@\t\r\n\0＝＋－＠"
    assert unguarded(cell) == text


def test_what_a_person_typed_with_an_apostrophe_stays() -> None:
    assert unguarded("'t Zand") == "'t Zand"
    assert unguarded("D'Artagnan") == "D'Artagnan"
