from dataclasses import replace

import numpy as np
import pytest

from packs.strict_json import InputRefused
from tests.packs.logs.small_logs import (
    COLUMNS,
    Form,
    Written,
    assert_true,
    codes,
    doubts,
    said,
    true_rows,
    with_cells,
    written,
)

CURRENT, FIRST_CELL, FIRST_SENSOR = 1, 2, 6


def changed(column: int, factor: float = 1.0, offset: float = 0.0, digits: int = 3) -> Written:
    log_text = written()
    for fields in log_text.fields:
        fields[column] = f"{float(fields[column]) * factor + offset:.{digits}f}"
    return log_text


def named(column: int, name: str, log_text: Written) -> Written:
    header = list(log_text.form.header)
    header[column] = name
    log_text.form = replace(log_text.form, header=tuple(header))
    return log_text


def test_millivolts_are_told_from_their_size_and_said_once() -> None:
    rows = true_rows()
    log = written(with_cells(rows, rows.cell_v * 1000.0)).read()
    assert_true(log)
    assert said(log, "millivolts") == "4 cell columns hold millivolts; divided by 1000."
    assert codes(log) == ["millivolts"]


def test_one_column_in_millivolts_is_read_but_a_doubt() -> None:
    log = changed(FIRST_CELL + 1, 1000.0).read()
    assert_true(log)
    assert (codes(log), doubts(log)) == (["millivolts"], ["mixed_units"])


def test_one_column_in_millivolts_that_says_so_is_no_doubt() -> None:
    log_text = named(FIRST_CELL + 1, "c2 [mV]", changed(FIRST_CELL + 1, 1000.0))
    log = log_text.read(columns=replace(COLUMNS, cell_v=("c1", "c2 [mV]", "c3", "c4")))
    assert_true(log)
    assert doubts(log) == []


def test_a_column_that_changes_its_unit_on_the_way_is_a_doubt() -> None:
    log_text = written()
    for fields in log_text.fields[30:]:
        fields[FIRST_CELL] = f"{float(fields[FIRST_CELL]) * 1000.0:.0f}"
    log = log_text.read()
    assert_true(log)
    assert doubts(log) == ["mixed_units"]


def test_microvolts_need_a_name_and_tenths_of_a_millivolt_are_a_doubt() -> None:
    header = ("time", "current", "c1 [µV]", "c2 [µV]", "c3 [µV]", "c4 [µV]", "t1", "t2")
    rows = true_rows()
    log_text = written(with_cells(rows, rows.cell_v * 1e6), form=Form(header=header))
    log = log_text.read(columns=replace(COLUMNS, cell_v=header[2:6]))
    assert_true(log)
    assert (codes(log), doubts(log)) == (["microvolts"], [])
    tenths = written(with_cells(rows, rows.cell_v * 1e4)).read()
    assert_true(tenths)
    assert doubts(tenths) == ["cell_unit_unsure"]


@pytest.mark.parametrize("code", ["0", "0.000", "5.0", "65535", "65.535", "6.5535", "-5", "32767"])
def test_codes_of_the_electronics_are_missing_and_said(code: str) -> None:
    log_text = written()
    log_text.fields[9][FIRST_CELL] = code
    log = log_text.read()
    assert said(log, "sensor_codes").startswith("1 cell reading is a code")
    assert np.isnan(log.cell_v[9, 0])
    assert int(np.isnan(log.cell_v).sum()) == 1


def test_a_weak_cell_that_really_falls_is_left_as_it_is() -> None:
    log_text = written()
    log_text.fields[50][FIRST_CELL] = "0.412"
    log_text.fields[51][FIRST_CELL] = "-0.300"
    log = log_text.read()
    assert log.cell_v[50:52, 0].tolist() == [0.412, -0.3]
    assert log.repairs == ()


@pytest.mark.parametrize("content", ["", "0", "65535", "n/a"])
def test_a_cell_without_any_voltage_is_a_doubt(content: str) -> None:
    log_text = written()
    for fields in log_text.fields:
        fields[FIRST_CELL + 2] = content
    log = log_text.read()
    assert doubts(log) == ["empty_column"]
    assert "c3" in said(log, "empty_column")


def test_a_cell_that_stands_still_while_others_move_is_said() -> None:
    log_text = written()
    for fields in log_text.fields:
        fields[FIRST_CELL + 2] = "3.512"
    log = log_text.read()
    assert "c3" in said(log, "stuck_column")
    assert doubts(log) == []


def test_without_any_voltage_the_columns_are_refused() -> None:
    log_text = written()
    for fields in log_text.fields:
        fields[FIRST_CELL:FIRST_SENSOR] = ["n/a"] * 4
    with pytest.raises(InputRefused) as caught:
        log_text.read()
    assert [path for path, _ in caught.value.problems] == ["columns.cell_v"]


def test_kelvin_is_told_from_its_size() -> None:
    log_text = changed(FIRST_SENSOR, 1.0, 273.15)
    log = log_text.read()
    assert_true(log)
    assert codes(log) == ["kelvin"]


def test_fahrenheit_needs_a_name() -> None:
    log_text = named(FIRST_SENSOR, "t1 [°F]", changed(FIRST_SENSOR, 1.8, 32.0))
    log = log_text.read(columns=replace(COLUMNS, temperature_c=("t1 [°F]", "t2")))
    assert_true(log)
    assert (codes(log), doubts(log)) == (["fahrenheit"], [])
    unnamed = changed(FIRST_SENSOR, 1.8, 32.0).read()
    assert doubts(unnamed) == ["temperature_unit_unsure"]


@pytest.mark.parametrize("code", ["-40", "215", "127", "-273.15", "65535"])
def test_codes_of_temperature_sensors_are_missing_and_said(code: str) -> None:
    log_text = written()
    log_text.fields[9][FIRST_SENSOR] = code
    log = log_text.read()
    assert said(log, "temperature_codes").startswith("1 reading is a code")
    assert np.isnan(log.temperature_c[9, 0])


def test_a_sensor_without_readings_and_missing_temperatures_are_said() -> None:
    log_text = written()
    for fields in log_text.fields:
        fields[FIRST_SENSOR] = ""
    log_text.fields[3][FIRST_SENSOR + 1] = "---"
    log = log_text.read()
    assert codes(log) == ["empty_temperature", "missing_temperatures"]
    assert "1 temperature is" in said(log, "missing_temperatures")


@pytest.mark.parametrize(("name", "factor"), [("current [mA]", 1e3), ("current_ka", 1e-3)])
def test_a_current_in_another_unit_that_says_so_is_turned_into_amperes(
    name: str, factor: float
) -> None:
    log_text = named(CURRENT, name, changed(CURRENT, factor, digits=7))
    log = log_text.read(columns=replace(COLUMNS, current_a=name))
    assert_true(log)
    assert doubts(log) == []
    assert len(log.repairs) == 1


def test_a_current_no_vehicle_carries_is_milliamperes() -> None:
    log = changed(CURRENT, 1000.0).read()
    assert_true(log)
    assert codes(log) == ["milliamperes"]


def test_a_current_that_is_merely_large_is_a_doubt() -> None:
    assert "current_unit_unsure" in doubts(changed(CURRENT, 100.0).read())


def test_a_current_that_does_not_fit_the_steps_of_the_voltages_is_a_doubt() -> None:
    log = written(replace(true_rows(), current_a=true_rows().current_a * 0.001)).read()
    assert doubts(log) == ["current_unit_suspect"]


def test_missing_and_coded_currents_are_said() -> None:
    log_text = written()
    log_text.fields[3][CURRENT] = ""
    log_text.fields[4][CURRENT] = "65535"
    log = log_text.read()
    assert codes(log) == ["current_codes", "missing_current"]
    assert np.isnan(log.current_a[3:5]).all()


def test_a_current_without_numbers_is_refused() -> None:
    log_text = written()
    for fields in log_text.fields:
        fields[CURRENT] = "n/a"
    with pytest.raises(InputRefused) as caught:
        log_text.read()
    assert [path for path, _ in caught.value.problems] == ["columns.current_a"]


def test_the_other_sign_is_turned_when_it_is_stated() -> None:
    log = changed(CURRENT, -1.0).read("discharge_positive")
    assert_true(log)
    assert log.doubts == ()


@pytest.mark.parametrize("sign", ["charge_positive", "discharge_positive"])
def test_a_sign_that_the_cells_contradict_is_a_doubt(sign: str) -> None:
    factor = -1.0 if sign == "charge_positive" else 1.0
    log = changed(CURRENT, factor).read(sign)
    assert doubts(log) == ["current_sign_suspect"]


@pytest.mark.parametrize(("current_a", "expected"), [(20.0, []), (-20.0, ["current_sign_suspect"])])
def test_without_steps_the_charge_tells_the_sign(current_a: float, expected: list[str]) -> None:
    rows = true_rows()
    rising = 3.5 + 0.002 * np.arange(60)[:, None] + np.zeros((60, 4))
    rows = replace(rows, current_a=np.full(60, current_a), cell_v=rising)
    assert doubts(written(rows).read()) == expected


def test_a_log_at_rest_says_nothing_of_the_sign() -> None:
    rows = true_rows()
    rows = replace(rows, current_a=np.zeros(60), cell_v=np.full((60, 4), 3.5))
    assert written(rows).read().doubts == ()
