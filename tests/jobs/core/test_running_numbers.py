"""Ranges of running numbers: what is missing and what is whole, against counting one by one."""

from hypothesis import given
from hypothesis import strategies as st

from jobs.core.running_numbers import holds, missing, numbers_in, whole_up_to

NUMBERS = st.sets(st.integers(1, 40))
RANGES = st.lists(
    st.tuples(st.integers(1, 40), st.integers(0, 6)).map(lambda pair: (pair[0], sum(pair))),
    max_size=4,
)


@given(st.integers(0, 10), st.integers(0, 45), NUMBERS, RANGES)
def test_what_is_missing_is_what_counting_finds(
    whole: int, made: int, there: set[int], aside: list[tuple[int, int]]
) -> None:
    counted = [
        each
        for each in range(whole + 1, made + 1)
        if each not in there and not any(first <= each <= last for first, last in aside)
    ]
    found = missing(whole, made, {each for each in there if each > whole}, aside)
    assert [each for first, last in found for each in range(first, last + 1)] == counted
    assert numbers_in(found) == len(counted)
    assert all(holds(found, each) for each in counted)


@given(st.integers(0, 10), NUMBERS, RANGES)
def test_whole_is_up_to_the_first_that_is_missing(
    whole: int, there: set[int], aside: list[tuple[int, int]]
) -> None:
    expected = whole
    while expected + 1 in there or holds(aside, expected + 1):
        expected += 1
    assert whole_up_to(whole, there, aside) == expected


def test_a_count_beyond_all_bounds_takes_no_time() -> None:
    made = 2**53 - 1
    assert missing(3, made, {5}) == ((4, 4), (6, made))
    assert whole_up_to(3, {5}, [(4, 4), (6, made)]) == made
