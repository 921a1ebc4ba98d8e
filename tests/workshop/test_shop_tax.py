"""The shop's tax: what may be entered, and that the table itself holds the bounds."""

from decimal import Decimal

import pytest
from django.db import IntegrityError

from workshop import queries
from workshop.forms.shop import ShopForm
from workshop.models import Shop

SHOP = {"name": "Example", "number_prefix": "EX", "time_zone": "UTC", "currency": "EUR"}


@pytest.mark.parametrize(
    ("typed", "percent"), [("", "0"), ("0", "0"), ("20", "20"), ("5,5", "5.5"), ("100", "100")]
)
def test_a_rate_is_taken_as_typed_and_nothing_is_no_tax(typed: str, percent: str) -> None:
    form = ShopForm({**SHOP, "tax_percent": typed})
    assert form.is_valid(), form.errors
    assert form.details().tax_percent == Decimal(percent)


@pytest.mark.parametrize("typed", ["101", "-1", "5.555", "much"])
def test_a_rate_that_cannot_be_is_named(typed: str) -> None:
    form = ShopForm({**SHOP, "tax_percent": typed})
    assert not form.is_valid()
    assert list(form.errors) == ["tax_percent"]


@pytest.mark.django_db
def test_it_is_kept_exactly() -> None:
    Shop.objects.update(tax_percent=Decimal("7.70"))
    assert queries.shop().tax_percent == Decimal("7.70")


@pytest.mark.django_db
@pytest.mark.parametrize("percent", ["-0.01", "100.01"])
def test_the_table_holds_no_other_rate(percent: str) -> None:
    with pytest.raises(IntegrityError):
        Shop.objects.update(tax_percent=Decimal(percent))
