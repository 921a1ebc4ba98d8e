"""One check of the temperature watch: what was typed, and what it means.

Here: reading what a page sent, and the word of a check with its reasons. The figures are limits
of the shop (`jobs.core.limits`, kind shop default): more than 10 K above the air around, more than
5 K between points, 1 K or more in 15 min, 60 degC: escalate; 80 degC, smoke, hissing or smell:
evacuate. No standard gives them; the vehicle maker's instructions and local rules come first.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from jobs.core.entry import Json
from jobs.core.limits import Limits
from jobs.core.parsing import parse_number
from jobs.core.reason import Blocker, InputRefused, Reason
from jobs.core.watch import Check, Point, Sign, Word, in_force

__all__ = [
    "REASONS",
    "Readings",
    "TypedCheck",
    "judge",
    "limits_used",
    "read_check",
    "reasons_from",
    "stored",
]

DANGER_SIGNS = frozenset({Sign.SMOKE, Sign.HISSING, Sign.SMELL})
MOST_POINTS = 40
NAME_LIMIT = 60
NOTE_LIMIT = 1000
LOW_C, HIGH_C = -60.0, 1500.0
"""Temperatures that an instrument in the yard can show [degC]."""
PER_MIN = 15.0
"""Minutes to which the limit of the rise belongs [min]."""
CLOSEST_MIN = 5.0
"""Readings closer together are compared as if this lay between: thermometers show 0.1 K [min]."""
ROUNDING_C = 1e-9

NO_NUMBER = Reason(
    "watch_no_number", "“{typed}” is not a temperature. Type degrees with one comma or point."
)
OUT_OF_RANGE = Reason("watch_range", "{typed} °C cannot be. Check the instrument and the figure.")
NO_AMBIENT = Reason("watch_no_ambient", "Measure the air around too, in the shade.")
NO_POINT = Reason("watch_no_point", "Measure at least one point of the module, better five.")
NO_NAME = Reason("watch_no_name", "Say where this was measured.")
NAME_TWICE = Reason("watch_name_twice", "“{name}” stands here twice. Give each point its own name.")
TOO_LONG = Reason("watch_too_long", "Keep it under {limit} characters.")
UNKNOWN_SIGN = Reason("watch_unknown_sign", "Choose from the signs that are offered.")

SMOKE = Reason("watch_smoke", "Smoke.")
HISSING = Reason("watch_hissing", "Hissing.")
SMELL = Reason("watch_smell", "Smell.")
EVACUATE = Reason("watch_evacuate", "{name}: {got_c:.1f} °C, people leave at {limit_c:g} °C.")
HOT = Reason("watch_hot", "{name}: {got_c:.1f} °C, to stay under {limit_c:g} °C.")
ABOVE = Reason(
    "watch_above_ambient",
    "{name}: {got_c:.1f} K above the air around, {limit_c:g} K are allowed.",
)
SPREAD = Reason(
    "watch_spread", "{got_c:.1f} K between {low} and {name}, {limit_c:g} K are allowed."
)
RISE = Reason(
    "watch_rise",
    "{name}: {got_c:.1f} K warmer in {span_min:.0f} min, to stay under {limit_c:g} K in 15 min.",
)
SWELLING = Reason("watch_swelling", "Swelling that was not there before.")
FLUID = Reason("watch_fluid", "Fluid that was not there before.")

_SEEN = {Sign.SMOKE: SMOKE, Sign.HISSING: HISSING, Sign.SMELL: SMELL}
_NEW = {Sign.SWELLING: SWELLING, Sign.FLUID: FLUID}
_MEANINGS = (SMOKE, HISSING, SMELL, EVACUATE, HOT, ABOVE, SPREAD, RISE, SWELLING, FLUID)
REASONS = (
    NO_NUMBER,
    OUT_OF_RANGE,
    NO_AMBIENT,
    NO_POINT,
    NO_NAME,
    NAME_TWICE,
    TOO_LONG,
    UNKNOWN_SIGN,
    *_MEANINGS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedCheck:
    """A check as a person typed it: points are name and temperature, in the order of the page."""

    ambient_c: str = ""
    points: tuple[tuple[str, str], ...] = ()
    signs: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """A check as it was read; `typed` keeps each number as it was written, unit degC."""

    ambient_c: float | None
    points: tuple[Point, ...]
    signs: frozenset[Sign]
    note: str
    typed: Mapping[str, str]


def _words(typed: str, field: str, limit: int) -> str:
    cleaned = "".join(each for each in typed if each == "\n" or each.isprintable()).strip()
    if len(cleaned) > limit:
        raise InputRefused(TOO_LONG(field, limit=limit))
    return cleaned


def _temperature(typed: str, field: str) -> tuple[float, str]:
    """Read one temperature [degC], also as the text that is stored."""
    number = parse_number(typed, "degC")
    if number is None:
        raise InputRefused(NO_NUMBER(field, typed=typed[:20]))
    if not LOW_C <= number <= HIGH_C:
        raise InputRefused(OUT_OF_RANGE(field, typed=typed[:20]))
    return float(number), format(number, "f")


def _points(typed: Sequence[tuple[str, str]]) -> dict[str, tuple[float, str]]:
    found: dict[str, tuple[float, str]] = {}
    for place, (given, temperature) in enumerate(typed[:MOST_POINTS]):
        if not temperature.strip():
            continue
        name = " ".join(_words(given, f"point_{place}_name", NAME_LIMIT).split())
        if not name:
            raise InputRefused(NO_NAME(f"point_{place}_name"))
        if name in found:
            raise InputRefused(NAME_TWICE(f"point_{place}_name", name=name))
        found[name] = _temperature(temperature, f"point_{place}_c")
    return found


def _signs(typed: Iterable[str]) -> frozenset[Sign]:
    try:
        return frozenset(Sign(each) for each in typed)
    except ValueError:
        raise InputRefused(UNKNOWN_SIGN("signs")) from None


def read_check(typed: TypedCheck) -> Readings:
    """Read what was typed; with smoke, hissing or smell nobody has to measure.

    Parameters
    ----------
    typed : TypedCheck
        As sent.

    Returns
    -------
    Readings
        Numbers, names and signs.

    Raises
    ------
    InputRefused
        With the field that has to be mended: ``ambient_c``, ``point_0_c``, ``point_0_name`` …
    """
    signs = _signs(typed.signs)
    points = _points(typed.points)
    note = _words(typed.note, "note", NOTE_LIMIT)
    numbers = {name: text for name, (_, text) in points.items()}
    ambient_c: float | None = None
    if typed.ambient_c.strip():
        ambient_c, numbers[""] = _temperature(typed.ambient_c, "ambient_c")
    if not signs & DANGER_SIGNS:
        if ambient_c is None:
            raise InputRefused(NO_AMBIENT("ambient_c"))
        if not points:
            raise InputRefused(NO_POINT("point_0_c"))
    measured = tuple(Point(name, number) for name, (number, _) in points.items())
    return Readings(ambient_c=ambient_c, points=measured, signs=signs, note=note, typed=numbers)


def _hot(readings: Readings, limits: Limits) -> Iterable[Blocker]:
    leave_c, hot_c = limits.watch_evacuate_c.value, limits.watch_hot_c.value
    for point in readings.points:
        if point.point_c >= leave_c:
            yield EVACUATE(name=point.name, got_c=point.point_c, limit_c=leave_c)
        elif point.point_c >= hot_c:
            yield HOT(name=point.name, got_c=point.point_c, limit_c=hot_c)


def _uneven(readings: Readings, limits: Limits) -> Iterable[Blocker]:
    """Compare the points with the air around and with each other."""
    if not readings.points:
        return
    hottest = max(readings.points, key=lambda point: point.point_c)
    coldest = min(readings.points, key=lambda point: point.point_c)
    allowed_c, spread_c = limits.watch_above_ambient_c.value, limits.watch_spread_c.value
    if readings.ambient_c is not None:
        above_c = hottest.point_c - readings.ambient_c
        if above_c > allowed_c + ROUNDING_C:
            yield ABOVE(name=hottest.name, got_c=above_c, limit_c=allowed_c)
    apart_c = hottest.point_c - coldest.point_c
    if apart_c > spread_c + ROUNDING_C:
        yield SPREAD(name=hottest.name, low=coldest.name, got_c=apart_c, limit_c=spread_c)


def _rising(
    readings: Readings, earlier: Sequence[Check], at: datetime, limits: Limits
) -> Iterable[Blocker]:
    """Compare each point with the last check in which it was measured."""
    limit_c = limits.watch_rise_c.value
    before = {point.name: (point.point_c, check.at) for check in earlier for point in check.points}
    for point in readings.points:
        if point.name not in before:
            continue
        was_c, then = before[point.name]
        span_min = (at - then).total_seconds() / 60.0
        rise_c = point.point_c - was_c
        if rise_c * PER_MIN / max(span_min, CLOSEST_MIN) >= limit_c - ROUNDING_C:
            yield RISE(name=point.name, got_c=rise_c, span_min=span_min, limit_c=limit_c)


def judge(
    readings: Readings,
    earlier: Sequence[Check],
    *,
    at: datetime,
    known: frozenset[Sign],
    limits: Limits,
) -> tuple[Word, tuple[Blocker, ...]]:
    """Say what a check means.

    Parameters
    ----------
    readings : Readings
        What was read.
    earlier : Sequence[Check]
        The checks before it, oldest first; those that were corrected do not count.
    at : datetime
        The server's time.
    known : frozenset[Sign]
        Swelling and fluid that the module came in with, which are not new at it.
    limits : Limits
        The shop's limits.

    Returns
    -------
    tuple[Word, tuple[Blocker, ...]]
        The word, and every reason for it; what makes people leave comes first.

    Notes
    -----
    A hotter hottest point, a further sign or a tighter limit never gives a milder word.
    """
    counted = in_force(earlier)
    seen_before = known.union(*(check.signs for check in counted))
    reasons = [reason() for sign, reason in _SEEN.items() if sign in readings.signs]
    reasons += _hot(readings, limits)
    reasons += _uneven(readings, limits)
    reasons += _rising(readings, counted, at, limits)
    reasons += [r() for sign, r in _NEW.items() if sign in readings.signs - seen_before]
    leave = {SMOKE.code, HISSING.code, SMELL.code, EVACUATE.code}
    reasons.sort(key=lambda reason: reason.code not in leave)
    if reasons and reasons[0].code in leave:
        return Word.EVACUATE, tuple(reasons)
    return (Word.ESCALATE if reasons else Word.CALM), tuple(reasons)


def limits_used(limits: Limits) -> Json:
    """Give the limits by which a check is judged, as they are kept beside it."""
    rows = limits.model_dump()
    return {name: f"{row['value']:g}" for name, row in rows.items() if name.startswith("watch_")}


def stored(
    readings: Readings, word: Word, reasons: Sequence[Blocker], *, limits: Limits, corrects: str
) -> Json:
    """Give a check as it is kept: measured numbers as typed, its word, reasons and limits."""
    return {
        "ambient_c": readings.typed.get(""),
        "points": [{"name": p.name, "point_c": readings.typed[p.name]} for p in readings.points],
        "signs": sorted(readings.signs),
        "note": readings.note,
        "word": str(word),
        "reasons": [
            {"code": reason.code, "params": {n: str(v) for n, v in reason.params.items()}}
            for reason in reasons
        ],
        "limits": limits_used(limits),
        "corrects": corrects,
    }


def _param(name: str, value: str) -> str | float:
    return float(value) if name.endswith(("_c", "_min")) else value


def reasons_from(rows: Sequence[Mapping[str, Any]]) -> tuple[Blocker, ...]:
    """Give the reasons of a stored check; what a later version no longer knows says its code."""
    known = {reason.code: reason for reason in _MEANINGS}
    found = []
    for row in rows:
        reason = known.get(row["code"], Reason(row["code"], row["code"]))
        params = {name: _param(name, value) for name, value in row["params"].items()}
        found.append(reason("", "", **params))
    return tuple(found)
