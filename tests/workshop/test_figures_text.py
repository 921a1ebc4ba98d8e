from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop import figures_text
from workshop.figures_text import bound, duration, moment, named, quantity, span, with_interval


def plain(text: str) -> str:
    return text.replace(figures_text.SPACE, " ")


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (98_000, "ohm", "98 kΩ"),
        (60_089, "Ω", "60.1 kΩ"),
        (999_600, "Ω", "1 MΩ"),
        (0.0005, "Ω", "500 µΩ"),
        ("0.10", "A", "100 mA"),
        (Decimal("3000.5"), "Pa", "3000 Pa"),
        (123_456, "Pa", "123 kPa"),
        (21.456, "degC", "21.5 °C"),
        (61, "percent", "61 %"),
        (-3.2, "V", "−3.2 V"),
        (-0.0, "V", "0 V"),
        (12.5, "Nm", "12.5 N·m"),
        (3, "", "3"),
    ],
)
def test_a_number_is_written_with_its_unit(value: float, unit: str, shown: str) -> None:
    assert plain(quantity(value, unit)) == shown


@pytest.mark.parametrize("value", [None, "", "text", float("nan"), float("inf"), True, "9" * 400])
def test_what_is_no_number_is_a_dash(value: object) -> None:
    assert quantity(value, "V") == "–"  # type: ignore[arg-type]


def test_an_interval_shares_its_unit_where_it_can() -> None:
    assert plain(span(94_000, 102_000, "ohm")) == "94 to 102 kΩ"
    assert plain(span(900, 1100, "ohm")) == "900 Ω to 1.1 kΩ"


def test_an_open_interval_says_at_least_or_at_most() -> None:
    assert plain(span(5.5e8, None, "ohm")) == "at least 550 MΩ"
    assert plain(span(None, 5, "V")) == "at most 5 V"
    assert span(None, None, "V") == "–"


def test_a_bound_reads_as_a_bound() -> None:
    assert plain(bound(999e6, "ohm", ">")) == "more than 999 MΩ"
    assert plain(bound(5, "V", "<")) == "below 5 V"
    assert plain(bound(5, "V")) == "5 V"


def test_a_named_figure_finds_its_unit_and_interval() -> None:
    result = {"ohm_per_v": 229.5, "ohm_per_v_low": 220, "ohm_per_v_high": 240}
    assert plain(with_interval(result, "ohm_per_v")) == "230 Ω/V (220 to 240 Ω/V)"
    assert plain(named(result, "ohm_per_v")) == "230 Ω/V"


def test_a_lower_bound_is_not_written_as_a_value() -> None:
    result = {"standard_ohm": 5.5e8, "standard_ohm_low": 5.5e8, "standard_ohm_high": None}
    assert plain(with_interval(result, "standard_ohm")) == "at least 550 MΩ"


def test_a_figure_is_read_from_an_object_too() -> None:
    assert plain(with_interval(date(2026, 1, 1), "year")) == "2026"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0, "0 s"),
        (35, "35 s"),
        (90, "1 min 30 s"),
        (3600, "1 h"),
        (90_061, "1 d 1 h"),
        (-60, "−1 min"),
    ],
)
def test_a_time_span_has_two_units_at_most(seconds: float, shown: str) -> None:
    assert plain(duration(seconds)) == shown


def test_a_moment_is_written_in_the_zone_asked_for() -> None:
    noon = datetime(2026, 7, 1, 12, 0, tzinfo=UTC)
    assert plain(moment(noon, ZoneInfo("Europe/Dublin"))) == "1 Jul 2026, 13:00"
    assert moment(None, UTC) == "–"


@given(st.floats(allow_nan=True, allow_infinity=True), st.sampled_from(["Ω", "V", "Pa", "%", ""]))
def test_every_float_can_be_written(value: float, unit: str) -> None:
    shown = quantity(value, unit)
    assert shown
    assert len(shown) < 40
    assert "nan" not in shown
    assert "inf" not in shown
