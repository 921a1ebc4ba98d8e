"""The shop's own row and its limits."""

from dataclasses import asdict
from zoneinfo import available_timezones

from workshop import clock, limits
from workshop.actions.permission import require
from workshop.details import ShopDetails
from workshop.errors import InputRefused
from workshop.models import Shop, ShopLimit
from workshop.people import MANAGER
from workshop.queries import Id
from workshop.writing import one_writer


def set_limit(*, key: str, value: float, source: str, note: str, by: Id) -> None:
    """Set a limit of the shop inside its bounds.

    Raises
    ------
    InputRefused
        Where there is no such limit, or the value lies outside what a shop may set.
    """
    with one_writer():
        changed_by = require(by, MANAGER)
        limit = limits.DEFAULTS.get(key)
        if limit is None:
            raise InputRefused("unknown", field="key")
        if not limit.low <= value <= limit.high:
            raise InputRefused(
                "outside_limit",
                field="value",
                allowed=f"{limit.low:g} to {limit.high:g} {limit.unit}",
                why="Limits that protect people can be tightened, not opened further.",
            )
        kind, stated = _provenance(limit, value, source)
        ShopLimit.objects.update_or_create(
            key=key,
            defaults={
                "value": value,
                "unit": limit.unit,
                "kind": kind,
                "source": stated,
                "note": note,
                "changed_at": clock.now(),
                "changed_by": changed_by,
            },
        )


def _provenance(limit: limits.Limit, value: float, source: str) -> tuple[str, str]:
    """Give kind and source: a regulation's own value keeps its name, any other is the shop's."""
    if value == limit.value:
        return limit.kind, source or limit.source
    return limits.SHOP_DEFAULT, source


def update_shop(*, details: ShopDetails, by: Id) -> None:
    """Change what the shop says about itself."""
    with one_writer():
        require(by, MANAGER)
        if not details.name.strip():
            raise InputRefused("required", field="name")
        if details.time_zone not in available_timezones():
            raise InputRefused("time_zone", field="time_zone")
        Shop.objects.update_or_create(pk=1, defaults=asdict(details))
