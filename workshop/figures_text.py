"""How a number is written for people: value, unit and interval. Used by pages and by the PDF.

Pure functions, no Django, no clock. The unit of a figure is known from the ending of its name
(``leak_ohm``, ``end_v_low``), so a page never states it. The template filters are in
``workshop.templatetags.figures``.
"""

from collections.abc import Mapping
from datetime import date, datetime, tzinfo
from decimal import ROUND_HALF_UP, Decimal
from math import floor, isfinite, log10
from typing import Any, Final

from quantiphy import Quantity

Number = float | int | str | Decimal | None

SPACE: Final = "\u00a0"
"""Between number and unit, so that a line never breaks there."""

MINUS: Final = "\u2212"
NONE: Final = "–"
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
    "money": "",
}
"""Units as data spells them, where that differs from what is shown."""

PREFIXED: Final = frozenset({"Ω", "Ω/V", "A", "W", "Wh", "Pa·m³/s"})
"""Units that take the prefixes of engineering notation."""

MONTHS: Final = (
    *("Jan", "Feb", "Mar", "Apr", "May", "Jun"),
    *("Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
)


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
    """Give digits and unit of one number."""
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
    return f"{text}{SPACE}{shown}" if shown else text


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
        word = "at least" if top is None else "at most"
        return f"{word}{SPACE}{quantity(bottom if top is None else top, unit, digits)}"
    shown = UNIT_NAMES.get(unit, unit)
    (low_text, low_unit), (high_text, high_unit) = (
        _parts(bottom, shown, digits),
        _parts(top, shown, digits),
    )
    if low_unit == high_unit:
        return f"{low_text} to {high_text}{SPACE}{high_unit}"
    return f"{low_text}{SPACE}{low_unit} to {high_text}{SPACE}{high_unit}"


def bound(value: Number, unit: str, comparator: str = "=", digits: int = 3) -> str:
    """Write a reading that may be only a bound.

    Examples
    --------
    >>> bound(999e6, "ohm", ">").replace(SPACE, " ")
    'more than 999 MΩ'
    """
    words = {">": f"more than{SPACE}", "<": f"below{SPACE}"}
    return words.get(comparator, "") + quantity(value, unit, digits)


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


def duration(seconds: Number) -> str:
    """Write a time span in the two largest units that fit.

    Examples
    --------
    >>> [duration(s).replace(SPACE, " ") for s in (35, 600, 14_400, 100_800)]
    ['35 s', '10 min', '4 h', '1 d 4 h']
    """
    whole = _float(seconds)
    if whole is None:
        return NONE
    rest = abs(round(whole))
    sign = MINUS if whole < 0 and rest else ""
    shown: list[str] = []
    for unit, length in (("d", 86_400), ("h", 3600), ("min", 60), ("s", 1)):
        count, rest = divmod(rest, length)
        if count:
            shown.append(f"{count}{SPACE}{unit}")
        elif shown:
            break
    return sign + SPACE.join(shown[:2]) if shown else f"0{SPACE}s"


def day(value: date | None) -> str:
    """Write a day.

    Examples
    --------
    >>> day(date(2026, 3, 2)).replace(SPACE, " ")
    '2 Mar 2026'
    """
    if value is None:
        return NONE
    return f"{value.day}{SPACE}{MONTHS[value.month - 1]}{SPACE}{value.year}"


def moment(value: datetime | None, zone: tzinfo) -> str:
    """Write day and time in a zone.

    Examples
    --------
    >>> from datetime import UTC
    >>> moment(datetime(2026, 3, 2, 9, 42, tzinfo=UTC), UTC).replace(SPACE, " ")
    '2 Mar 2026, 09:42'
    """
    if value is None:
        return NONE
    local = value.astimezone(zone)
    return f"{day(local.date())},{SPACE}{local:%H:%M}"


def clock_time(value: datetime | None, zone: tzinfo) -> str:
    """Write only the time of day in a zone.

    Examples
    --------
    >>> from datetime import UTC
    >>> clock_time(datetime(2026, 3, 2, 9, 42, tzinfo=UTC), UTC)
    '09:42'
    """
    return NONE if value is None else f"{value.astimezone(zone):%H:%M}"
