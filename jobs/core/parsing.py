"""The one strict check of raw input, the same for page, tablet and demo data.

Here: `parse`, which gives the stored form of a value or refuses it. Nothing is guessed: one
decimal separator, no grouping, the prefixes k and M only where the unit is ohm.
Not here: snapshots of people, equipment and spares (`jobs.actions` fills them).
"""

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any

from jobs.core import log_input, quotation_input
from jobs.core.drawn import drawn_text, read_drawn
from jobs.core.entry import Json
from jobs.core.item import Item, Shape
from jobs.core.plain_text import cleaned
from jobs.core.quotation import MONEY, stored_quotation
from jobs.core.reason import InputRefused, Param, Reason
from jobs.core.typed_number import NUMBER_LIMIT, parse_number, why_no_number
from jobs.core.typed_units import in_record, units_taken

__all__ = ["REASONS", "parse", "parse_number"]

TEXT_LIMIT = 4000
SERIES_LIMIT = 5000
SERIES_MIN_ROWS = 2
SERIES_MIN_COLUMNS = 2
SERIES_MAX_COLUMNS = 4
SERIES_LONGEST_S, TEMPS_C, AIR_PA = 7 * 86_400, (-40, 90), (50_000, 120_000)
"""Outside of these a sample was misread, or stands in another unit [s, degC, Pa]."""
SAMPLE_TYPED = ("gauge", "gauge_unit", "barometer", "barometer_unit", "t_s")

_ID = re.compile(r"[0-9a-fA-F-]{36}")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_MEDIA_TYPES = ("image/jpeg", "image/png", "image/webp", "text/csv", "application/pdf")

NOT_A_NUMBER = Reason(
    "not_a_number",
    "“{typed}” is not a number in {unit}. {why}Type digits with one comma or point.",
)
OUT_OF_RANGE = Reason("out_of_range", "{typed} is outside {low} to {high} {unit}. Check the unit.")
NO_BOUND = Reason("no_bound_here", "This reading takes a number, not “more than” or “below”.")
NOT_THIS_UNIT = Reason("not_this_unit", "{typed_unit} is no unit of this reading.")
NOT_TICKED = Reason("not_ticked", "This is done by ticking it.")
NOT_A_CHOICE = Reason("not_a_choice", "Choose one of the answers offered.")
TEXT_EMPTY = Reason("text_empty", "Write at least one word.")
TEXT_TOO_LONG = Reason("text_too_long", "Keep it under {limit} characters.")
NOT_A_PICK = Reason("not_a_pick", "Pick one from the list.")
NOT_A_SERIES = Reason(
    "not_a_series", "A series needs rows of time and reading with rising times ({detail})."
)
NOT_A_TABLE = Reason("not_a_table", "A table needs one number for each row ({detail}).")
NOT_A_SAMPLE = Reason(
    "not_a_sample", "A sample has seconds, gauge, gas temperature and barometer. Check: {detail}."
)
NOT_A_DAY = Reason("not_a_day", "Choose a day from the calendar, or type it as year-month-day.")
NOT_A_PHOTO = Reason("not_a_photo", "The picture did not arrive whole. Take it again.")
NOT_SIGNED_HERE = Reason("not_signed_here", "A signature carries no value of its own.")

REASONS = (
    NOT_A_NUMBER,
    OUT_OF_RANGE,
    NO_BOUND,
    NOT_THIS_UNIT,
    NOT_TICKED,
    NOT_A_CHOICE,
    TEXT_EMPTY,
    TEXT_TOO_LONG,
    NOT_A_PICK,
    NOT_A_SERIES,
    NOT_A_TABLE,
    NOT_A_SAMPLE,
    NOT_A_DAY,
    NOT_A_PHOTO,
    NOT_SIGNED_HERE,
    *quotation_input.REASONS,
    *log_input.REASONS,
)


def _refuse(reason: Reason, item: Item[Any], **params: Param) -> InputRefused:
    return InputRefused(reason(item.key, "", **params))


def _plain(number: Decimal) -> str:
    """Write a decimal without exponent and without trailing zeros beyond what was typed."""
    return format(number, "f")


def _typed_in(item: Item[Any], raw: Json) -> str:
    """Say in which unit something was typed: the item's own where it says nothing."""
    unit = raw.get("in") if isinstance(raw, dict) else None
    if unit is None or unit == "":
        return item.unit
    if unit not in units_taken(item.unit):
        raise _refuse(NOT_THIS_UNIT, item, typed_unit=str(unit)[:NUMBER_LIMIT])
    return str(unit)


def _number_within(item: Item[Any], typed: object, typed_unit: str = "") -> Decimal:
    as_typed = parse_number(typed, typed_unit or item.unit)
    if as_typed is None:
        shown = str(typed)[:NUMBER_LIMIT]
        why = why_no_number(shown)
        said = f"{why} " if why else ""
        raise _refuse(NOT_A_NUMBER, item, typed=shown, unit=item.unit or "-", why=said)
    number = in_record(as_typed, typed_unit or item.unit, item.unit)
    low, high = item.low, item.high
    if (low is not None and number < Decimal(str(low))) or (
        high is not None and number > Decimal(str(high))
    ):
        raise _refuse(
            OUT_OF_RANGE,
            item,
            typed=_plain(number),
            low=low if low is not None else "",
            high=high if high is not None else "",
            unit="" if item.unit == MONEY else item.unit,
        )
    return number


def _split_comparator(typed: object) -> tuple[str, object]:
    if isinstance(typed, str) and typed.strip()[:1] in {">", "<"}:
        stripped = typed.strip()
        return stripped[0], stripped[1:]
    return "=", typed


def _reading(item: Item[Any], raw: Json) -> Json:
    typed = raw.get("typed") if isinstance(raw, dict) else raw
    comparator, rest = _split_comparator(typed)
    if comparator != "=" and item.shape is not Shape.BOUNDED:
        raise _refuse(NO_BOUND, item)
    typed_unit = _typed_in(item, raw)
    return {
        "number": _plain(_number_within(item, rest, typed_unit)),
        "unit": item.unit,
        "comparator": comparator,
        "typed": str(typed)[:NUMBER_LIMIT],
        **({} if typed_unit == item.unit else {"typed_unit": typed_unit}),
    }


def _tick(item: Item[Any], raw: Json) -> Json:
    if raw is not True:
        raise _refuse(NOT_TICKED, item)
    return True


def _choice(item: Item[Any], raw: Json) -> Json:
    if not isinstance(raw, str) or raw not in {choice.value for choice in item.choices}:
        raise _refuse(NOT_A_CHOICE, item)
    return raw


def _text(item: Item[Any], raw: Json) -> Json:
    if not isinstance(raw, str):
        raise _refuse(TEXT_EMPTY, item)
    words = cleaned(raw)
    if not words:
        raise _refuse(TEXT_EMPTY, item)
    if len(words) > TEXT_LIMIT:
        raise _refuse(TEXT_TOO_LONG, item, limit=TEXT_LIMIT)
    return words


def _pick(item: Item[Any], raw: Json) -> Json:
    picked = raw.get("id") if isinstance(raw, dict) else raw
    if not isinstance(picked, str) or not _ID.fullmatch(picked):
        raise _refuse(NOT_A_PICK, item)
    return {"id": picked.lower()}


def _signature(item: Item[Any], raw: Json) -> Json:
    if raw not in (None, {}, True):
        raise _refuse(NOT_SIGNED_HERE, item)
    return {}


def _photo(item: Item[Any], raw: Json) -> Json:
    if not isinstance(raw, dict):
        raise _refuse(NOT_A_PHOTO, item)
    digest, media_type = raw.get("sha256"), raw.get("media_type")
    if not isinstance(digest, str) or not _SHA256.fullmatch(digest):
        raise _refuse(NOT_A_PHOTO, item)
    if media_type not in _MEDIA_TYPES:
        raise _refuse(NOT_A_PHOTO, item)
    return {"sha256": digest, "media_type": media_type}


def _series_row(item: Item[Any], row: Json, index: int, typed_unit: str) -> list[str]:
    if not isinstance(row, list) or not SERIES_MIN_COLUMNS <= len(row) <= SERIES_MAX_COLUMNS:
        raise _refuse(NOT_A_SERIES, item, detail=f"row {index + 1}")
    time_s = parse_number(row[0], "s")
    if time_s is None:
        raise _refuse(NOT_A_SERIES, item, detail=f"time in row {index + 1}")
    extra = [parse_number(cell, "") for cell in row[2:]]
    if any(cell is None for cell in extra):
        raise _refuse(NOT_A_SERIES, item, detail=f"row {index + 1}")
    value = _number_within(item, row[1], typed_unit)
    return [_plain(time_s), _plain(value), *(_plain(cell) for cell in extra if cell is not None)]


def _series(item: Item[Any], sent: Json) -> Json:
    typed_unit, raw = _typed_in(item, sent), _rows_of(sent)
    if not isinstance(raw, list) or not SERIES_MIN_ROWS <= len(raw) <= SERIES_LIMIT:
        raise _refuse(NOT_A_SERIES, item, detail=f"{SERIES_MIN_ROWS} to {SERIES_LIMIT} rows")
    rows = [_series_row(item, row, index, typed_unit) for index, row in enumerate(raw)]
    times = [Decimal(row[0]) for row in rows]
    if any(later <= earlier for earlier, later in pairwise(times)):
        raise _refuse(NOT_A_SERIES, item, detail="times must rise")
    if len({len(row) for row in rows}) != 1:
        raise _refuse(NOT_A_SERIES, item, detail="rows of one length")
    return rows


def _rows_of(sent: Json) -> Json:
    """Give the rows, which stand beside their unit where that is not the record's."""
    return sent["rows"] if isinstance(sent, dict) and sent.keys() == {"in", "rows"} else sent


def _table(item: Item[Any], sent: Json) -> Json:
    raw = _rows_of(sent)
    typed_unit = item.unit if raw is sent else _typed_in(item, sent)
    if not isinstance(raw, dict) or not raw:
        raise _refuse(NOT_A_TABLE, item, detail="empty")
    unknown = [name for name in raw if name not in item.rows]
    if item.rows and unknown:
        raise _refuse(NOT_A_TABLE, item, detail=f"no row {str(unknown[0])[:NUMBER_LIMIT]}")
    return {name: _table_cell(item, raw[name], typed_unit) for name in raw}


def _table_cell(item: Item[Any], typed: Json, typed_unit: str) -> Json:
    """Give a cell's number; typed in another unit than the record's, it keeps what was typed."""
    number = _plain(_number_within(item, typed, typed_unit))
    if typed_unit == item.unit:
        return number
    return {"number": number, "typed": str(typed)[:NUMBER_LIMIT], "typed_unit": typed_unit}


def _torque(item: Item[Any], sent: Json) -> Json:
    """Check values of bolts: a number that the tool showed, or ``{"clicked": its setting}``."""
    raw = _rows_of(sent)
    if raw is not sent:
        # A click stands for the definition's figure, so it is never sent in another unit.
        return _table(item, sent)
    clicks = [n for n, c in raw.items() if isinstance(c, dict)] if isinstance(raw, dict) else []
    if not clicks:
        return _table(item, raw)
    shown = _table(item, {n: c.get("clicked") if n in clicks else c for n, c in raw.items()})
    return {n: {"number": c, "clicked": True} if n in clicks else c for n, c in shown.items()}


def _pressure_pa(item: Item[Any], given: dict[str, Json], name: str) -> Decimal:
    unit = str(given.get(f"{name}_unit", "Pa"))
    number = parse_number(given.get(name), unit)
    if number is None or unit not in units_taken("Pa"):
        raise _refuse(NOT_A_SAMPLE, item, detail=name)
    return in_record(number, unit, "Pa")


def _between(item: Item[Any], number: Decimal | None, detail: str, *ends: int) -> str:
    if number is None or not ends[0] <= number <= ends[1]:
        raise _refuse(NOT_A_SAMPLE, item, detail=f"{detail}, {ends[0]} to {ends[1]}")
    return _plain(number)


def _sample(item: Item[Any], raw: Json) -> Json:
    given = raw if isinstance(raw, dict) else {}
    gauge_pa = _pressure_pa(item, given, "gauge")
    air_pa, temp = _pressure_pa(item, given, "barometer"), given.get("temp_c")
    times_s = {name: parse_number(given.get(name, 0), "s") for name in ("t_s", "lag_s")}
    return {
        **{n: _between(item, t_s, "seconds", 0, SERIES_LONGEST_S) for n, t_s in times_s.items()},
        "gauge_pa": _plain(_number_within(item, _plain(gauge_pa))),
        "temp_c": _between(item, parse_number(temp, "degC"), "gas temperature [°C]", *TEMPS_C),
        "barometer_pa": _between(item, air_pa, "barometer [Pa]", *AIR_PA),
        "typed": {name: str(given.get(name, ""))[:NUMBER_LIMIT] for name in SAMPLE_TYPED},
    }


def _day(item: Item[Any], raw: Json) -> Json:
    try:
        return date.fromisoformat(raw if isinstance(raw, str) else "").isoformat()
    except ValueError:
        raise _refuse(NOT_A_DAY, item) from None


def _drawn(item: Item[Any], raw: Json) -> Json:
    return drawn_text(read_drawn(raw, item.key))


def _quotation(item: Item[Any], raw: Json) -> Json:
    return stored_quotation(quotation_input.quotation_of(item.key, raw))


_PARSERS: dict[Shape, Callable[[Item[Any], Json], Json]] = {
    Shape.TICK: _tick,
    Shape.READING: _reading,
    Shape.BOUNDED: _reading,
    Shape.CHOICE: _choice,
    Shape.TEXT: _text,
    Shape.PERSONAL: _text,
    Shape.DRAWN: _drawn,
    Shape.PHOTO: _photo,
    Shape.SIGNATURE: _signature,
    Shape.PERSON: _pick,
    Shape.EQUIPMENT: _pick,
    Shape.SPARE: _pick,
    Shape.SERIES: _series,
    Shape.TABLE: _table,
    Shape.TORQUE: _torque,
    Shape.SAMPLE: _sample,
    Shape.DAY: _day,
    Shape.QUOTATION: _quotation,
    Shape.LOG: log_input.parse_log,
}


def parse(item: Item[Any], raw: Json) -> Json:
    """Check raw input for an item and give its stored form.

    Parameters
    ----------
    item : Item
        What was asked.
    raw : Json
        What was sent. Readings: text as typed, or ``{"typed": text, "in": unit}``; ticks: true;
        picks: an identifier; signatures of customers: `jobs.core.drawn`; tables: a number for each
        row; series: rows ``[time, reading, ...]``; both as ``{"in": unit, "rows": ...}`` where they
        are typed in another unit than the item's; samples:
        ``{"t_s", "gauge", "gauge_unit", "temp_c", "barometer", "barometer_unit", "lag_s"}``;
        quotations: `jobs.core.quotation_input`.

    Returns
    -------
    Json
        The stored form; measured numbers are decimal strings in the item's unit.

    Raises
    ------
    InputRefused
        With the code, parameters and item, when the input cannot be taken.

    Examples
    --------
    >>> from jobs.core.item import reading
    >>> item = reading("look.start_pa", "Start", unit="Pa", low=0, high=10000)
    >>> parse(item, "3000,5")["number"]
    '3000.5'
    """
    return _PARSERS[item.shape](item, raw)
