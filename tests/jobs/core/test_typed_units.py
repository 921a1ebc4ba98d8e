"""A number typed in another unit than the record's comes back as it was typed."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.core.item import reading, series, table
from jobs.core.parsing import NOT_THIS_UNIT, parse
from jobs.core.reason import InputRefused
from jobs.core.snapshot import Clicked
from jobs.core.typed_units import TYPED_UNITS, from_record, in_record
from workshop import units

PAIRS = [(unit, typed) for unit, ways in TYPED_UNITS.items() for typed in ways]
TORQUE = table("x.torque", "Torque", unit="Nm", low=0, high=1000)
KM = reading("x.km", "Distance", unit="km", low=0, high=2000)
PA = series("x.rows", "Series", unit="Pa", low=-15000, high=20000)

six_digits = st.builds(
    lambda digits, places: Decimal(digits).scaleb(-places),
    st.integers(min_value=-999_999, max_value=999_999),
    st.integers(min_value=0, max_value=6),
)


@pytest.mark.parametrize(("unit", "typed"), PAIRS)
@given(number=six_digits)
def test_what_is_typed_with_six_digits_comes_back(unit: str, typed: str, number: Decimal) -> None:
    kept = in_record(number, typed, unit)
    assert from_record(kept, unit, typed) == number
    assert from_record(Decimal(format(kept, "f")), unit, typed) == number


@pytest.mark.parametrize(("unit", "typed"), PAIRS)
@given(number=six_digits)
def test_the_float_that_a_calculation_reads_is_off_by_rounding_alone(
    unit: str, typed: str, number: Decimal
) -> None:
    exact = float(number) * float(TYPED_UNITS[unit][typed])
    assert float(in_record(number, typed, unit)) == pytest.approx(exact, rel=1e-12, abs=1e-300)


def test_the_factors_are_those_by_definition() -> None:
    assert in_record(Decimal(1), "ftlb", "Nm") == Decimal("1.35581794833140")
    assert in_record(Decimal(1), "mi", "km") == Decimal("1.609344")
    assert in_record(Decimal(1), "psi", "Pa") == Decimal("6894.75729316836")
    assert in_record(Decimal("25.5"), "mbar", "kPa") == Decimal("2.55")


def test_screens_and_record_convert_alike() -> None:
    for unit, ways in units.FACTORS.items():
        for typed, factor in ways.items():
            assert factor == pytest.approx(float(TYPED_UNITS[unit][typed]), rel=1e-15)
    shown = {each for ways in units.FACTORS.values() for each in ways}
    assert {each for choices in units.CHOICES.values() for each in choices if each} == shown


def test_a_reading_says_in_which_unit_it_was_typed() -> None:
    assert parse(KM, {"typed": "12,5", "in": "mi"}) == {
        "number": "20.1168000",
        "unit": "km",
        "comparator": "=",
        "typed": "12,5",
        "typed_unit": "mi",
    }


def test_in_the_unit_of_the_record_the_bytes_are_as_ever() -> None:
    assert parse(KM, {"typed": "12.5", "in": "km"}) == parse(KM, "12.5")
    assert parse(TORQUE, {"in": "Nm", "rows": {"A": "9"}}) == {"A": "9"}


def test_a_torque_keeps_what_was_typed_beside_its_number() -> None:
    stored = parse(TORQUE, {"in": "ftlb", "rows": {"A": "100"}})
    assert stored == {"A": {"number": "135.581794833140", "typed": "100", "typed_unit": "ftlb"}}
    read = TORQUE.read(stored)["A"]
    assert read == pytest.approx(135.5818)
    assert not isinstance(read, Clicked)


def test_a_row_may_be_called_as_the_wrapping_is() -> None:
    assert parse(TORQUE, {"rows": "8", "in": "9", "A": "7"}) == {"rows": "8", "in": "9", "A": "7"}


def test_a_series_is_converted_in_its_reading_alone() -> None:
    rows = [["0", "30", "20.4", "101325"], ["60", "29.5", "20.4", "101325"]]
    stored = parse(PA, {"in": "mbar", "rows": rows})
    assert stored == [["0", "3000", "20.4", "101325"], ["60", "2950.0", "20.4", "101325"]]


@pytest.mark.parametrize(
    ("item", "raw"),
    [
        (KM, {"typed": "5", "in": "ftlb"}),
        (TORQUE, {"in": "psi", "rows": {"A": "5"}}),
        (PA, {"in": "mi", "rows": [["0", "1"], ["1", "2"]]}),
        (reading("x.v", "Voltage", unit="V", low=0, high=9), {"typed": "5", "in": "mV"}),
        (KM, {"typed": "5", "in": ["mi"]}),
    ],
)
def test_a_unit_of_another_kind_is_refused(item: object, raw: object) -> None:
    with pytest.raises(InputRefused) as refused:
        parse(item, raw)  # type: ignore[arg-type]
    assert refused.value.blocker.code == NOT_THIS_UNIT.code


def test_bounds_hold_in_every_unit() -> None:
    with pytest.raises(InputRefused):
        parse(KM, {"typed": "1300", "in": "mi"})
    assert parse(KM, {"typed": "1240", "in": "mi"})["number"] == "1995.586560"
