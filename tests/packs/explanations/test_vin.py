import random

import pytest

from packs.explanations.vin import explained
from packs.physics.vin import ALPHABET, vin
from tests.packs.explanations.shown import assert_printable, line_of

CHARACTERS = "".join(sorted(ALPHABET))


def text_of_seed(seed: int) -> str:
    chance = random.Random(seed)  # noqa: S311
    length = chance.choice([17, 17, 17, 17, 16, 11])
    return "".join(chance.choice(CHARACTERS) for _ in range(length))


@pytest.mark.parametrize("seed", range(60))
def test_the_steps_lead_to_the_verdict(seed: int) -> None:
    text = text_of_seed(seed)
    result = vin(text)
    lines = explained({"text": text}, result)
    assert (lines[-1].value == "valid") is result.valid
    if len(text) == 17:
        written, expected = line_of(lines, "Check digit").numbers.split(" against ")
        if result.check_digit != "not applicable":
            assert (written == expected) is (result.check_digit == "matches")
        year = line_of(lines, "Model year").value
        assert result.model_year is None or year == str(result.model_year)
    assert_printable(lines)


def test_the_sum_of_the_check_digit_can_be_added_up() -> None:
    lines = explained({"text": "1J9RP1A36A1644345"}, vin("1J9RP1A36A1644345"))
    rows = {
        row[0]: row[1:] for row in map(str.split, line_of(lines, "Each ch").numbers.splitlines())
    }
    products = [int(each) for each in rows["product"]]
    assert [
        int(value) * int(weight)
        for value, weight in zip(rows["value"], rows["weight"], strict=True)
    ] == products
    total = line_of(lines, "Rest of").numbers.split()[0]
    assert sum(products) == int(total)


def test_a_number_with_wrong_letters_is_shown_as_such() -> None:
    lines = explained({"text": "io q-1"}, vin("io q-1"))
    assert "I O Q not allowed" in line_of(lines, "Length").numbers
