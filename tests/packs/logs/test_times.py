from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import (
    COLUMNS,
    Form,
    assert_true,
    codes,
    doubts,
    said,
    true_rows,
    written,
)

START = datetime(2026, 3, 3, 8, 15, tzinfo=UTC)


def moments(
    shape: str, start: datetime = START, step_s: float = 20.0, count: int = 60
) -> list[str]:
    return [(start + timedelta(seconds=step_s * row)).strftime(shape) for row in range(count)]


@pytest.mark.parametrize(
    "shape",
    [
        "%Y-%m-%dT%H:%M:%S",
        "%Y-%m-%d %H:%M:%S",
        "%Y-%m-%dT%H:%M:%SZ",
        "%Y-%m-%dT%H:%M:%S+01:00",
        "%Y-%m-%dT%H:%M:%S.%f",
        "%Y-%m-%d %H:%M:%S+0100",
        "%Y-%m-%d %H:%M:%S +01:00",
        "%Y/%m/%d %H:%M:%S",
        "%Y%m%dT%H%M%S",
        "%d.%m.%Y %H:%M:%S",
        "%d.%m.%y %H:%M:%S",
        "%m/%d/%Y %H:%M:%S",
        "%d/%m/%Y %H:%M:%S",
        "%m/%d/%Y %I:%M:%S %p",
        "%d-%b-%Y %H:%M:%S",
        "%H:%M:%S",
        "%H:%M:%S.%f",
        "%I:%M:%S %p",
    ],
)
def test_every_usual_way_of_writing_a_time_gives_the_same_seconds(shape: str) -> None:
    log = written(times=moments(shape)).read()
    assert_true(log)
    assert (log.repairs, log.doubts) == ((), ())


@pytest.mark.parametrize("shape", ["%d.%m.%Y %H:%M:%S,%f", "%Y-%m-%d %H:%M:%S,%f"])
def test_fractions_behind_a_comma_are_understood(shape: str) -> None:
    form = Form(delimiter=";", decimal=",")
    assert_true(written(times=moments(shape), form=form).read())


@pytest.mark.parametrize(
    ("pattern", "start", "factor"),
    [
        ("{:.3f}", 0.0, 1.0),
        ("{:e}", 0.0, 1.0),
        ("{:.0f}", 1.77e9, 1.0),
        ("{:.0f}", 1.77e12, 1e3),
        ("{:.0f}", 1.77e15, 1e6),
    ],
)
def test_seconds_and_times_since_1970_need_no_word(
    pattern: str, start: float, factor: float
) -> None:
    times = [pattern.format(start + factor * second) for second in true_rows().time_s]
    log = written(times=times).read()
    assert_true(log)
    assert (log.repairs, log.doubts) == ((), ())


@pytest.mark.parametrize(
    ("name", "factor"),
    [("time [ms]", 1e3), ("time_ms", 1e3), ("time (min)", 1 / 60), ("t/h", 1 / 3600)],
)
def test_a_unit_in_the_header_is_used_and_said(name: str, factor: float) -> None:
    times = [f"{second * factor:.9g}" for second in true_rows().time_s]
    form = Form(header=(name, *Form().header[1:]))
    log = written(times=times, form=form).read(columns=replace(COLUMNS, time_s=name))
    np.testing.assert_allclose(log.time_s, true_rows().time_s, atol=1e-3)
    assert codes(log) == ["time_unit"]


def test_milliseconds_are_told_where_seconds_would_be_months() -> None:
    rows = true_rows(count=400)
    log = written(rows, [f"{1e3 * second:.0f}" for second in rows.time_s]).read()
    assert_true(log, rows)
    assert codes(log) == ["time_unit"]


def test_days_of_a_spreadsheet_are_told() -> None:
    times = [f"{46_084.34375 + second / 86_400:.9f}" for second in true_rows().time_s]
    log = written(times=times).read()
    np.testing.assert_allclose(log.time_s, true_rows().time_s, atol=1e-3)
    assert codes(log) == ["time_unit"]


@pytest.mark.parametrize("factor", [1e3, 1 / 86_400])
def test_a_unit_of_time_that_cannot_be_told_is_a_doubt(factor: float) -> None:
    times = [f"{second * factor:.9f}" for second in true_rows(count=24).time_s]
    assert doubts(written(true_rows(count=24), times).read()) == ["time_unit_unsure"]


def test_a_time_of_day_passes_midnight() -> None:
    start = datetime(2026, 3, 3, 23, 50, tzinfo=UTC)
    log = written(times=moments("%H:%M:%S", start)).read()
    assert_true(log)
    assert codes(log) == ["midnight"]


def test_hours_since_the_beginning_go_beyond_a_day() -> None:
    times = [f"{23 + row // 30}:{row % 30 * 2:02}:00" for row in range(60)]
    log = written(true_rows(step_s=120.0), times).read()
    assert_true(log, true_rows(step_s=120.0))


@pytest.mark.parametrize("shape", ["%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S"])
def test_day_and_month_are_told_where_only_one_order_rises_by_small_steps(shape: str) -> None:
    start = datetime(2026, 4, 3, 23, 50, tzinfo=UTC)
    log = written(times=moments(shape, start)).read()
    assert_true(log)
    assert log.doubts == ()


def test_day_and_month_that_cannot_be_told_are_a_doubt() -> None:
    times = moments("%d/%m/%Y %H:%M:%S")
    times[30:] = moments("%d/%m/%Y %H:%M:%S", START + timedelta(days=2))[30:]
    assert "date_order_unsure" in doubts(written(times=times).read())


def test_two_numbers_may_be_hours_or_minutes() -> None:
    times = [f"08:{row:02}" for row in range(60)]
    log = written(true_rows(step_s=60.0), times).read()
    assert doubts(log) == ["time_format_unsure"]
    minutes = [f"{30 + row // 3}:{row % 3 * 20:02}" for row in range(60)]
    assert_true(written(times=minutes).read())


def test_minutes_and_seconds_with_a_fraction_are_understood() -> None:
    times = [f"{row // 3:02}:{row % 3 * 20:02}.0" for row in range(60)]
    assert_true(written(times=times).read())


def test_times_with_and_without_an_offset_are_a_doubt() -> None:
    times = moments("%Y-%m-%dT%H:%M:%SZ")
    times[40:] = [time.rstrip("Z") for time in times[40:]]
    assert doubts(written(times=times).read()) == ["time_zone_mixed"]


def test_offsets_that_change_with_summer_time_leave_no_step() -> None:
    times = moments("%Y-%m-%dT%H:%M:%S+02:00", datetime(2026, 10, 25, 2, 50, tzinfo=UTC))
    times[30:] = moments("%Y-%m-%dT%H:%M:%S+01:00", datetime(2026, 10, 25, 1, 50, tzinfo=UTC))[30:]
    log = written(times=times).read()
    assert_true(log)
    assert log.repairs == ()


def test_a_row_without_a_time_is_left_out_and_said() -> None:
    times = moments("%Y-%m-%dT%H:%M:%S")
    times[20] = "####"
    times[21] = ""
    log = written(times=times).read()
    assert said(log, "unreadable_times").startswith("2 rows were left out")
    assert log.time_s.size == 58


def test_a_column_without_times_is_refused_with_an_example() -> None:
    with pytest.raises(InputRefused) as caught:
        written(times=["soon"] * 60).read()
    [(path, message)] = caught.value.problems
    assert path == "columns.time_s"
    assert "'soon'" in message


@pytest.mark.parametrize("shape", ["%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S"])
def test_a_date_and_its_time_stay_together_where_spaces_part_the_fields(shape: str) -> None:
    assert_true(written(times=moments(shape), form=Form(delimiter="  ")).read())


def test_a_time_next_to_nothing_is_zero_and_times_rise_all_the_same() -> None:
    times = ["-20", "0", "1e-320", *(f"{20 * row}" for row in range(1, 58))]
    log = written(times=times).read()
    assert (np.diff(log.time_s) > 0.0).all()
