from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.equipment import KINDS, add_months, lapses_on, parse_ratings, usable
from workshop.ratings import GloveRatings

TODAY = date(2026, 3, 2)


def a_snapshot(kind: str = "meter", **more: Any) -> dict[str, Any]:
    return {
        "kind": kind,
        "ratings": {},
        "tested_on": "2026-01-15",
        "due_on": "2027-01-15",
        "issued": True,
        "cycles": 0,
        "withdrawn": False,
    } | more


def code_of(snapshot: dict[str, Any], today: date = TODAY) -> str | None:
    reason = usable(snapshot, today)
    return reason.code if reason else None


def test_a_piece_in_date_is_usable() -> None:
    assert code_of(a_snapshot()) is None


def test_a_piece_is_usable_on_its_last_day_and_not_on_the_next() -> None:
    snapshot = a_snapshot(due_on="2026-03-02")
    assert code_of(snapshot) is None
    assert code_of(snapshot, TODAY + timedelta(days=1)) == "lapsed"


def test_issued_gloves_lapse_six_months_after_the_test_whatever_is_printed_later() -> None:
    gloves = a_snapshot("gloves", tested_on="2025-08-31", due_on="2027-01-01")
    assert code_of(gloves, date(2026, 2, 28)) is None
    assert code_of(gloves, date(2026, 3, 1)) == "lapsed"


def test_gloves_in_store_last_twelve_months() -> None:
    gloves = a_snapshot("gloves", tested_on="2025-03-02", due_on=None, issued=False)
    assert code_of(gloves) is None
    assert code_of(gloves, TODAY + timedelta(days=1)) == "lapsed"


def test_an_earlier_due_date_of_gloves_goes_first() -> None:
    last = lapses_on("gloves", tested_on=date(2026, 1, 1), due_on=date(2026, 2, 1), issued=True)
    assert last == date(2026, 2, 1)


def test_gloves_without_a_test_are_unusable() -> None:
    assert code_of(a_snapshot("gloves", tested_on=None)) == "no_test_date"


def test_an_instrument_without_a_due_date_is_unusable() -> None:
    assert code_of(a_snapshot(due_on=None)) == "no_due_date"


def test_a_face_shield_needs_no_date() -> None:
    assert code_of(a_snapshot("face_shield", tested_on=None, due_on=None)) is None


def test_a_test_in_the_future_makes_a_piece_unusable() -> None:
    assert code_of(a_snapshot(tested_on="2026-03-03")) == "tested_later"


def test_a_withdrawn_piece_is_unusable_first_of_all() -> None:
    assert code_of(a_snapshot(withdrawn=True, due_on="2020-01-01")) == "withdrawn"


def test_an_unknown_kind_is_unusable() -> None:
    assert code_of(a_snapshot("spoon")) == "unknown_kind"


def test_a_torque_tool_is_worn_at_its_cycle_limit() -> None:
    tool = a_snapshot("torque_tool", ratings={"cycle_limit": 100}, cycles=99)
    assert code_of(tool) is None
    worn = str(usable(tool | {"cycles": 100}, TODAY))
    assert worn == "calibration due by cycles: 100 of 100 used"


def test_the_words_of_a_lapse_name_the_day() -> None:
    words = str(usable(a_snapshot(due_on="2026-02-01"), TODAY))
    assert words == "test or calibration lapsed on 1 February 2026"


@given(st.dates(), st.integers(0, 24))
def test_months_count_on_and_never_leave_the_calendar(day: date, months: int) -> None:
    later = add_months(day, months)
    assert later == date.max or (later.year * 12 + later.month) == (
        day.year * 12 + day.month + months
    )
    assert later == date.max or later.day <= day.day


@pytest.mark.parametrize(("glove_class", "top_v"), [("00", 750), ("0", 1500), ("1", 11250)])
def test_the_class_of_gloves_gives_the_highest_voltage(glove_class: str, top_v: float) -> None:
    read = parse_ratings("gloves", {"glove_class": glove_class})
    assert isinstance(read, GloveRatings)
    assert read.max_dc_v == top_v


@pytest.mark.parametrize(
    ("kind", "given_ratings", "field"),
    [
        ("gloves", {"glove_class": "00", "max_dc_v": 1000.0}, "max_dc_v"),
        ("gloves", {"glove_class": "7"}, "glove_class"),
        ("torque_tool", {"low_nm": 20, "high_nm": 5, "tolerance_percent": 4}, "high_nm"),
        ("two_pole_indicator", {"rated_v": 1000, "has_digits": True}, "resolution_v"),
        ("two_pole_indicator", {"rated_v": 1000, "has_digits": False}, "below_v"),
        ("lifting_table", {"max_kg": float("inf")}, "max_kg"),
        ("lifting_table", {"max_kg": "600"}, "max_kg"),
        ("lifting_table", {"max_kg": True}, "max_kg"),
        ("lifting_table", {"max_kg": 600, "colour": "red"}, "colour"),
        ("insulation_tester", {"test_voltages_v": [], "accuracy_percent": 3}, "test_voltages_v"),
    ],
)
def test_a_rating_that_cannot_stand_names_its_field(
    kind: str, given_ratings: dict[str, Any], field: str
) -> None:
    read = parse_ratings(kind, given_ratings)
    assert isinstance(read, tuple)
    assert field in {fault.field for fault in read}
    assert all(fault.why for fault in read)


def test_every_rating_has_a_title() -> None:
    bare = [
        f"{kind.code}.{name}"
        for kind in KINDS.values()
        for name, rating in kind.ratings.model_fields.items()
        if not rating.title
    ]
    assert bare == []
