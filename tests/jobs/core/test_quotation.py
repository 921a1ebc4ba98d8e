"""A quotation adds up to the cent, whatever is typed, and nothing is guessed."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.entry import Json
from jobs.core.item import quotation
from jobs.core.parsing import parse
from jobs.core.quotation import Quotation, QuotationLine, added_up, read_quotation
from jobs.core.quotation_input import quotation_of
from jobs.core.reason import InputRefused
from jobs.core.seal import canonical

ITEM = quotation("look.quotation", "Quotation")
LINE = {
    "kind": "labour",
    "text": "Opening",
    "quantity": "1,5",
    "unit": "h",
    "unit_price": "95",
    "tax_percent": "20",
}

amounts = st.decimals(min_value=0, max_value=999, places=2)
quantities = st.decimals(min_value="0.001", max_value=999, places=3)
rates = st.sampled_from([Decimal(0), Decimal("5.5"), Decimal(19), Decimal(20)])


@st.composite
def lines(draw: st.DrawFn) -> QuotationLine:
    return QuotationLine(
        kind="part",
        text="Module",
        quantity=draw(quantities),
        unit="",
        unit_price=draw(amounts),
        tax_percent=draw(rates),
    )


some_lines = st.lists(lines(), min_size=1, max_size=12)


def sent(*changed: dict[str, Any], **more: Any) -> Json:
    return {"lines": [{**LINE, **each} for each in (changed or ({},))], **more}


def refused(raw: Json) -> tuple[str, dict[str, Any]]:
    with pytest.raises(InputRefused) as caught:
        parse(ITEM, raw)
    return caught.value.blocker.code, dict(caught.value.blocker.params)


@given(some_lines)
def test_the_total_is_the_sum_of_what_is_shown(found: list[QuotationLine]) -> None:
    made = added_up(tuple(found))
    assert made.net == sum(line.net for line in found)
    assert made.total == made.net + sum(each.tax for each in made.taxes)
    taxed = sum(line.net for line in found if line.tax_percent)
    assert sum(each.net for each in made.taxes) == taxed


@given(some_lines)
def test_no_line_and_no_tax_is_off_by_more_than_half_a_cent(found: list[QuotationLine]) -> None:
    made, half = added_up(tuple(found)), Decimal("0.005")
    assert all(abs(line.net - line.quantity * line.unit_price) <= half for line in found)
    assert all(abs(each.tax - each.net * each.percent / 100) <= half for each in made.taxes)


@given(some_lines, st.randoms())
def test_the_order_of_the_lines_changes_no_total(found: list[QuotationLine], chance: Any) -> None:
    other = list(found)
    chance.shuffle(other)
    one, two = added_up(tuple(found)), added_up(tuple(other))
    assert (one.net, one.taxes, one.total) == (two.net, two.taxes, two.total)


@given(some_lines)
def test_what_is_stored_is_read_back_and_parses_to_itself(found: list[QuotationLine]) -> None:
    raw = {
        "lines": [
            {
                "kind": line.kind,
                "text": line.text,
                "quantity": str(line.quantity),
                "unit_price": str(line.unit_price),
                "tax_percent": str(line.tax_percent),
            }
            for line in found
        ]
    }
    stored = parse(ITEM, raw)
    assert canonical(stored)
    again = read_quotation(stored)
    assert again == quotation_of("look.quotation", raw)
    assert again.total == added_up(tuple(found)).total


@pytest.mark.parametrize(
    ("quantity", "price", "net"),
    [
        ("0.5", "0.01", "0.01"),
        ("0.5", "0.05", "0.03"),
        ("3", "0.33", "0.99"),
        ("0.333", "3", "1.00"),
    ],
)
def test_half_a_cent_goes_up(quantity: str, price: str, net: str) -> None:
    found = read_quotation(parse(ITEM, sent({"quantity": quantity, "unit_price": price})))
    assert found.net == Decimal(net)


def test_tax_is_taken_on_the_sum_of_a_rate_and_not_line_by_line() -> None:
    cheap = {"quantity": "1", "unit_price": "0.02"}
    stored = parse(ITEM, sent(cheap, cheap, cheap))
    assert stored["taxes"] == [{"percent": "20", "net": "0.06", "tax": "0.01"}]
    assert stored["total"] == "0.07"


def test_a_comma_is_a_point_and_the_stored_form_is_exact() -> None:
    stored = parse(
        ITEM, sent(valid_until="2026-03-16", not_included=" Towing\x00 ", currency="EUR")
    )
    assert stored["lines"][0]["quantity"] == "1.5"
    assert stored["lines"][0]["unit_price"] == "95.00"
    assert (stored["net"], stored["total"]) == ("142.50", "171.00")
    assert (stored["not_included"], stored["valid_until"]) == ("Towing", "2026-03-16")


def test_no_tax_is_no_tax() -> None:
    stored = parse(ITEM, sent({"tax_percent": ""}, {"tax_percent": "0"}))
    assert stored["taxes"] == []
    assert stored["total"] == stored["net"]


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"kind": "gift"}, "quotation_kind"),
        ({"kind": None}, "quotation_kind"),
        ({"text": "  "}, "quotation_text"),
        ({"text": 7}, "quotation_text"),
        ({"text": "x" * 301}, "quotation_text"),
        ({"unit": "x" * 21}, "quotation_unit"),
        ({"quantity": "-1"}, "quotation_quantity"),
        ({"quantity": "0"}, "quotation_quantity"),
        ({"quantity": ""}, "quotation_quantity"),
        ({"quantity": True}, "quotation_quantity"),
        ({"quantity": "1.0005"}, "quotation_quantity"),
        ({"unit_price": ""}, "quotation_price"),
        ({"unit_price": "-5"}, "quotation_price"),
        ({"unit_price": "1.000,50"}, "quotation_price"),
        ({"unit_price": "1.005"}, "quotation_price"),
        ({"unit_price": "1e6"}, "quotation_price"),
        ({"tax_percent": "101"}, "quotation_tax"),
        ({"tax_percent": "-1"}, "quotation_tax"),
        ({"tax_percent": "20.005"}, "quotation_tax"),
        ({"quantity": "99999", "unit_price": "9999"}, "quotation_absurd"),
        ({"discount": "5"}, "quotation_not_whole"),
    ],
)
def test_a_line_that_cannot_be_taken_is_named(changed: dict[str, Any], code: str) -> None:
    found, params = refused(sent({}, changed))
    assert found == code
    assert params.get("line", 2) == 2


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (None, "quotation_not_whole"),
        ("1450", "quotation_not_whole"),
        ({}, "quotation_no_lines"),
        ({"lines": []}, "quotation_no_lines"),
        ({"lines": {}}, "quotation_no_lines"),
        ({"lines": [None]}, "quotation_not_whole"),
        ({"lines": [LINE], "more": 1}, "quotation_not_whole"),
        ({"lines": [LINE], "currency": "euro"}, "quotation_not_whole"),
        ({"lines": [LINE] * 201}, "quotation_too_long"),
        ({"lines": [LINE], "notes": "x" * 2001}, "quotation_words"),
        ({"lines": [LINE], "valid_until": "soon"}, "quotation_day"),
        ({"lines": [LINE], "valid_until": "9999-01-01"}, "quotation_day"),
        ({"lines": [LINE], "total": "170.99"}, "quotation_mismatch"),
        ({"lines": [LINE], "total": "a lot"}, "quotation_mismatch"),
        (
            {"lines": [{**LINE, "quantity": "1", "unit_price": "900000"}] * 12},
            "quotation_absurd_in_all",
        ),
    ],
)
def test_a_whole_that_cannot_be_taken_is_refused(raw: Json, code: str) -> None:
    assert refused(raw)[0] == code


def test_the_total_that_was_shown_is_taken_where_it_is_right() -> None:
    assert parse(ITEM, sent(total="171,00"))["total"] == "171.00"


def test_two_hundred_lines_are_taken() -> None:
    found: Quotation = read_quotation(parse(ITEM, {"lines": [LINE] * 200}))
    assert found.total == Decimal("34200.00")


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(),
        lambda inner: (
            st.lists(inner)
            | st.dictionaries(st.sampled_from(["lines", "kind", "total", "quantity"]), inner)
        ),
    )
)
def test_whatever_is_sent_is_taken_or_refused(raw: Json) -> None:
    try:
        stored = parse(ITEM, raw)
    except InputRefused as fault:
        found = fault.blocker.item
    else:
        found = ITEM.key if stored["lines"] else ""
    assert found == ITEM.key
