from datetime import timedelta

import pytest

from workshop import pins


@pytest.mark.parametrize(
    "pin", ["", "123", "123456789", "12a4", " 4826", "48 26", "٤٨٢٦", "48\x0026"]
)
def test_a_pin_is_four_to_eight_digits(pin: str) -> None:
    assert pins.fault_of(pin) == "pin_length"


@pytest.mark.parametrize(
    "pin", ["0000", "1234", "9876", "7890", "0987", "1212", "123123", "77777777", "48264826"]
)
def test_a_pin_that_is_guessed_first_is_refused(pin: str) -> None:
    assert pins.fault_of(pin) == "pin_trivial"


@pytest.mark.parametrize("pin", ["4826", "1243", "90210", "20260302", "1221"])
def test_an_ordinary_pin_is_taken(pin: str) -> None:
    assert pins.fault_of(pin) is None


def test_a_hash_fits_only_its_pin_and_its_pepper() -> None:
    stored = pins.hash_pin("4826", "pepper")
    assert "4826" not in stored
    assert pins.matches(stored, "4826", "pepper")
    assert not pins.matches(stored, "4827", "pepper")
    assert not pins.matches(stored, "4826", "another")


def test_nothing_stored_fits_no_pin() -> None:
    assert not pins.matches("", "4826", "pepper")
    assert not pins.matches("not a hash", "4826", "pepper")


def test_locks_grow_with_each_further_wrong_try() -> None:
    assert pins.lock_after(4) is None
    assert [pins.lock_after(n) for n in (5, 6, 7, 8)] == [
        timedelta(minutes=m) for m in (1, 5, 15, 15)
    ]
