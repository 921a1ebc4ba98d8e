"""A tenth of the broken inputs; all of them are in tests/bench/test_mutated_inputs.py."""

import pytest

from tests.packs.mutated_inputs import CASES, faults_of


def test_there_are_enough_of_every_calculation() -> None:
    assert sum(CASES.values()) >= 10_000
    assert min(CASES.values()) >= 500


@pytest.mark.parametrize("example", CASES)
def test_broken_input_gets_errors_with_their_places_or_a_sound_result(example: str) -> None:
    assert faults_of(example, range(0, CASES[example], 10)) == []
