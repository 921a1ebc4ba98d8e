"""Torque, pressure and distance are shown as the shop reads them; everything else stays."""

import pytest

from workshop import figures_text, units
from workshop.units import Units

FOREIGN = Units(torque="ftlb", pressure="psi", distance="mi")


def plain(text: str) -> str:
    return text.replace(figures_text.SPACE, " ")


def test_without_a_choice_everything_is_shown_as_recorded() -> None:
    assert plain(figures_text.quantity(135, "Nm")) == "135 N·m"
    assert plain(figures_text.in_both(135, "Nm")) == "135 N·m"
    assert units.sentence("{got_nm:g} Nm") == "{got_nm:g} Nm"
    assert units.in_text("60 Nm ± 15 %") == "60 Nm ± 15 %"


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (135, "Nm", "99.6 ft·lb"),
        (135, "N·m", "99.6 ft·lb"),
        (3000, "Pa", "0.435 psi"),
        (150, "kPa", "21.8 psi"),
        (1000, "km", "621 mi"),
        (400, "V", "400 V"),
        (2.5e-5, "Pa·m³/s", "25 µPa·m³/s"),
    ],
)
def test_figures_follow_the_shop(value: float, unit: str, shown: str) -> None:
    with units.use(FOREIGN):
        assert plain(figures_text.quantity(value, unit)) == shown


def test_an_interval_is_converted_at_both_ends() -> None:
    with units.use(Units(pressure="mbar")):
        assert plain(figures_text.span(1500, 2500, "Pa")) == "15 to 25 mbar"


def test_a_sentence_is_converted_in_figures_and_words() -> None:
    text = "stage {stage}: {got_nm:g} Nm instead of {low_nm:g} to {high_nm:.1f} Nm"
    params = {"stage": 2, "got_nm": 135.5818, "low_nm": 100.0, "high_nm": 120}
    with units.use(FOREIGN):
        said = units.sentence(text).format(**units.fields(params))
    assert said == "stage 2: 100 ft·lb instead of 73.76 to 88.51 ft·lb"


def test_a_range_that_names_its_unit_is_converted_whole() -> None:
    with units.use(FOREIGN):
        found = units.fields({"typed": "5000", "low": 0, "high": 2000, "unit": "km"})
    assert found == {"typed": 3107.0, "low": 0.0, "high": 1243.0, "unit": "mi"}


def test_what_was_typed_and_is_no_number_is_left_alone() -> None:
    with units.use(FOREIGN):
        assert units.fields({"typed": "12a", "unit": "km", "why": ""})["typed"] == "12a"


def test_a_choice_ends_with_its_block() -> None:
    with units.use(FOREIGN):
        assert units.shown_unit("km") == "mi"
    assert units.shown_unit("km") == "km"


def test_a_heading_is_converted_with_its_own_tolerance_left() -> None:
    with units.use(FOREIGN):
        assert units.in_text("crosswise: 60 Nm ± 15 %") == "crosswise: 44.25 ft·lb ± 15 %"
        assert units.in_text("300 Pa·m³/s") == "300 Pa·m³/s"
