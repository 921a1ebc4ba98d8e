"""The one family of filters that prints a number: with its unit and, where known, its interval.

``{{ result|interval:"leak_ohm" }}`` takes unit and interval from the name; ``{{ value|volts }}``
prints a bare number. How it is written is in ``workshop.figures_text``, which the PDF shares.
"""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from django import template
from django.utils import timezone
from django.utils.translation import gettext

from workshop import figures_text as text
from workshop import units

register = template.Library()


@register.filter
def figure(source: Any, name: str) -> str:
    """Print the figure of a result by its name, unit from the name, without interval."""
    return text.named(source, name)


@register.filter
def interval(source: Any, name: str) -> str:
    """Print the figure of a result by its name with its interval."""
    return text.with_interval(source, name)


@register.filter
def in_unit(value: text.Number, unit: str) -> str:
    """Print a bare number in the unit given, for units known only from data."""
    return text.quantity(value, unit, 4 if unit == "V" else 3)


@register.filter
def unit_word(unit: str) -> str:
    """Print a unit alone, as it stands beside the field where its number is typed."""
    return text.unit_word(unit)


@register.filter
def in_own_unit(value: text.Number, unit: str) -> str:
    """Print a number in the unit of its source, and beside it as the shop reads it."""
    with units.use(units.Units()):
        own = in_unit(value, unit)
    return f"{own} ({in_unit(value, unit)})" if units.is_converted(unit) else own


@register.filter
def typed_in(unit: str) -> str:
    """Give the unit, as an entry spells it, in which a number is typed here."""
    return units.shown_unit(unit)


@register.filter
def typed_ways(unit: str) -> tuple[tuple[str, str, bool], ...]:
    """Give every unit in which a number may be typed: its code, its name, whether it is usual."""
    usual = units.shown_unit(unit)
    ways = (unit, *units.FACTORS.get(unit, ()))
    return tuple((each, text.UNIT_NAMES.get(each, each), each == usual) for each in ways)


@register.filter
def gauge_ways(unit: str) -> tuple[tuple[str, str, bool], ...]:
    """Give the units of a gauge: those of `typed_ways`, with kPa for gauges that show it."""
    usual = units.shown_unit(unit)
    return tuple((each, each, each == usual) for each in (unit, "mbar", "kPa", "psi"))


@register.filter
def in_shop_units(words: str) -> str:
    """Print a text of ours with the figures in it as the shop reads them."""
    return units.in_text(words)


@register.filter
def resistance(value: text.Number) -> str:
    """Print ohms with the prefix that fits."""
    return text.quantity(value, "Ω")


@register.filter
def milliohm(value: text.Number) -> str:
    """Print milliohms."""
    return text.quantity(value, "mΩ")


@register.filter
def volts(value: text.Number) -> str:
    """Print volts to four digits."""
    return text.quantity(value, "V", 4)


@register.filter
def millivolts(value: text.Number) -> str:
    """Print millivolts."""
    return text.quantity(value, "mV")


@register.filter
def amps(value: text.Number) -> str:
    """Print amperes with the prefix that fits."""
    return text.quantity(value, "A")


@register.filter
def amp_hours(value: text.Number) -> str:
    """Print ampere-hours."""
    return text.quantity(value, "Ah")


@register.filter
def pascal(value: text.Number) -> str:
    """Print pascals, from ten thousand on as kilopascals."""
    return text.quantity(value, "Pa")


@register.filter
def celsius(value: text.Number) -> str:
    """Print degrees Celsius."""
    return text.quantity(value, "°C")


@register.filter
def percent(value: text.Number) -> str:
    """Print percent."""
    return text.quantity(value, "%")


@register.filter
def newton_metres(value: text.Number) -> str:
    """Print torque."""
    return text.quantity(value, "N·m")


@register.filter
def kilograms(value: text.Number) -> str:
    """Print mass."""
    return text.quantity(value, "kg")


@register.filter
def plain_number(value: text.Number) -> str:
    """Print a number that has no unit."""
    return text.quantity(value, "", 4)


@register.filter
def money(amount: text.Number, currency: str) -> str:
    """Print an amount with its currency."""
    return text.money(amount, currency)


@register.filter
def time_span(seconds: text.Number) -> str:
    """Print seconds in the two largest units that fit."""
    return text.duration(seconds)


@register.filter
def day(value: date | datetime | None) -> str:
    """Print a day; of a moment, the day in the workshop's zone."""
    if isinstance(value, datetime):
        value = value.astimezone(timezone.get_current_timezone()).date()
    return text.day(value)


@register.filter
def moment(value: datetime | str | None) -> str:
    """Print day and time in the workshop's zone; takes ISO text as entries keep it."""
    return text.moment(_moment_of(value), timezone.get_current_timezone())


@register.filter
def clock_time(value: datetime | str | None) -> str:
    """Print the time of day in the workshop's zone; takes ISO text as entries keep it."""
    return text.clock_time(_moment_of(value), timezone.get_current_timezone())


def _moment_of(value: datetime | str | None) -> datetime | None:
    """Read a moment; None where there is none."""
    if not isinstance(value, str):
        return value
    return datetime.fromisoformat(value) if value else None


@register.filter
def rating(ratings: Mapping[str, Any], name: str) -> str:
    """Print one rating of a piece of equipment: a number with its unit, several, or words."""
    value = ratings.get(name)
    unit, digits = text.unit_of(name)
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    if isinstance(value, list):
        return ", ".join(text.quantity(each, unit, digits) for each in value)
    return (value or text.NONE) if isinstance(value, str) else text.quantity(value, unit, digits)
