"""The workshop's own row, its day, and the limits in force."""

from dataclasses import replace
from datetime import date, datetime

from workshop import languages
from workshop import limits as limit_table
from workshop.kept_files import has_kept, read_kept
from workshop.models import Customer, Shop, ShopLimit
from workshop.once_a_request import kept_register
from workshop.queries.identifiers import Id, uuid_of
from workshop.registers import ShopInfo


@kept_register
def shop() -> ShopInfo:
    """Give the workshop's own row.

    Raises
    ------
    LookupError
        Where the row is missing: the migrations have not been run.
    """
    row = Shop.objects.select_related("logo").first()
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
        tax_number=row.tax_number,
        opening_hours=row.opening_hours,
        torque_unit=row.torque_unit,
        pressure_unit=row.pressure_unit,
        distance_unit=row.distance_unit,
        language=row.language,
        logo_sha256=row.logo.sha256 if row.logo else "",
        only_enrolled=row.only_enrolled,
        office_password=row.office_password,
    )


def logo_bytes() -> bytes | None:
    """Give the shop's logo, a PNG or JPEG picture; None where it has none or the file is gone."""
    sha256 = shop().logo_sha256
    return read_kept(sha256) if sha256 and has_kept(sha256) else None


def language_for(customer_id: Id | None) -> str:
    """Give the language of a customer's papers: their own, else the shop's.

    Parameters
    ----------
    customer_id : str or UUID or None
        The customer; None where there is none.

    Returns
    -------
    str
        A code of ``settings.LANGUAGES``.
    """
    rows = Customer.objects.filter(pk=uuid_of(customer_id or ""))
    own = rows.values_list("language", flat=True).first()
    return languages.known(own or "", shop().language)


def local_day(now: datetime) -> date:
    """Give the day it is in the workshop's zone."""
    return now.astimezone(shop().zone).date()


@kept_register
def limits() -> dict[str, limit_table.Limit]:
    """Give every limit in force by its key, the shop's own values in place of the defaults."""
    own = {row.key: row for row in ShopLimit.objects.select_related("changed_by")}
    return {
        key: replace(
            limit,
            value=own[key].value,
            kind=own[key].kind,
            source=own[key].source,
            note=own[key].note,
            changed_at=own[key].changed_at,
            changed_by=own[key].changed_by.display_name,
        )
        if key in own
        else limit
        for key, limit in limit_table.DEFAULTS.items()
    }
