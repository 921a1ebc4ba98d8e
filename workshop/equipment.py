"""Kinds of equipment and when a piece lapses; the typed ratings are in ``workshop.ratings``.

No stored rows, no clock: ``today`` is an argument; Django only puts words into the reader's
language. A snapshot is the JSON dictionary
that an entry of a job keeps, so a lapse can be judged from it years later without the register.
Which rating a step asks for is said by the step.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from django.utils.formats import date_format
from django.utils.translation import gettext
from pydantic import ValidationError
from typing_extensions import override

from workshop.ratings import (
    TORQUE_CYCLE_LIMIT,
    CurrentSourceRatings,
    FaceShieldRatings,
    GloveRatings,
    InsulationTesterRatings,
    LiftingTableRatings,
    MeterRatings,
    MilliohmMeterRatings,
    PressureGaugeRatings,
    ProvingUnitRatings,
    Ratings,
    ShuntRatings,
    ThermometerRatings,
    TorqueToolRatings,
    TwoPoleIndicatorRatings,
    VoltageRatings,
)

GLOVE_RETEST_ISSUED_MONTHS: Final = 6
"""OSHA 29 CFR 1910.137(c)(2)(viii), Table I-5: every 6 months once issued."""

GLOVE_RETEST_STORED_MONTHS: Final = 12
"""OSHA 29 CFR 1910.137(c)(2)(viii), Table I-5: stock not issued, tested within 12 months."""

CALIBRATION_MONTHS: Final = 12
"""Interval proposed for instruments and torque tools. Shop default."""


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of equipment.

    ``dated`` says whether a piece without a due date is unusable.
    """

    code: str
    title: str
    ratings: type[Ratings]
    dated: bool


KINDS: Final = {
    kind.code: kind
    for kind in (
        Kind("meter", "Voltmeter", MeterRatings, dated=True),
        Kind("insulation_tester", "Insulation tester", InsulationTesterRatings, dated=True),
        Kind("two_pole_indicator", "Two-pole indicator", TwoPoleIndicatorRatings, dated=True),
        Kind("proving_unit", "Proving unit", ProvingUnitRatings, dated=True),
        Kind("shunt", "Shunt resistor", ShuntRatings, dated=True),
        Kind("gloves", "Insulating gloves", GloveRatings, dated=True),
        Kind("face_shield", "Face shield", FaceShieldRatings, dated=False),
        Kind("insulated_tools", "Insulated tools", VoltageRatings, dated=False),
        Kind("torque_tool", "Torque tool", TorqueToolRatings, dated=True),
        Kind("lifting_table", "Lifting table", LiftingTableRatings, dated=True),
        Kind("pressure_gauge", "Pressure gauge", PressureGaugeRatings, dated=True),
        Kind("milliohm_meter", "Milliohm meter", MilliohmMeterRatings, dated=True),
        Kind("thermometer", "Thermometer", ThermometerRatings, dated=True),
        Kind("lead_set", "Test lead set", VoltageRatings, dated=False),
        Kind("current_source", "Current source", CurrentSourceRatings, dated=False),
    )
}
"""Every kind the shop can own, by its code."""


@dataclass(frozen=True, slots=True)
class RatingFault:
    """One rating that cannot stand: the field and why."""

    field: str
    why: str


def _fault_of(error: Any) -> RatingFault:
    """Turn one error of the ratings' model into field and words."""
    if error["loc"]:
        return RatingFault(str(error["loc"][0]), str(error["msg"]))
    field, _, why = str(error["msg"]).removeprefix("Value error, ").partition(": ")
    return RatingFault(field, why)


def parse_ratings(kind: str, given: Mapping[str, Any]) -> Ratings | tuple[RatingFault, ...]:
    """Read ratings as the kind's typed model.

    Parameters
    ----------
    kind : str
        A code of ``KINDS``.
    given : Mapping[str, Any]
        Rating name to value, as stored or as entered.

    Returns
    -------
    Ratings or tuple of RatingFault
        The frozen ratings, or every fault found.

    Raises
    ------
    KeyError
        Where there is no such kind.

    Examples
    --------
    >>> parse_ratings("gloves", {"glove_class": "0"}).max_dc_v
    1500.0
    >>> parse_ratings("lifting_table", {"max_kg": -1})[0].field
    'max_kg'
    """
    try:
        return KINDS[kind].ratings.model_validate(dict(given))
    except ValidationError as refused:
        return tuple(_fault_of(error) for error in refused.errors(include_url=False))


def add_months(day: date, months: int) -> date:
    """Count calendar months on; a day that the month lacks becomes its last.

    Parameters
    ----------
    day : date
        Start.
    months : int
        Months to add.

    Returns
    -------
    date
        The day that many months later, never beyond the last day a date can hold.

    Examples
    --------
    >>> add_months(date(2026, 8, 31), 6)
    datetime.date(2027, 2, 28)
    """
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    if year >= date.max.year:
        return date.max
    after = date(year + (month == 11), (month + 1) % 12 + 1, 1)  # noqa: PLR2004 - December
    return min(date(year, month + 1, 1) + timedelta(days=day.day - 1), after - timedelta(days=1))


@dataclass(frozen=True, slots=True)
class Interval:
    """How long a test counts [months], and where that comes from."""

    months: int
    source: str


def interval_of(kind: str, *, issued: bool) -> Interval | None:
    """Give how long a test of a kind counts.

    Parameters
    ----------
    kind : str
        A code of ``KINDS``.
    issued : bool
        Gloves only: handed out to a person.

    Returns
    -------
    Interval or None
        None where the kind needs no date.

    Examples
    --------
    >>> interval_of("gloves", issued=True).months
    6
    """
    if kind == "gloves":
        months = GLOVE_RETEST_ISSUED_MONTHS if issued else GLOVE_RETEST_STORED_MONTHS
        return Interval(months, "OSHA 29 CFR 1910.137(c)(2)(viii), Table I-5")
    if kind == "torque_tool":
        return Interval(CALIBRATION_MONTHS, "ISO 6789: 12 months or 5000 cycles")
    if kind in KINDS and KINDS[kind].dated:
        return Interval(CALIBRATION_MONTHS, "shop default, no source")
    return None


def lapses_on(
    kind: str, *, tested_on: date | None, due_on: date | None, issued: bool
) -> date | None:
    """Give the last day on which a piece may be used.

    Parameters
    ----------
    kind : str
        A code of ``KINDS``.
    tested_on : date or None
        Day of the last test.
    due_on : date or None
        Due date on the certificate.
    issued : bool
        Gloves only: handed out to a person.

    Returns
    -------
    date or None
        The last usable day; None where the kind has no date or none is known.

    Notes
    -----
    Gloves: test date plus 6 months once issued, plus 12 months in store, or an earlier due date
    (OSHA 29 CFR 1910.137(c)(2)(viii), Table I-5). Everything else: the due date.

    Examples
    --------
    >>> lapses_on("gloves", tested_on=date(2026, 1, 15), due_on=None, issued=True)
    datetime.date(2026, 7, 15)
    """
    if kind != "gloves":
        return due_on
    if tested_on is None:
        return None
    months = GLOVE_RETEST_ISSUED_MONTHS if issued else GLOVE_RETEST_STORED_MONTHS
    by_test = add_months(tested_on, months)
    return by_test if due_on is None else min(by_test, due_on)


UNUSABLE: Final = {
    "withdrawn": "withdrawn from use",
    "unknown_kind": "not a kind of equipment known here",
    "no_test_date": "no date of a test is known",
    "no_due_date": "no due date is known",
    "tested_later": "its test date lies in the future",
    "lapsed": "test or calibration lapsed on {day}",
    "cycles_used": "calibration due by cycles: {cycles} of {limit} used",
}
"""Reason code to words."""


@dataclass(frozen=True, slots=True)
class Unusable:
    """Why a piece may not be used; ``str()`` gives the words."""

    code: str
    day: date | None = None
    cycles: int = 0
    limit: int = 0

    @override
    def __str__(self) -> str:
        day = "" if self.day is None else date_format(self.day, "j F Y")
        return gettext(UNUSABLE[self.code]).format(day=day, cycles=self.cycles, limit=self.limit)


def _day(text: object) -> date | None:
    """Read a date of a snapshot."""
    return date.fromisoformat(text) if isinstance(text, str) and text else None


def _worn(snapshot: Mapping[str, Any]) -> Unusable | None:
    """Say whether a torque tool has used up its cycles."""
    if snapshot["kind"] != "torque_tool":
        return None
    used = int(snapshot.get("cycles") or 0)
    limit = int(snapshot["ratings"].get("cycle_limit", TORQUE_CYCLE_LIMIT))
    return Unusable("cycles_used", cycles=used, limit=limit) if used >= limit else None


def usable(snapshot: Mapping[str, Any], today: date) -> Unusable | None:
    """Say why a piece of equipment may not be used on a day.

    Parameters
    ----------
    snapshot : Mapping[str, Any]
        As ``workshop.queries.equipment_snapshot`` gives it.
    today : date
        Local date in the workshop's zone.

    Returns
    -------
    Unusable or None
        The reason, or None where it may be used.

    Notes
    -----
    A piece may still be used on the day its test lapses; the day after it may not.

    Examples
    --------
    >>> shield = {"kind": "face_shield", "ratings": {}, "withdrawn": True}
    >>> str(usable(shield, date(2026, 3, 2)))
    'withdrawn from use'
    """
    kind = KINDS.get(str(snapshot["kind"]))
    if snapshot.get("withdrawn"):
        return Unusable("withdrawn")
    if kind is None:
        return Unusable("unknown_kind")
    tested_on = _day(snapshot.get("tested_on"))
    if tested_on is not None and tested_on > today:
        return Unusable("tested_later", day=tested_on)
    last_day = lapses_on(
        kind.code,
        tested_on=tested_on,
        due_on=_day(snapshot.get("due_on")),
        issued=bool(snapshot.get("issued")),
    )
    if last_day is None and kind.dated:
        return Unusable("no_test_date" if kind.code == "gloves" else "no_due_date")
    if last_day is not None and today > last_day:
        return Unusable("lapsed", day=last_day)
    return _worn(snapshot)
