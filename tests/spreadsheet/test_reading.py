"""Bytes to rows with line numbers; what is no table is refused by its line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.spreadsheet import reading, rules
from service.spreadsheet.reading import read
from service.spreadsheet.rules import FileTooLarge, UnreadableFile


def cells(text: str) -> list[list[str]]:
    return [row.cells for row in read(text.encode()).rows]


def test_the_examples_of_rfc_4180_are_read() -> None:
    """RFC 4180 (IETF, 2005), section 2, rules 1 to 7 in one file."""
    content = b'h1,h2,h3\r\naaa,"b ""quoted"" b",ccc\r\n"zz,z","yy\r\ny",xxx'
    table = read(content)
    assert table.header == ["h1", "h2", "h3"]
    assert [row.cells for row in table.rows] == [
        ["aaa", 'b "quoted" b', "ccc"],
        ["zz,z", "yy\r\ny", "xxx"],
    ]
    assert [row.line for row in table.rows] == [2, 3]


def test_lines_are_counted_as_an_editor_does_across_breaks_inside_cells() -> None:
    table = read(b'a,b\n"1\n1\n1",2\n\n3,4\n')
    assert [(row.line, row.cells[1]) for row in table.rows] == [(2, "2"), (6, "4")]


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
@pytest.mark.parametrize(("sign", "name"), [(",", ","), (";", ";"), ("\t", "\t")])
def test_line_ends_and_delimiters_are_found_out(end: str, sign: str, name: str) -> None:
    text = end.join([sign.join(["Hengst", "Ort", "Menge"]), sign.join(["A, B", "N1", "0,5"])])
    table = read((text.replace("A, B", '"A, B"').replace("0,5", '"0,5"') + end).encode())
    assert table.delimiter == name
    assert table.rows[0].cells == ["A, B", "N1", "0,5"]
    assert table.rows[0].line == 2


def test_a_byte_order_mark_is_not_a_part_of_the_first_column() -> None:
    assert read("\ufeffstallion,straws\nA,1\n".encode()).header == ["stallion", "straws"]


def test_what_is_not_utf_8_is_read_as_windows_1252_and_says_so() -> None:
    table = read("name,x\nA,1\nMüller–Ölzweig,2\n".encode("cp1252"))
    assert table.rows[1].cells[0] == "Müller–Ölzweig"
    assert table.encoding == "windows-1252"
    assert "line 3" in table.assumptions[0]


def test_letters_of_no_alphabet_are_refused_by_line() -> None:
    with pytest.raises(UnreadableFile) as refused:
        read(b"a,b\r\n\x81\x8d,2\r\n")
    assert refused.value.facts["line"] == 2


@pytest.mark.parametrize(
    ("content", "line", "word"),
    [
        (b"a,b\n1,2\n3,\x004\n", 3, "NUL"),
        (b'a,b\n1,2\n3,"half a rec', 3, "never close"),
        (b'a,b\n1,"2" x\n', 2, "quote"),
        (b"", None, "empty"),
        (b"\xef\xbb\xbf\n\n", None, "empty"),
        (b";;\r\n ; \r\n", None, "empty"),
    ],
)
def test_what_is_no_table_is_refused_with_the_line(
    content: bytes, line: int | None, word: str
) -> None:
    with pytest.raises(UnreadableFile) as refused:
        read(content)
    assert refused.value.facts.get("line") == line
    assert word in refused.value.detail


def test_rows_that_do_not_fit_the_header_are_told_by_line_and_the_others_stay() -> None:
    table = read(b"a,b,c\n1,2,3\n1,2\n1,2,3,4\n1,2,3,,\n")
    assert [row.line for row in table.rows] == [2, 5]
    assert set(table.ragged) == {3, 4}
    assert "2 cells where the header has 3" in table.ragged[3]


def test_a_bomb_of_columns_is_refused() -> None:
    with pytest.raises(FileTooLarge, match="5,001 columns"):
        read(b"a,b\n" + b"," * 5_000 + b"\n")
    with pytest.raises(FileTooLarge, match="1,000,001 columns"):
        read(b"," * 1_000_000)


def test_a_file_a_cell_and_a_number_of_rows_have_limits() -> None:
    with pytest.raises(FileTooLarge, match="5,000,001 bytes"):
        read(b"x" * (rules.LARGEST_FILE_BYTES + 1))
    with pytest.raises(FileTooLarge, match="line 3"):
        read(b"a,b\n1,2\n3," + b"x" * (rules.MOST_SIGNS_A_CELL + 1) + b"\n")
    with pytest.raises(FileTooLarge, match="line 2"):
        read(b'a,b\n1,"' + b"x" * 200_000 + b'"\n')
    assert len(read(b"a,b\n" + b"1,2\n" * rules.MOST_ROWS).rows) == rules.MOST_ROWS
    with pytest.raises(FileTooLarge, match="50,000 rows"):
        read(b"a,b\n" + b"1,2\n" * (rules.MOST_ROWS + 1))


def test_columns_without_a_name_or_with_one_that_came_before_are_told_apart() -> None:
    assert read(b"a,,a,\n1,2,3,4\n").header == ["a", "column 2", "a (3)"]


@given(st.binary(max_size=400))
def test_any_bytes_are_a_table_or_refused_in_words(content: bytes) -> None:
    try:
        table = read(content)
    except (UnreadableFile, FileTooLarge) as refused:
        assert refused.detail.endswith(".")
    else:
        assert all(len(row.cells) == len(table.header) for row in table.rows)


@given(st.text(max_size=400), st.sampled_from(reading.DELIMITERS))
def test_any_text_is_a_table_or_refused_in_words(text: str, delimiter: reading.Delimiter) -> None:
    try:
        table = read(text.encode(), delimiter=delimiter)
    except (UnreadableFile, FileTooLarge) as refused:
        assert refused.detail.endswith(".")
    else:
        assert table.delimiter == delimiter
