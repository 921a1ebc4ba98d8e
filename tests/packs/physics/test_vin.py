import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs.physics.vin import VinResult, vin


def codes(result: VinResult) -> list[str]:
    return [warning.code for warning in result.warnings]


@pytest.mark.parametrize("text", ["1G4AH59H45G118341", "1J9RP1A36A1644345", "11111111111111111"])
def test_published_samples_match_their_check_digit(text: str) -> None:
    result = vin(text)
    assert (result.valid, result.check_digit, result.warnings) == (True, "matches", ())


def test_an_x_stands_for_ten() -> None:
    assert vin("1M8GDM9AXKP042788").check_digit == "matches"


def test_typing_habits_do_not_matter() -> None:
    assert vin(" 1g4ah59h-45g118341 ").valid


def test_a_wrong_check_digit_is_binding_in_north_america() -> None:
    result = vin("1G4AH59H55G118341")
    assert (result.valid, result.check_digit, codes(result)) == (False, "differs", ["check_digit"])


def test_a_wrong_check_digit_is_a_warning_elsewhere() -> None:
    result = vin("WXX00000512345678")
    assert (result.valid, result.check_digit) == (True, "differs")
    assert codes(result) == ["check_digit", "model_year"]


def test_a_filler_letter_in_position_nine_is_no_check_digit() -> None:
    result = vin("WXX000ZZZ12345678")
    assert (result.valid, result.check_digit) == (True, "not applicable")


@pytest.mark.parametrize(
    ("text", "american"), [("7FA00000512345678", True), ("7A100000512345678", False)]
)
def test_the_seventh_block_is_shared(text: str, *, american: bool) -> None:
    assert vin(text).valid is not american


def test_position_seven_settles_the_thirty_years() -> None:
    assert vin("1G4AH59H45G118341").model_year == 2005
    assert vin("1J9RP1A36A1644345").model_year == 2010


def test_elsewhere_the_year_stays_open_and_both_are_named() -> None:
    result = vin("WXX000ZZZC2345678")
    assert result.model_year is None
    assert "1982 or 2012" in result.warnings[0].text


@pytest.mark.parametrize("code", "0UZ")
def test_some_characters_are_no_year(code: str) -> None:
    result = vin(f"WXX000ZZZ{code}2345678")
    assert (result.model_year, codes(result)) == (None, ["model_year"])


@pytest.mark.parametrize("letter", "IOQ")
def test_letters_that_look_like_digits_are_refused(letter: str) -> None:
    result = vin(f"WXX000ZZZ1234567{letter}")
    assert (result.valid, result.check_digit, codes(result)) == (
        False,
        "not applicable",
        ["characters"],
    )


@pytest.mark.parametrize("text", ["WXX000ZZZ1234567", "WXX000ZZZ123456789", ""])
def test_another_length_is_refused(text: str) -> None:
    result = vin(text)
    assert (result.valid, codes(result)) == (False, ["length"])


def test_a_short_frame_number_is_recognised() -> None:
    assert codes(vin("AB12-004521")) == ["frame_number", "length"]


@given(st.text(max_size=20))
def test_any_text_gets_an_answer(text: str) -> None:
    result = vin(text)
    assert result.valid or result.warnings
    if result.valid:
        assert len(text) >= 17


@given(st.text("ABCDEFGHJKLMNPRSTUVWXYZ0123456789", min_size=17, max_size=17))
def test_changing_the_check_digit_always_shows_in_north_america(text: str) -> None:
    tried = [vin(f"1{text[1:8]}{digit}{text[9:]}") for digit in "0123456789X"]
    assert sum(result.valid for result in tried) == 1
