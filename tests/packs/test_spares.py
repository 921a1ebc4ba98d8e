"""States of a spare and the moves between them."""

import pytest

from packs.spares import FITTED, MOVES, QUARANTINED, SCRAPPED, STATES, SpareTest


def test_every_state_has_its_moves_and_its_words() -> None:
    assert set(MOVES) == set(STATES)
    assert {state for after in MOVES.values() for state in after} <= set(STATES)


def test_nothing_follows_the_scrap() -> None:
    assert MOVES[SCRAPPED] == frozenset()


def test_what_was_fitted_comes_back_only_through_quarantine() -> None:
    assert MOVES[FITTED] == {QUARANTINED}


def test_only_what_was_reserved_is_fitted() -> None:
    assert [state for state, after in MOVES.items() if FITTED in after] == ["reserved"]


@pytest.mark.parametrize(
    ("test", "bound"),
    [
        (SpareTest(), False),
        (SpareTest(insulation_ohm=2e6), False),
        (SpareTest(insulation_ohm=5.5e8, insulation_comparator=">"), True),
    ],
)
def test_an_insulation_reading_knows_whether_it_is_a_bound(test: SpareTest, *, bound: bool) -> None:
    assert test.insulation_is_bound is bound
