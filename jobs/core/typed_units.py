"""Units in which a number may be typed, beside the one in which the record keeps it.

Here: exact factors, and the conversion both ways. The record stays in the unit of the item; an
entry typed in another unit says which, so nobody has to ask later what the shop was set to. Not
here: which unit a shop shows (`workshop.units`).
"""

from decimal import Context, Decimal
from typing import Final

__all__ = ["TYPED_UNITS", "from_record", "in_record", "units_taken"]

_EXACT: Final = Context(prec=60)
KEPT_DIGITS: Final = 15
"""Digits that a converted number keeps: more than anybody types, so that it converts back."""
SHOWN_DIGITS: Final = 12

_FOOT_M, _POUND_FORCE_N = Decimal("0.3048"), Decimal("4.4482216152605")
_PSI_PA: Final = _EXACT.divide(_POUND_FORCE_N, Decimal("0.0254") * Decimal("0.0254"))

TYPED_UNITS: Final[dict[str, dict[str, Decimal]]] = {
    "Nm": {"ftlb": _EXACT.multiply(_FOOT_M, _POUND_FORCE_N)},
    "Pa": {"mbar": Decimal(100), "hPa": Decimal(100), "kPa": Decimal(1000), "psi": _PSI_PA},
    "kPa": {"mbar": Decimal("0.1"), "psi": _EXACT.divide(_PSI_PA, Decimal(1000))},
    "km": {"mi": Decimal("1.609344")},
}
"""Unit of the record to the units that may be typed instead, each with how many of the record's
unit it is. Foot, pound-force, inch and mile are exact by definition; psi is their quotient."""


def units_taken(unit: str) -> tuple[str, ...]:
    """Give every unit in which a number of an item may be typed, the record's own first."""
    return (unit, *TYPED_UNITS.get(unit, ()))


def _rounded(number: Decimal, digits: int) -> Decimal:
    """Round to so many digits; a number that has no more stays as it is."""
    return number if len(number.as_tuple().digits) <= digits else Context(prec=digits).plus(number)


def in_record(number: Decimal, typed_unit: str, unit: str) -> Decimal:
    """Convert what was typed into the unit of the record.

    Parameters
    ----------
    number : Decimal
        What was typed [typed_unit].
    typed_unit, unit : str
        Its unit, and the record's.

    Returns
    -------
    Decimal
        The number [unit]; exact up to fifteen digits.

    Raises
    ------
    KeyError
        Where nobody may type it in that unit.

    Examples
    --------
    >>> in_record(Decimal("100"), "ftlb", "Nm")
    Decimal('135.581794833140')
    >>> in_record(Decimal("30.5"), "mbar", "Pa")
    Decimal('3050.0')
    """
    if typed_unit == unit:
        return number
    return _rounded(_EXACT.multiply(number, TYPED_UNITS[unit][typed_unit]), KEPT_DIGITS)


def from_record(number: Decimal, unit: str, typed_unit: str) -> Decimal:
    """Convert a number of the record into another unit; gives back what was typed.

    Examples
    --------
    >>> from_record(Decimal("135.581794833140"), "Nm", "ftlb")
    Decimal('100')
    """
    if typed_unit == unit:
        return number
    found = _EXACT.divide(number, TYPED_UNITS[unit][typed_unit])
    plain = format(_rounded(found, SHOWN_DIGITS), "f")
    return Decimal(plain.rstrip("0").rstrip(".") if "." in plain else plain)
