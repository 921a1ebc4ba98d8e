"""Every broken input there is: errors with their places, or a sound result, in bounded time."""

import pytest

from tests.packs.mutated_inputs import CASES, faults_of


@pytest.mark.bench
@pytest.mark.parametrize("example", CASES)
def test_broken_input_gets_errors_with_their_places_or_a_sound_result(example: str) -> None:
    assert faults_of(example, range(CASES[example])) == []
