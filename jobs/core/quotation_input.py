"""The strict check of a quotation as it was sent: nothing is guessed, every line is named.

The totals are always computed here. Where the sender says which total it showed to the person,
another one is refused, so that nobody enters a sum that they did not see.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, Final

from jobs.core.entry import Json
from jobs.core.plain_text import cleaned
from jobs.core.quotation import (
    CUSTOMER,
    DISCOUNT,
    KINDS,
    PAYERS,
    Quotation,
    QuotationLine,
    added_up,
)
from jobs.core.quotation_sums import overdone_discount
from jobs.core.reason import InputRefused, Param, Reason

__all__ = ["CURRENCY", "MOST_LINES", "PAST", "REASONS", "quotation_of"]

MOST_LINES: Final = 200
MOST_OF_A_LINE: Final = Decimal(1_000_000)
MOST_IN_ALL: Final = Decimal(10_000_000)
"""Above these somebody mistyped [the shop's currency]."""
TEXT_LETTERS: Final = 300
UNIT_LETTERS: Final = 20
NOTE_LETTERS: Final = 2000
PRICE_DECIMALS, QUANTITY_DECIMALS, TAX_DECIMALS = 2, 3, 2
WHOLE_TAX: Final = Decimal(100)
FIRST_YEAR, LAST_YEAR = 2000, 2199

_NUMBER: Final = re.compile(r"([0-9]{1,9})(?:[.,]([0-9]{1,9}))?")
_CURRENCY: Final = re.compile(r"[A-Z]{3}|")
_NAMES: Final = {"lines", "currency", "valid_until", "not_included", "notes", "total"}
_LINE_NAMES: Final = {
    *("kind", "text", "quantity", "unit", "unit_price", "tax_percent", "payer", "optional")
}

NOT_WHOLE = Reason("quotation_not_whole", "The quotation did not arrive whole. Send it again.")
NO_LINES = Reason("quotation_no_lines", "A quotation needs at least one line.")
TOO_LONG = Reason("quotation_too_long", "A quotation has at most {limit} lines.")
KIND = Reason("quotation_kind", "Line {line}: choose what it is for.")
TEXT = Reason("quotation_text", "Line {line}: say what it is, in at most {limit} characters.")
UNIT = Reason("quotation_unit", "Line {line}: the unit is a short word such as h or pieces.")
QUANTITY = Reason(
    "quotation_quantity", "Line {line}: the quantity is a number above 0, with 3 decimals at most."
)
PRICE = Reason(
    "quotation_price", "Line {line}: the unit price is a number from 0, with 2 decimals at most."
)
TAX = Reason("quotation_tax", "Line {line}: the tax is 0 to 100 percent, with 2 decimals at most.")
PAYER = Reason("quotation_payer", "Line {line}: choose who pays it.")
OPTIONAL = Reason(
    "quotation_optional",
    "Line {line}: it is included or optional; a discount is never optional.",
)
DISCOUNTED = Reason(
    "quotation_discount",
    "Line {line}: the discounts at {percent} % tax come to more than what their payer pays at that "
    "rate. Lower the discount, or write its tax as on the lines it is taken off.",
)
ABSURD = Reason(
    "quotation_absurd", "Line {line} comes to more than {limit_money}. Look at the numbers again."
)
ABSURD_IN_ALL = Reason(
    "quotation_absurd_in_all", "It comes to more than {limit_money}. Look at the numbers again."
)
WORDS = Reason("quotation_words", "Keep each text under {limit} characters.")
DAY = Reason("quotation_day", "“Valid until” is a day, or empty.")
PAST = Reason("quotation_past", "“Valid until” lies in the past. Choose a later day.")
CURRENCY = Reason(
    "quotation_currency",
    "The shop now counts in {currency}. Reload the page and look at the prices again.",
)
MISMATCH = Reason(
    "quotation_mismatch",
    "The lines come to {total_money}, not to {shown_money} as was shown. Look at them again.",
)

REASONS = (
    NOT_WHOLE,
    NO_LINES,
    TOO_LONG,
    KIND,
    TEXT,
    UNIT,
    QUANTITY,
    PRICE,
    TAX,
    PAYER,
    OPTIONAL,
    DISCOUNTED,
    ABSURD,
    ABSURD_IN_ALL,
    WORDS,
    DAY,
    PAST,
    CURRENCY,
    MISMATCH,
)


def _refused(item: str, reason: Reason, **params: Param) -> InputRefused:
    return InputRefused(reason(item, "", **params))


def _number(raw: Json, decimals: int) -> Decimal | None:
    """Read a number that is not negative; None where it is none or has too many decimals."""
    if isinstance(raw, bool) or not isinstance(raw, str | int | float):
        return None
    match = _NUMBER.fullmatch(str(raw).strip())
    if match is None:
        return None
    after = (match[2] or "").rstrip("0")
    return None if len(after) > decimals else Decimal(f"{match[1]}.{after or 0}").normalize()


def _words(raw: Json, limit: int) -> str | None:
    """Read words; None where they are none or too many."""
    if not isinstance(raw, str):
        return None
    words = cleaned(raw)
    return words if len(words) <= limit else None


def _one_line(raw: Json, limit: int) -> str | None:
    words = _words(raw, limit)
    return None if words is None else " ".join(words.split())


def _kind(raw: Mapping[str, Json]) -> str | None:
    kind = raw.get("kind")
    return kind if isinstance(kind, str) and kind in KINDS else None


def _payer(raw: Mapping[str, Json]) -> str | None:
    payer = raw.get("payer", CUSTOMER)
    return payer if isinstance(payer, str) and payer in PAYERS else None


def _optional(raw: Mapping[str, Json]) -> bool | None:
    """Read whether a line is optional: ticked, or by the word of the page's choice."""
    said = raw.get("optional", False)
    known = {"": False, "yes": True}.get(said) if isinstance(said, str) else said
    whether = known if isinstance(known, bool) else None
    return None if whether and raw.get("kind") == DISCOUNT else whether


def _line(item: str, raw: Json, number: int) -> QuotationLine:
    if not isinstance(raw, Mapping) or not set(raw) <= _LINE_NAMES:
        raise _refused(item, NOT_WHOLE)
    read: dict[str, tuple[Any, Reason]] = {
        "kind": (_kind(raw), KIND),
        "text": (_one_line(raw.get("text"), TEXT_LETTERS) or None, TEXT),
        "quantity": (_number(raw.get("quantity"), QUANTITY_DECIMALS) or None, QUANTITY),
        "unit": (_one_line(raw.get("unit", ""), UNIT_LETTERS), UNIT),
        "unit_price": (_number(raw.get("unit_price"), PRICE_DECIMALS), PRICE),
        "tax_percent": (_tax(raw), TAX),
        "payer": (_payer(raw), PAYER),
        "optional": (_optional(raw), OPTIONAL),
    }
    for value, reason in read.values():
        if value is None:
            raise _refused(item, reason, line=number, limit=TEXT_LETTERS)
    line = QuotationLine(**{name: value for name, (value, _) in read.items()})
    if line.quantity * line.unit_price > MOST_OF_A_LINE:
        raise _refused(item, ABSURD, line=number, limit_money=str(MOST_OF_A_LINE))
    return line


def _tax(raw: Mapping[str, Json]) -> Decimal | None:
    """Read the rate of a line's tax; nothing typed is no tax."""
    typed = raw.get("tax_percent", "")
    percent = Decimal(0) if typed == "" else _number(typed, TAX_DECIMALS)
    return percent if percent is not None and percent <= WHOLE_TAX else None


def _day(item: str, raw: Json) -> date | None:
    if raw in (None, ""):
        return None
    try:
        day = date.fromisoformat(raw) if isinstance(raw, str) else None
    except ValueError:
        day = None
    if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise _refused(item, DAY)
    return day


def _shown_total(item: str, quotation: Quotation, raw: Json) -> None:
    """Refuse a total that was shown to the person and is not the one of the lines."""
    if raw in (None, ""):
        return
    if _number(raw, PRICE_DECIMALS) != quotation.total.normalize():
        shown = str(raw)[:UNIT_LETTERS]
        raise _refused(item, MISMATCH, total_money=str(quotation.total), shown_money=shown)


def _lines(item: str, raw: Json) -> Sequence[Json]:
    """Give the lines as sent, where the whole is a quotation at all."""
    if not isinstance(raw, Mapping) or not set(raw) <= _NAMES:
        raise _refused(item, NOT_WHOLE)
    currency, lines = raw.get("currency", ""), raw.get("lines")
    if not isinstance(currency, str) or not _CURRENCY.fullmatch(currency):
        raise _refused(item, NOT_WHOLE)
    if not isinstance(lines, list | tuple) or not lines:
        raise _refused(item, NO_LINES)
    if len(lines) > MOST_LINES:
        raise _refused(item, TOO_LONG, limit=MOST_LINES)
    return lines


def quotation_of(item: str, raw: Json) -> Quotation:
    """Check a quotation as it was sent.

    Parameters
    ----------
    item : str
        Key of the item it is entered for.
    raw : Json
        ``{"lines": [{"kind", "text", "quantity", "unit", "unit_price", "tax_percent"}]}``, where a
        line may say "payer" and "optional"; with "currency", "valid_until", "not_included",
        "notes" and, where known, the "total" shown.
        Numbers as typed: a comma or a point parts the decimals, nothing groups.

    Returns
    -------
    Quotation
        With its totals.

    Raises
    ------
    InputRefused
        With the reason and the number of the line.
    """
    lines = _lines(item, raw)
    words = {name: _words(raw.get(name, ""), NOTE_LETTERS) for name in ("not_included", "notes")}
    if None in words.values():
        raise _refused(item, WORDS, limit=NOTE_LETTERS)
    quotation = added_up(
        tuple(_line(item, line, number) for number, line in enumerate(lines, start=1)),
        currency=raw.get("currency", ""),
        valid_until=_day(item, raw.get("valid_until")),
        **{name: text or "" for name, text in words.items()},
    )
    if quotation.with_options(quotation.options).total > MOST_IN_ALL:
        raise _refused(item, ABSURD_IN_ALL, limit_money=str(MOST_IN_ALL))
    overdone = overdone_discount(quotation)
    if overdone:
        percent = quotation.lines[overdone - 1].tax_percent
        raise _refused(item, DISCOUNTED, line=overdone, percent=format(percent.normalize(), "f"))
    _shown_total(item, quotation, raw.get("total"))
    return quotation
