"""A number as a person types it: one decimal separator, no grouping, k and M only for ohm.

Here: the strict reading of one number in one unit, and why something is none. Not here: what an
item takes (`jobs.core.parsing`) and other units than the record's (`jobs.core.typed_units`).
"""

import re
from decimal import Decimal

__all__ = ["NUMBER_LIMIT", "WHY_NOT", "parse_number", "why_no_number"]

NUMBER_LIMIT = 40

_NUMBER = re.compile(
    r"(?P<sign>[+-]?)(?P<digits>[0-9]+(?:[.,][0-9]+)?)\s*(?P<prefix>[kM]?)(?P<unit>[^0-9]*)"
)
_UNIT_SPELLINGS = {
    "ohm": ("ohm", "Ω", "\u2126"),
    "V": ("V",),
    "A": ("A",),
    "degC": ("degC", "°C"),
    "percent": ("percent", "%"),
    "Nm": ("Nm", "N·m"),
    "ftlb": ("ftlb", "ft·lb", "ft lb", "lb·ft"),
}
_PREFIX = {"": Decimal(1), "k": Decimal(1000), "M": Decimal(1000000)}
WHY_NOT = (
    (re.compile(r"\s*"), "Nothing was typed."),
    (re.compile(r"(?i)[+-]?\s*(inf|nan|o\.?l\.?)[a-z]*"), "Over range has a button of its own."),
    (re.compile(r".*[0-9][ '.,]+[0-9].*[.,].*|.*[0-9] +[0-9].*"), "Thousands are not parted."),
    (re.compile(r".*[0-9]\s*m.*"), "Small m is not taken: write the number out in its own unit."),
    (re.compile(r".*[0-9]\s*[kMG].*"), "k and M count only where the unit is ohm."),
    (re.compile(r".*[0-9]\s*[eE].*"), "Powers of ten are not taken: write the digits out."),
)
"""What is wrong with something that is no number, in the order asked."""


def _digits(typed: str, unit: str) -> Decimal | None:
    match = _NUMBER.fullmatch(typed)
    if match is None:
        return None
    prefix, spelled = match["prefix"], match["unit"].strip()
    if spelled and spelled not in _UNIT_SPELLINGS.get(unit, (unit,)):
        return None
    if prefix and unit != "ohm":
        return None
    number = Decimal(match["sign"] + match["digits"].replace(",", ".")) * _PREFIX[prefix]
    return number.copy_abs() if number == 0 else number


def parse_number(typed: object, unit: str) -> Decimal | None:
    """Read a number as a person types it.

    Parameters
    ----------
    typed : object
        Text such as ``"2,2"``, ``"450k"`` (ohm only) or ``"-3.5 V"``; or a JSON number.
    unit : str
        Unit of the item.

    Returns
    -------
    Decimal | None
        The number in that unit; None when it is not one.

    Examples
    --------
    >>> parse_number("2,2M", "ohm")
    Decimal('2200000.0')
    >>> parse_number("1.000,5", "V") is None
    True
    """
    if isinstance(typed, bool) or not isinstance(typed, str | int | float):
        return None
    cleaned = str(typed).strip().replace("\u2212", "-")
    if len(cleaned) > NUMBER_LIMIT or not cleaned.isprintable():
        return None
    if isinstance(typed, float):
        return Decimal(cleaned) if Decimal(cleaned).is_finite() else None
    return _digits(cleaned, unit)


def why_no_number(typed: str) -> str:
    """Say what is wrong with something that is no number; empty where it is anything else.

    Examples
    --------
    >>> why_no_number("1.000,5"), why_no_number("3 mV")[:11], why_no_number("abc")
    ('Thousands are not parted.', 'Small m is ', '')
    """
    return next((why for shape, why in WHY_NOT if shape.fullmatch(typed.strip())), "")
