"""A CSV of the project is opened by a spreadsheet as text and numbers, never obeyed."""

import csv
import io
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.csv_cells import csv_text, decimal_text, safe_cell

STARTS = "=+-@\t\r"
cells = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=20)
risky = st.builds(
    lambda gap, first, rest: gap + first + rest,
    st.sampled_from(["", " ", "   ", "\u00a0", "\n "]),
    st.sampled_from(list(STARTS)),
    cells,
)


def read(content: bytes, separator: str = ",") -> list[list[str]]:
    return list(
        csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""), delimiter=separator)
    )


def is_number(text: str) -> bool:
    try:
        Decimal(text.strip(" ").replace(",", "."))
    except ArithmeticError:
        return False
    return text.strip(" ").isascii()


@given(risky | cells)
def test_no_cell_begins_like_a_formula_unless_it_is_a_number(text: str) -> None:
    shown = safe_cell(text)
    assert shown in (text, f"'{text}")
    first = shown.lstrip(" \u00a0\n")[:1]
    if first and first in STARTS:
        assert is_number(shown)


@given(risky)
def test_what_could_be_obeyed_is_covered(text: str) -> None:
    if not is_number(text):
        assert safe_cell(text) == f"'{text}"


@given(st.decimals(allow_nan=False, allow_infinity=False, places=2), st.booleans())
def test_a_number_is_never_touched(number: Decimal, comma: bool) -> None:
    text = decimal_text(number, comma=comma)
    assert safe_cell(text) == text
    assert Decimal(text.replace(",", ".")) == number


@given(st.lists(st.lists(cells, min_size=3, max_size=3), max_size=5), st.booleans())
def test_every_cell_comes_back_in_its_place(rows: list[list[str]], comma: bool) -> None:
    content = csv_text(("One", "Two", "Three"), rows, separator=";" if comma else ",").encode()
    back = read(content, ";" if comma else ",")
    assert back == [["One", "Two", "Three"], *[[safe_cell(cell) for cell in row] for row in rows]]


def test_it_begins_with_the_mark_of_utf8_and_ends_lines_as_spreadsheets_do() -> None:
    content = csv_text(("Ω",), [("ä",)]).encode()
    assert content == b"\xef\xbb\xbf" + "Ω\r\nä\r\n".encode()


@pytest.mark.parametrize(
    "text", ["-1+1", "=2", " =2", "+49 30 12", "@x", "\t1", "\r1", "--1", "-", "＝1"]
)
def test_what_only_looks_like_a_number_is_covered(text: str) -> None:
    assert safe_cell(text) == f"'{text}"
