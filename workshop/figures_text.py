"""How a number is written for people: value, unit and interval. Used by pages and by the PDF.

Pure functions, no clock; the few words (months, "at least") are in the reader's language. The unit
of a figure is known from the ending of its name (``leak_ohm``, ``end_v_low``), so a page never
states it. Torque, pressure and distance are written in the units that the shop has chosen
(``workshop.units``). Days and times, given on from here, are ``workshop.times_text``; the template
filters are in ``workshop.templatetags.figures``.
"""

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from math import floor, isfinite, log10
from typing import Any, Final

from django.utils.translation import gettext
from quantiphy import Quantity

from workshop import units
from workshop.times_text import MINUS, NONE, SPACE, clock_time, day, duration, moment

__all__ = [
    "MINUS",
    "NONE",
    "SPACE",
    "bound",
    "clock_time",
    "day",
    "duration",
    "moment",
    "money",
    "money_words",
    "named",
    "quantity",
    "span",
    "unit_of",
    "with_interval",
]

Number = float | int | str | Decimal | None

TOO_LONG: Final = 1e9

SUFFIX_UNITS: Final = {
    "micro_ohm": ("µΩ", 3),
    "ohm_per_v": ("Ω/V", 3),
    "pa_m3_per_s": ("Pa·m³/s", 3),
    "mbar_l_per_s": ("mbar·l/s", 3),
    "ml_per_min": ("ml/min", 3),
    "mohm": ("mΩ", 3),
    "ohm": ("Ω", 3),
    "percent": ("%", 3),
    "pa": ("Pa", 3),
    "mv": ("mV", 3),
    "v": ("V", 4),
    "ah": ("Ah", 3),
    "wh": ("Wh", 3),
    "kg": ("kg", 3),
    "nm": ("N·m", 3),
    "ma": ("mA", 3),
    "a": ("A", 3),
    "w": ("W", 3),
    "c": ("°C", 3),
    "l": ("l", 3),
    "min": ("min", 3),
    "h": ("h", 3),
    "s": ("s", 3),
    "months": ("months", 3),
}
"""Ending of a figure's name to unit and significant digits; longer endings first."""

UNIT_NAMES: Final = {
    "ohm": "Ω",
    "ohm/V": "Ω/V",
    "micro_ohm": "µΩ",
    "µohm": "µΩ",
    "degC": "°C",
    "percent": "%",
    "Nm": "N·m",
    "ftlb": "ft·lb",
    "mohm": "mΩ",
    "money": "",
}
"""Units as data spells them, where that differs from what is shown."""

PREFIXED: Final = frozenset({"Ω", "Ω/V", "A", "W", "Wh", "Pa·m³/s"})
"""Units that take the prefixes of engineering notation."""


def _float(value: Number) -> float | None:
    """Read a number; None where there is none."""
    if value is None or isinstance(value, bool) or value == "":
        return None
    try:
        number = float(value)
    except (TypeError, ValueError, OverflowError):
        return None
    return number if isfinite(number) else None


def _plain(number: float, digits: int) -> str:
    """Write a number, zeros at the end cut, without exponent up to a thousand million."""
    if number == 0:
        return "0"
    if abs(number) >= TOO_LONG:
        return f"{number:.{digits - 1}e}"
    places = max(0, digits - 1 - floor(log10(abs(number))))
    text = f"{number:.{min(places, 12)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _with_prefix(number: float, unit: str, digits: int) -> tuple[str, str]:
    """Write a number in engineering notation; give the digits and the unit with its prefix."""
    rendered = Quantity(number, unit).render(prec=digits - 1, form="si", show_units=False)
    text = str(rendered)
    prefix = text[-1] if text[-1].isalpha() else ""
    return text.removesuffix(prefix), prefix.replace("u", "µ") + unit


def _parts(number: float, unit: str, digits: int) -> tuple[str, str]:
    """Give digits and unit of one number, in the unit that the shop reads."""
    number, unit = units.converted(number, unit)
    if unit in PREFIXED:
        text, shown = _with_prefix(number, unit, digits)
    elif unit == "Pa" and abs(number) >= 10_000:  # noqa: PLR2004 - five digits read badly
        text, shown = _plain(number / 1000, digits), "kPa"
    else:
        text, shown = _plain(number, digits), unit
    return ("0" if text in {"-0", "0"} else text.replace("-", MINUS)), shown


def quantity(value: Number, unit: str, digits: int = 3) -> str:
    """Write a number with its unit.

    Parameters
    ----------
    value : float or str or Decimal or None
        The number, in ``unit``; a dash is written where there is none.
    unit : str
        As shown or as data spells it ("ohm", "degC", "percent").
    digits : int
        Significant digits; zeros at the end are cut.

    Returns
    -------
    str
        Number, space that does not break, unit.

    Examples
    --------
    >>> quantity(98_000, "ohm").replace(SPACE, " ")
    '98 kΩ'
    >>> quantity(-0.0034, "V", 4).replace(SPACE, " ")
    '−0.0034 V'
    >>> quantity(None, "V")
    '–'
    """
    number = _float(value)
    if number is None:
        return NONE
    text, shown = _parts(number, UNIT_NAMES.get(unit, unit), digits)
    return f"{text}{SPACE}{_unit_words(shown)}" if shown else text


def _unit_words(unit: str) -> str:
    """Give a unit; those that are words are in the reader's language."""
    words = {"months": gettext("months"), "points": gettext("points")}
    return words.get(unit, unit)


def span(low: Number, high: Number, unit: str, digits: int = 3) -> str:
    """Write an interval; open at the top it reads "at least", at the bottom "at most".

    Examples
    --------
    >>> span(94_000, 102_000, "ohm").replace(SPACE, " ")
    '94 to 102 kΩ'
    >>> span(5.5e8, None, "ohm").replace(SPACE, " ")
    'at least 550 MΩ'
    """
    bottom, top = _float(low), _float(high)
    if bottom is None and top is None:
        return NONE
    if bottom is None or top is None:
        text = gettext("at least {figure}") if top is None else gettext("at most {figure}")
        figure = quantity(bottom if top is None else top, unit, digits)
        return _kept_together(text, figure)
    shown = UNIT_NAMES.get(unit, unit)
    (low_text, low_unit), (high_text, high_unit) = (
        _parts(bottom, shown, digits),
        _parts(top, shown, digits),
    )
    if low_unit == high_unit:
        return gettext("{low} to {high}").format(
            low=low_text, high=f"{high_text}{SPACE}{high_unit}"
        )
    return gettext("{low} to {high}").format(
        low=f"{low_text}{SPACE}{low_unit}", high=f"{high_text}{SPACE}{high_unit}"
    )


def bound(value: Number, unit: str, comparator: str = "=", digits: int = 3) -> str:
    """Write a reading that may be only a bound.

    Examples
    --------
    >>> bound(999e6, "ohm", ">").replace(SPACE, " ")
    'more than 999 MΩ'
    """
    figure = quantity(value, unit, digits)
    if comparator not in {">", "<"}:
        return figure
    text = gettext("more than {figure}") if comparator == ">" else gettext("below {figure}")
    return _kept_together(text, figure)


def _kept_together(text: str, figure: str) -> str:
    """Put a figure behind its word, so that no line ends between them."""
    return text.replace(" {figure}", f"{SPACE}{{figure}}").format(figure=figure)


def guarded(value: Number, unit: str, digits: int) -> int:
    """Give how many digits a reading shows: converted, one more than were read, so none is made up.

    Examples
    --------
    >>> with units.use(units.Units(pressure="psi")):
    ...     quantity(152, "kPa", guarded(152, "kPa", 6)).replace(SPACE, " ")
    '22.05 psi'
    """
    if _float(value) is None or not units.is_converted(unit):
        return digits
    read = len(Decimal(str(value)).as_tuple().digits)
    return max(3, min(digits, read + 1))


def in_both(value: Number, unit: str, comparator: str = "=", digits: int = 3) -> str:
    """Write a reading as the shop reads it and, where that is another unit, as it is recorded.

    Examples
    --------
    >>> with units.use(units.Units(torque="ftlb")):
    ...     in_both("135.581794833140", "Nm", digits=6).replace(SPACE, " ")
    '100 ft·lb (135.582 N·m)'
    >>> in_both("135", "Nm", digits=6).replace(SPACE, " ")
    '135 N·m'
    """
    shown = bound(value, unit, comparator, guarded(value, unit, digits))
    if not units.is_converted(unit):
        return shown
    with units.use(units.Units()):
        return f"{shown} ({quantity(value, unit, digits)})"


def unit_word(unit: str) -> str:
    """Write a unit alone, as the shop reads it.

    Examples
    --------
    >>> with units.use(units.Units(torque="ftlb")):
    ...     unit_word("Nm"), unit_word("degC")
    ('ft·lb', '°C')
    """
    shown = units.shown_unit(unit)
    return UNIT_NAMES.get(shown, shown)


def unit_of(name: str) -> tuple[str, int]:
    """Give unit and significant digits that the ending of a figure's name stands for.

    Examples
    --------
    >>> unit_of("end_v_low"), unit_of("ohm_per_v"), unit_of("count")
    (('V', 4), ('Ω/V', 3), ('', 3))
    """
    stem = f"_{name.removesuffix('_low').removesuffix('_high')}"
    for ending, shown in SUFFIX_UNITS.items():
        if stem.endswith(f"_{ending}"):
            return shown
    return "", 3


def _field(source: Any, name: str) -> Any:
    """Read a figure from a dictionary or an object."""
    if isinstance(source, Mapping):
        return source.get(name)
    return getattr(source, name, None)


def named(source: Any, name: str) -> str:
    """Write the figure of a result by its name, without its interval.

    Examples
    --------
    >>> named({"leak_ohm": 98_000}, "leak_ohm").replace(SPACE, " ")
    '98 kΩ'
    """
    return quantity(_field(source, name), *unit_of(name))


def with_interval(source: Any, name: str) -> str:
    """Write the figure of a result with its interval, which is found by the same name.

    Examples
    --------
    >>> result = {"leak_ohm": 98_000, "leak_ohm_low": 94_000, "leak_ohm_high": 102_000}
    >>> with_interval(result, "leak_ohm").replace(SPACE, " ")
    '98 kΩ (94 to 102 kΩ)'
    """
    low, high = _field(source, f"{name}_low"), _field(source, f"{name}_high")
    unit, digits = unit_of(name)
    if _float(low) is None and _float(high) is None:
        return named(source, name)
    interval = span(low, high, unit, digits)
    if _float(low) is None or _float(high) is None:
        return interval
    return f"{named(source, name)} ({interval})"


def money(amount: Number, currency: str) -> str:
    """Write an amount to the cent, thousands parted, its currency behind it.

    Parameters
    ----------
    amount : float or str or Decimal or None
        The amount [currency]; a dash is written where there is none.
    currency : str
        Three letters; empty where none is known.

    Returns
    -------
    str
        Amount, space that does not break, currency.

    Examples
    --------
    >>> money("4820", "EUR").replace(SPACE, " ")
    '4 820.00 EUR'
    >>> money(None, "EUR")
    '–'
    """
    if _float(amount) is None:
        return NONE
    cents = Decimal(str(amount)).quantize(Decimal("0.01"), ROUND_HALF_UP)
    text = f"{cents:,.2f}".replace(",", SPACE).replace("-", MINUS)
    return f"{text}{SPACE}{currency}" if currency else text


def money_words(amount: float | str, currency: str) -> str:
    """Write an amount that may carry its own currency behind it; text that is none stays as it is.

    Examples
    --------
    >>> money_words("12.5 SEK", "EUR").replace(SPACE, " "), money_words(480, "EUR")[-3:]
    ('12.50 SEK', 'EUR')
    """
    number, _, own = str(amount).partition(" ")
    return str(amount) if _float(number) is None else money(number, own or currency)
