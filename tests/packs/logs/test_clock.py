from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import (
    Written,
    assert_true,
    codes,
    doubts,
    said,
    true_rows,
    written,
)


def wall_clock(start: datetime, seconds: list[float]) -> list[str]:
    return [f"{start + timedelta(seconds=second):%Y-%m-%d %H:%M:%S}" for second in seconds]


def timed(seconds: list[float]) -> Written:
    return written(times=[f"{second:g}" for second in seconds])


def test_rows_that_stand_last_first_are_turned_round() -> None:
    log_text = written()
    log_text.fields.reverse()
    log = log_text.read()
    assert_true(log)
    assert codes(log) == ["reversed_rows"]


def test_times_of_day_that_stand_last_first_pass_midnight_all_the_same() -> None:
    start = datetime(2026, 3, 3, 23, 50, tzinfo=UTC)
    times = [f"{start + timedelta(seconds=second):%H:%M:%S}" for second in true_rows().time_s]
    log_text = written(times=times)
    log_text.fields.reverse()
    assert_true(log_text.read())


def test_repeated_rows_are_left_out_and_counted() -> None:
    log_text = written()
    log_text.fields[7:7] = [log_text.fields[6]] * 2
    log_text.fields.append(log_text.fields[-1])
    log = log_text.read()
    assert_true(log)
    assert said(log, "repeated_rows") == "3 repeated rows were left out."


def test_a_block_that_was_sent_again_is_left_out() -> None:
    log_text = written()
    log_text.fields[40:40] = log_text.fields[30:40]
    log = log_text.read()
    assert_true(log)
    assert codes(log) == ["repeated_rows"]


def test_of_rows_with_one_time_and_other_values_the_first_is_kept() -> None:
    log_text = written()
    log_text.fields.insert(22, [log_text.fields[21][0], *log_text.fields[25][1:]])
    log = log_text.read()
    assert_true(log)
    assert said(log, "same_time_rows").startswith("1 row was left out")


def test_times_that_are_too_coarse_are_a_doubt() -> None:
    log = timed([20.0 * (row // 4) for row in range(60)]).read()
    assert doubts(log) == ["same_time_rows"]


def test_rows_that_changed_places_are_sorted() -> None:
    log_text = written()
    log_text.fields[10], log_text.fields[11] = log_text.fields[11], log_text.fields[10]
    log = log_text.read()
    assert_true(log)
    assert codes(log) == ["rows_out_of_order"]


def test_parts_of_a_dated_log_in_the_wrong_order_are_sorted() -> None:
    log_text = written(
        times=wall_clock(datetime(2026, 3, 3, 8, tzinfo=UTC), true_rows().time_s.tolist())
    )
    log_text.fields[:] = [*log_text.fields[35:], *log_text.fields[:35]]
    log = log_text.read()
    assert_true(log)
    assert codes(log) == ["rows_out_of_order"]


def test_a_clock_that_steps_back_is_joined_by_the_usual_step_and_said_with_its_size() -> None:
    seconds = true_rows().time_s.copy()
    seconds[40:] -= 67.0
    log = timed(seconds.tolist()).read()
    assert_true(log)
    assert codes(log) == ["clock_step_back"]
    assert "by 67 s" in said(log, "clock_step_back")


def test_several_steps_back_are_all_joined() -> None:
    seconds = true_rows().time_s.copy()
    seconds[10:] -= 67.0
    seconds[40:] -= 150.0
    log = timed(seconds.tolist()).read()
    assert_true(log)
    assert "2 times, by 150 s, 67 s" in said(log, "clock_step_back")


def test_a_step_back_across_a_jump_of_the_current_is_a_doubt() -> None:
    seconds = true_rows().time_s.copy()
    seconds[30:] -= 67.0
    log = timed(seconds.tolist()).read()
    assert doubts(log) == ["clock_step_back_unsure"]
    assert (np.diff(log.time_s) > 0.0).all()


def test_single_stray_times_are_left_out() -> None:
    seconds = true_rows().time_s.copy()
    seconds[20], seconds[50] = 0.0, 9e6
    log = timed(seconds.tolist()).read()
    assert said(log, "stray_times").startswith("2 rows were left out")
    assert log.time_s.size == 58
    assert log.time_s[-1] == true_rows().time_s[-1]


def test_a_clock_put_back_in_autumn_is_moved_on() -> None:
    seconds = true_rows().time_s.copy()
    seconds[30:] -= 3600.0
    log = written(
        times=wall_clock(datetime(2026, 10, 25, 2, 50, tzinfo=UTC), seconds.tolist())
    ).read()
    assert_true(log)
    assert "one hour" in said(log, "clock_step_back")


def test_a_clock_put_forward_in_spring_is_a_doubt() -> None:
    seconds = true_rows().time_s.copy()
    seconds[30:] += 3600.0
    start = datetime(2026, 3, 29, 1, 50, tzinfo=UTC)
    assert doubts(written(times=wall_clock(start, seconds.tolist())).read()) == [
        "clock_change_unsure"
    ]
    other_day = datetime(2026, 3, 30, 1, 50, tzinfo=UTC)
    log = written(times=wall_clock(other_day, seconds.tolist())).read()
    assert (doubts(log), log.gaps_s) == ([], (3620.0,))


def test_pauses_longer_than_five_usual_steps_are_reported() -> None:
    seconds = true_rows().time_s.copy()
    seconds[30:] += 240.0
    seconds[50:] += 70.0
    log = timed(seconds.tolist()).read()
    assert log.gaps_s == (260.0,)
    assert said(log, "gap") == "1 pause in the log, the longest 260 s."


def test_a_log_that_is_slow_at_rest_and_fast_in_the_drive_has_no_pause() -> None:
    seconds = np.cumsum(np.where(np.arange(60) < 20, 60.0, 1.0))
    log = timed(seconds.tolist()).read()
    assert (log.gaps_s, log.repairs) == ((), ())


def test_one_second_and_irregular_sampling_are_taken_as_they_are() -> None:
    assert_true(written(true_rows(step_s=1.0)).read(), true_rows(step_s=1.0))
    seconds = np.cumsum(np.tile([0.9, 1.3, 2.0], 20))
    log = timed(seconds.tolist()).read()
    np.testing.assert_allclose(log.time_s, seconds - seconds[0])
    assert log.repairs == ()


def test_a_log_of_a_single_moment_is_refused() -> None:
    with pytest.raises(InputRefused) as caught:
        timed([5.0] * 60).read()
    assert [path for path, _ in caught.value.problems] == ["columns.time_s"]


def test_a_clock_that_steps_back_all_the_time_is_a_doubt() -> None:
    log = timed([20.0 * (row % 2) + row for row in range(60)]).read()
    assert doubts(log) == ["clock_step_back_unsure"]
    assert (np.diff(log.time_s) > 0.0).all()


def test_a_jump_of_weeks_is_a_doubt() -> None:
    seconds = true_rows().time_s.copy()
    seconds[30:] += 30 * 86_400.0
    log = timed(seconds.tolist()).read()
    assert doubts(log) == ["clock_jump"]
    assert "30 days" in said(log, "clock_jump")
