import pytest

from workshop.typed_numbers import read_number


@pytest.mark.parametrize(
    ("typed", "number"), [("0", 0), ("0,5", 0.5), (" 12.25 ", 12.25), ("185", 185)]
)
def test_one_separator_is_always_decimal(typed: str, number: float) -> None:
    assert read_number(typed) == number


def test_prefixes_are_taken_for_ohm_only() -> None:
    assert read_number("1,5 M", is_ohm=True) == 1_500_000
    with pytest.raises(ValueError, match="10 k"):
        read_number("10 k")


@pytest.mark.parametrize(
    "typed",
    ["", "-1", "1.000,5", "1 000", "1e5", "nan", "inf", "5m", "٤٨", "1" * 30, "5\x00", "0x1"],
)
def test_nothing_is_guessed(typed: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 - the message is what was typed
        read_number(typed, is_ohm=True)
