"""The shop's own row, its logo and its limits; each change is written into the shop's history."""

import hashlib
from dataclasses import asdict
from decimal import Decimal
from typing import Any, Final
from zoneinfo import available_timezones

from django.utils.translation import gettext

from workshop import clock, languages, limits, units
from workshop.actions.events import changes, write_event
from workshop.actions.permission import require
from workshop.details import ShopDetails
from workshop.errors import InputRefused
from workshop.kept_files import NoPicture, TooManyPixels, drawing_again, keep_bytes
from workshop.models import Certificate, Person, Shop, ShopLimit
from workshop.people import MANAGER
from workshop.queries import Id
from workshop.writing import one_writer

LOGO_LIMIT_BYTES: Final = 1024 * 1024
LOGO_SIDE_PX: Final = 1200
LOGO_FIELD: Final = "file"


def set_limit(*, key: str, value: float, source: str, note: str, by: Id) -> None:
    """Set a limit of the shop inside its bounds.

    Raises
    ------
    InputRefused
        Where there is no such limit, or the value lies outside what a shop may set.
    """
    with one_writer():
        changed_by = require(by, MANAGER)
        limit = _known_limit(key)
        if not limit.low <= value <= limit.high:
            raise InputRefused(
                "outside_limit",
                field="value",
                allowed=f"{limit.low:g} to {limit.high:g} {limit.unit}",
                why=gettext("Limits that protect people can be tightened, not opened further."),
            )
        kind, stated = _provenance(limit, value, source)
        before = _limit_value(limit)
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
        _write(changed_by, {"limit": key, "changes": {key: [before, value]}, "why": note})


def reset_limit(*, key: str, by: Id) -> None:
    """Put a limit back to its default, with the default's source.

    Raises
    ------
    InputRefused
        Where there is no such limit.
    """
    with one_writer():
        changed_by = require(by, MANAGER)
        limit = _known_limit(key)
        before = _limit_value(limit)
        removed, _ = ShopLimit.objects.filter(key=key).delete()
        if removed:
            values = {"limit": key, "changes": {key: [before, limit.value]}}
            _write(changed_by, values, kind="reset")


def _known_limit(key: str) -> limits.Limit:
    limit = limits.DEFAULTS.get(key)
    if limit is None:
        raise InputRefused("unknown", field="key")
    return limit


def _limit_value(limit: limits.Limit) -> float:
    """Give the value in force."""
    own = ShopLimit.objects.filter(key=limit.key).values_list("value", flat=True).first()
    return limit.value if own is None else own


def _provenance(limit: limits.Limit, value: float, source: str) -> tuple[str, str]:
    """Give kind and source: a regulation's own value keeps its name, any other is the shop's."""
    if value == limit.value:
        return limit.kind, source or limit.source
    return limits.SHOP_DEFAULT, source


def _write(by: Person, values: dict[str, Any], kind: str = "changed") -> None:
    """Add to the shop's history."""
    write_event(Shop.objects.get(pk=1).workshop_id, kind, by=by, values=values)


def _written(value: Any) -> Any:
    return f"{value.normalize():f}" if isinstance(value, Decimal) else value


def _check(details: ShopDetails) -> None:
    """Refuse what a shop cannot be set to."""
    if not details.name.strip():
        raise InputRefused("required", field="name")
    if details.time_zone not in available_timezones():
        raise InputRefused("time_zone", field="time_zone")
    if details.language not in dict(languages.choices()):
        raise InputRefused("not_one_of", field="language")
    for name, choices in units.CHOICES.items():
        if getattr(details, f"{name}_unit") not in choices:
            raise InputRefused("not_one_of", field=f"{name}_unit")


def update_shop(*, details: ShopDetails, by: Id) -> None:
    """Change what the shop says about itself."""
    with one_writer():
        manager = require(by, MANAGER)
        _check(details)
        after = asdict(details)
        row = Shop.objects.filter(pk=1).values(*after).first() or {}
        Shop.objects.update_or_create(pk=1, defaults=after)
        told = [{name: _written(value) for name, value in each.items()} for each in (row, after)]
        changed = changes(told[0], told[1])
        if changed:
            _write(manager, {"changes": changed})


def set_logo(*, raw: bytes | None, by: Id) -> None:
    """Take a picture as the shop's logo; None takes the logo away.

    Raises
    ------
    InputRefused
        Where it is too large, or no picture that can be read whole.
    """
    with one_writer():
        manager = require(by, MANAGER)
        kept = None if raw is None else _keep_logo(raw, manager)
        Shop.objects.filter(pk=1).update(logo=kept)
        shop = Shop.objects.get(pk=1)
        kind = "logo_taken_away" if kept is None else "logo_set"
        write_event(shop.workshop_id, kind, by=manager, file=kept)


def _keep_logo(raw: bytes, manager: Person) -> Certificate:
    """Keep a logo by its digest: decoded and written again, so that nothing else comes along."""
    if len(raw) > LOGO_LIMIT_BYTES:
        raise InputRefused("file_too_large", field=LOGO_FIELD, limit_mb=1)
    if not raw:
        raise InputRefused("file_empty", field=LOGO_FIELD)
    try:
        content = drawing_again(raw, longest_side_px=LOGO_SIDE_PX)
    except TooManyPixels:
        raise InputRefused("file_too_many_pixels", field=LOGO_FIELD) from None
    except NoPicture:
        raise InputRefused("file_no_picture", field=LOGO_FIELD) from None
    if len(content) > LOGO_LIMIT_BYTES:
        raise InputRefused("file_too_large", field=LOGO_FIELD, limit_mb=1)
    sha256 = hashlib.sha256(content).hexdigest()
    keep_bytes(content, sha256)
    told = {"media_type": "image/png", "size_bytes": len(content)}
    told |= {"stored_at": clock.now(), "stored_by": manager}
    return Certificate.objects.get_or_create(sha256=sha256, defaults=told)[0]
