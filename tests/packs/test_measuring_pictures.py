"""Pictures of measuring: they hold what they show in words, and keep inside their frame."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.decay_strip import decay_strip, leak_line
from packs.physics.leak import PressureSample
from packs.picture import Disc, Label, Line, Picture, Rect
from packs.string_line import LeakBar, PoleRing, string_line
from tests.builders import a_pack
from workshop import units


def inside(picture: Picture) -> bool:
    """Tell whether every mark lies on the picture; labels by their foot."""
    for shape in picture.shapes:
        match shape:
            case Line():
                places = [(shape.x1, shape.y1), (shape.x2, shape.y2)]
            case Rect():
                ends = (shape.x + shape.width, shape.y + shape.height)
                places = [(shape.x, shape.y), ends]
            case Disc() | Label():
                places = [(shape.x, shape.y)]
            case _:
                places = list(shape.points)
        for x_mm, y_mm in places:
            if not (-0.5 <= x_mm <= picture.width_mm + 0.5 and -0.5 <= y_mm <= picture.height_mm):
                return False
    return True


def test_the_string_line_has_a_ring_for_each_pole_and_a_band_for_the_leak() -> None:
    pack = a_pack()
    rings = [PoleRing(cells=0.0, volts=-12.0, name="M1 negative", side=1)]
    rings.append(PoleRing(cells=float(pack.cells_total), volts=31.5, name="last", side=-1))
    leak = LeakBar(cells=9.0, low_cells=7.5, high_cells=11.0)
    drawn = string_line(pack, rings=rings, leaks=[leak], links=["M1"], string_v=300.0)
    assert sum(isinstance(each, Disc) and each.form == "ring" for each in drawn.shapes) == len(
        rings
    )
    assert "M1 negative -12 V" in drawn.description
    assert "leak 9.0 cells from negative, 7.5 to 11.0" in drawn.description
    assert any(isinstance(each, Label) and "M1" in each.text for each in drawn.shapes)
    assert inside(drawn)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 4), st.floats(-400, 400)), max_size=6))
def test_whatever_was_read_stays_on_the_string_line(
    read: list[tuple[int, float]],
) -> None:
    pack = a_pack()
    borders = [0, *(pack.cells_before(module.name) for module in pack.modules[1:])]
    places = {borders[at % len(borders)]: volts for at, volts in read}
    rings = [PoleRing(cells=float(c), volts=v, name="pole") for c, v in places.items()]
    assert inside(string_line(pack, rings=rings))


def test_the_decay_strip_is_read_in_the_unit_of_the_shop() -> None:
    samples = [
        PressureSample(t_s=0.0, gauge_pa=3000.0, temp_c=20.0),
        PressureSample(t_s=300.0, gauge_pa=2500.0, temp_c=20.0),
    ]
    with units.use(units.Units(pressure="mbar")):
        drawn = decay_strip(samples)
    texts = [each.text for each in drawn.shapes if isinstance(each, Label)]
    assert {"temperature 0 mbar", "not explained 5 mbar", "0 mbar", "5 mbar"} <= set(texts)
    assert "pressure lost 5 mbar, of this explained by temperature 0 mbar" in drawn.description
    assert "Pa" not in drawn.description


@pytest.mark.parametrize("warm_c", [-1.5, 0.0, 1.5])
def test_the_strip_splits_what_was_lost_into_what_temperature_explains_and_the_rest(
    warm_c: float,
) -> None:
    samples = [
        PressureSample(t_s=60.0 * n, gauge_pa=3000.0 - 20.0 * n, temp_c=20.0 + warm_c * n / 10,
                       barometer_pa=101_325.0)
        for n in range(11)
    ]  # fmt: skip
    drawn = decay_strip(samples)
    explained = 0.0 - 104_325.0 * warm_c / 293.15
    assert f"pressure lost 200 Pa, of this explained by temperature {explained:.0f} Pa" in (
        drawn.description
    )
    assert f"gas from 20.0 to {20 + warm_c:.1f}" in drawn.description
    fills = {each.fill for each in drawn.shapes if isinstance(each, Rect)}
    assert fills >= {"petrol"}
    assert inside(drawn)


@settings(max_examples=40, deadline=None)
@given(st.floats(-80, 200), st.floats(0, 60), st.floats(0.5, 60))
def test_the_leak_stands_against_its_limit_whatever_its_size(
    leak: float, half: float, limit: float
) -> None:
    drawn = leak_line(leak, leak - half, leak + half, limit)
    assert inside(drawn)
    assert f"limit {limit:.3g}" in drawn.description


def test_two_samples_are_enough_for_a_strip() -> None:
    two = [PressureSample(t_s=t, gauge_pa=3000.0, temp_c=20.0) for t in (0.0, 30.0)]
    assert inside(decay_strip(two))
