"""No cell of an export is run by a spreadsheet, and none is lost."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.csv_cells import csv_text, safe_cell

STARTS = ("=", "+", "-", "@", "\t", "\r")


@pytest.mark.parametrize("start", STARTS)
@pytest.mark.parametrize("space", ["", " ", "  "])
def test_what_looks_like_a_formula_gets_an_apostrophe(start: str, space: str) -> None:
    text = f"{space}{start}HYPERLINK(1)"
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["-3.5", "+12", " -0,25", "-1e-3"])
def test_a_number_with_a_sign_stays_a_number(text: str) -> None:
    assert safe_cell(text) == text


@given(st.text())
def test_no_cell_starts_with_a_formula_unless_it_is_a_number(text: str) -> None:
    shown = safe_cell(text)
    assert shown.removeprefix("'") in {text, text.removeprefix("'")}
    if shown.lstrip(" ").startswith(STARTS):
        float(shown.strip().replace(",", ".", 1))


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8")), min_size=2, max_size=2)))
def test_a_table_is_read_back_cell_by_cell(rows: list[list[str]]) -> None:
    text = csv_text(["a", "b"], rows)
    assert text.startswith("\ufeff")
    read = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")))
    assert read == [["a", "b"], *([safe_cell(cell) for cell in row] for row in rows)]
