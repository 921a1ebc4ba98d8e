"""Discounts, optional lines and shares of who pays: every sum adds up to the cent."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.item import quotation
from jobs.core.parsing import parse
from jobs.core.quotation import DISCOUNT, KINDS, PAYERS, QuotationLine, added_up, read_quotation
from jobs.core.quotation_change import changed
from jobs.core.quotation_sums import by_kind, by_payer, overdone_discount, split
from jobs.core.reason import InputRefused

ITEM = quotation("look.quotation", "Quotation")
LINE = {
    "kind": "part",
    "text": "Module",
    "quantity": "1",
    "unit": "",
    "unit_price": "100",
    "tax_percent": "20",
}

amounts = st.decimals(min_value=0, max_value=999, places=2)
quantities = st.decimals(min_value="0.001", max_value=99, places=3)
rates = st.sampled_from([Decimal(0), Decimal("5.5"), Decimal(19), Decimal("20.25")])


@st.composite
def lines(draw: st.DrawFn) -> QuotationLine:
    kind = draw(st.sampled_from(list(KINDS)))
    return QuotationLine(
        kind=kind,
        text=draw(st.sampled_from(["Module", "Gasket", "Hours"])),
        quantity=draw(quantities),
        unit="",
        unit_price=draw(amounts),
        tax_percent=draw(rates),
        payer=draw(st.sampled_from(list(PAYERS))),
        optional=kind != DISCOUNT and draw(st.booleans()),
    )


some_lines = st.lists(lines(), min_size=1, max_size=12).map(tuple)


def sent(*changes: dict[str, Any]) -> Any:
    return {"lines": [{**LINE, **each} for each in changes]}


def refused(*changes: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    with pytest.raises(InputRefused) as caught:
        parse(ITEM, sent(*changes))
    return caught.value.blocker.code, dict(caught.value.blocker.params)


@given(some_lines)
def test_the_shares_of_all_payers_add_up_to_the_total(found: tuple[QuotationLine, ...]) -> None:
    made = added_up(found)
    shares = by_payer(made)
    assert sum((each.total for each in shares), Decimal(0)) == made.total
    assert sum((each.net for each in shares), Decimal(0)) == made.net
    assert sum((each.tax for each in shares), Decimal(0)) == sum(t.tax for t in made.taxes)


@given(some_lines)
def test_no_share_of_tax_is_off_by_more_than_half_a_cent_a_payer_and_rate(
    found: tuple[QuotationLine, ...],
) -> None:
    for share in by_payer(added_up(found)):
        mine = [x for x in found if x.payer == share.payer and not x.optional]
        exact = sum((x.net * x.tax_percent / 100 for x in mine), Decimal(0))
        assert abs(share.tax - exact) <= Decimal("0.005") * len(PAYERS) * 4


@given(some_lines)
def test_the_sums_by_kind_add_up_to_the_net(found: tuple[QuotationLine, ...]) -> None:
    made = added_up(found)
    assert sum((net for _, net in by_kind(made)), Decimal(0)) == made.net


@given(some_lines)
def test_optional_lines_count_once_they_are_taken(found: tuple[QuotationLine, ...]) -> None:
    made = added_up(found)
    whole = made.with_options(made.options)
    assert whole.options == ()
    assert whole.net == sum((line.net for line in found), Decimal(0))
    assert made.net == sum((line.net for line in found if not line.optional), Decimal(0))
    one = made.with_options(made.options[:1])
    assert one.net - made.net == sum((found[n - 1].net for n in made.options[:1]), Decimal(0))


@given(some_lines)
def test_what_is_stored_reads_back_with_payer_and_option(found: tuple[QuotationLine, ...]) -> None:
    raw = {
        "lines": [
            {
                "kind": line.kind,
                "text": line.text,
                "quantity": str(line.quantity),
                "unit_price": str(line.unit_price),
                "tax_percent": str(line.tax_percent),
                "payer": line.payer,
                "optional": "yes" if line.optional else "",
            }
            for line in found
        ]
    }
    if overdone_discount(added_up(found)):
        with pytest.raises(InputRefused, match="quotation_discount"):
            parse(ITEM, raw)
        return
    stored = parse(ITEM, raw)
    again = read_quotation(stored)
    assert [(x.payer, x.optional, x.net) for x in again.lines] == [
        (x.payer, x.optional, x.net) for x in found
    ]
    assert again.total == added_up(found).total >= 0


@given(some_lines, some_lines)
def test_the_lines_that_changed_explain_the_whole_difference(
    before: tuple[QuotationLine, ...], after: tuple[QuotationLine, ...]
) -> None:
    one, two = added_up(before), added_up(after)
    found = changed(one, two)
    assert found.total_difference == two.total - one.total
    every = sum((x.net for x in after), Decimal(0)) - sum((x.net for x in before), Decimal(0))
    assert sum((each.net_difference for each in found.lines), Decimal(0)) == every
    assert changed(two, two).lines == ()


def test_a_discount_lowers_the_base_of_its_own_rate() -> None:
    stored = parse(ITEM, sent({}, {"kind": "discount", "unit_price": "10", "text": "Regular"}))
    assert stored["lines"][1]["net"] == "-10.00"
    assert stored["taxes"] == [{"percent": "20", "net": "90.00", "tax": "18.00"}]
    assert stored["total"] == "108.00"


@pytest.mark.parametrize(
    ("discount", "refusal"),
    [
        ({"unit_price": "100.01"}, "quotation_discount"),
        ({"tax_percent": "10"}, "quotation_discount"),
        ({"payer": "insurer"}, "quotation_discount"),
        ({"optional": "yes"}, "quotation_optional"),
    ],
)
def test_a_discount_above_what_it_is_taken_off_is_refused_with_its_line(
    discount: dict[str, Any], refusal: str
) -> None:
    code, params = refused({}, {"kind": "discount", "text": "Regular", **discount})
    assert (code, params["line"]) == (refusal, 2)


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"payer": "nobody"}, "quotation_payer"),
        ({"payer": 3}, "quotation_payer"),
        ({"optional": "perhaps"}, "quotation_optional"),
        ({"optional": 1.5}, "quotation_optional"),
    ],
)
def test_payer_and_option_are_not_guessed(changes: dict[str, Any], refusal: str) -> None:
    assert refused(changes)[0] == refusal


def test_a_line_that_says_nothing_of_it_is_stored_as_it_always_was() -> None:
    stored = parse(ITEM, sent({}))
    assert "payer" not in stored["lines"][0]
    assert "optional" not in stored["lines"][0]
    assert not split(read_quotation(stored))


def test_a_line_renamed_is_gone_and_new_and_one_that_costs_more_says_by_how_much() -> None:
    one = read_quotation(parse(ITEM, sent({}, {"text": "Gasket"})))
    two = read_quotation(parse(ITEM, sent({"unit_price": "130"}, {"text": "Sealant"})))
    found = changed(one, two)
    said = [(x.line.text, x.before is None, x.after is None, x.net_difference) for x in found.lines]
    assert said == [
        ("Module", False, False, Decimal("30.00")),
        ("Sealant", True, False, Decimal("100.00")),
        ("Gasket", False, True, Decimal("-100.00")),
    ]
    assert found.total_difference == Decimal("36.00")
