"""What two tests of a spare say of each other."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.spare_tests import SpareTest, compared, last_two, read_test

FIGURE = st.none() | st.floats(min_value=1e-3, max_value=1e12)
TESTS = st.builds(
    SpareTest,
    capacity_ah=FIGURE,
    resistance_mohm=FIGURE,
    cell_v=FIGURE,
    tested_on=st.none() | st.dates(),
    insulation_ohm=FIGURE,
    insulation_comparator=st.sampled_from("=>"),
    insulation_test_v=FIGURE,
    rest_h=FIGURE,
)


def insulation(ohm: float, comparator: str = "=") -> SpareTest:
    return SpareTest(insulation_ohm=ohm, insulation_comparator=comparator)


@pytest.mark.parametrize(
    ("before", "after", "words", "change_percent"),
    [
        (SpareTest(capacity_ah=112.0), SpareTest(capacity_ah=109.2), "lower", -2.5),
        (SpareTest(resistance_mohm=4.0), SpareTest(resistance_mohm=5.0), "higher", 25.0),
        (SpareTest(cell_v=3.7), SpareTest(cell_v=3.7), "same", 0.0),
        (insulation(5.5e8, ">"), insulation(5.5e8, ">"), "open", None),
        (insulation(5.5e8, ">"), insulation(3e8), "lower", None),
        (insulation(5.5e8, ">"), insulation(9e8), "open", None),
        (insulation(3e8), insulation(5.5e8, ">"), "higher", None),
        (insulation(9e8), insulation(5.5e8, ">"), "open", None),
    ],
)
def test_a_later_value_is_lower_higher_the_same_or_open(
    before: SpareTest, after: SpareTest, words: str, change_percent: float | None
) -> None:
    [line] = compared(before, after)
    assert line.words == words
    assert line.change_percent == (
        None if change_percent is None else pytest.approx(change_percent)
    )
    assert line.size_percent == (None if change_percent is None else abs(change_percent))


def test_what_only_one_test_measured_is_not_compared() -> None:
    both = compared(SpareTest(capacity_ah=112.0, cell_v=3.7), SpareTest(cell_v=3.6))
    assert [line.name for line in both] == ["cell_v"]


def test_the_last_two_tests_are_found_by_their_day_not_by_when_they_were_entered() -> None:
    early = SpareTest(capacity_ah=115.0, tested_on=date(2026, 1, 5))
    middle = SpareTest(capacity_ah=113.0, tested_on=date(2026, 2, 5))
    late = SpareTest(capacity_ah=112.0, tested_on=date(2026, 2, 20))
    assert last_two([late, SpareTest(), early, middle]) == (middle, late)
    assert last_two([late, SpareTest()]) is None


@given(TESTS)
def test_a_test_is_read_as_it_was_written(test: SpareTest) -> None:
    known = read_test(test.as_json())
    assert known.as_json() == test.as_json()
    assert known.measured == test.measured
