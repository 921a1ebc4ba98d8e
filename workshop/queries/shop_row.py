"""The workshop's own row, its day, and the limits in force."""

from dataclasses import replace
from datetime import date, datetime

from workshop import limits as limit_table
from workshop.models import Shop, ShopLimit
from workshop.registers import ShopInfo


def shop() -> ShopInfo:
    """Give the workshop's own row.

    Raises
    ------
    LookupError
        Where the row is missing: the migrations have not been run.
    """
    row = Shop.objects.first()
    if row is None:
        raise LookupError("The row of the shop is missing; run the migrations.")
    return ShopInfo(
        workshop_id=str(row.workshop_id),
        name=row.name,
        address=row.address,
        phone=row.phone,
        email=row.email,
        number_prefix=row.number_prefix,
        time_zone=row.time_zone,
        currency=row.currency,
        tax_percent=row.tax_percent,
        warranty_text=row.warranty_text,
    )


def local_day(now: datetime) -> date:
    """Give the day it is in the workshop's zone."""
    return now.astimezone(shop().zone).date()


def limits() -> dict[str, limit_table.Limit]:
    """Give every limit in force by its key, the shop's own values in place of the defaults."""
    own = {row.key: row for row in ShopLimit.objects.all()}
    return {
        key: replace(
            limit,
            value=own[key].value,
            kind=own[key].kind,
            source=own[key].source,
            note=own[key].note,
        )
        if key in own
        else limit
        for key, limit in limit_table.DEFAULTS.items()
    }
