import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from packs import curves
from packs.definition_pack import CURVES
from packs.physics.instrument import CalculationRefused
from packs.physics.ocv import (
    CHEMISTRY_OF,
    Curve,
    curve_named,
    ocv_v,
    slope_v_per_percent,
    soc_percent,
)

ALL = [curve_named(name) for name in CHEMISTRY_OF]
each_curve = pytest.mark.parametrize("curve", ALL, ids=lambda curve: curve.name)


def test_every_curve_a_definition_may_name_is_there_with_its_chemistry() -> None:
    named = {name: chemistry for chemistry, names in CURVES.items() for name in names}
    assert dict(CHEMISTRY_OF) == named


@each_curve
def test_a_curve_rises_strictly_from_empty_to_full_and_names_its_source(curve: Curve) -> None:
    assert curve.soc_percent.tolist() == list(range(101))
    assert np.all(np.diff(curve.ocv_v) > 0.0)
    assert (curve.lowest_v, curve.highest_v) == (curve.ocv_v[0], curve.ocv_v[-1])
    assert curve.source


@each_curve
@given(soc=st.floats(min_value=0.0, max_value=100.0))
def test_there_and_back_is_the_same_state_of_charge(curve: Curve, soc: float) -> None:
    assert soc_percent(curve, ocv_v(curve, soc)) == pytest.approx(soc, abs=1e-6)


@each_curve
def test_outside_the_curve_there_is_no_figure(curve: Curve) -> None:
    past = [curve.lowest_v - 1e-6, curve.highest_v + 1e-6]
    assert np.isnan(soc_percent(curve, past)).all()
    assert np.isnan(ocv_v(curve, [-1e-6, 100.000001])).all()
    assert np.isnan(slope_v_per_percent(curve, [-1e-6, 100.000001])).all()


@each_curve
def test_the_slope_is_positive_everywhere_and_adds_up_to_the_whole_rise(curve: Curve) -> None:
    soc = np.linspace(0.0, 100.0, 20_001)
    slope = slope_v_per_percent(curve, soc)
    assert np.all(slope > 0.0)
    whole_v = float(np.trapezoid(slope, soc))
    # Half a percent at either end counts once more or less than the middle does.
    allowed_v = 1.1 * float(curve.ocv_v[2] - curve.ocv_v[0])
    assert whole_v == pytest.approx(curve.highest_v - curve.lowest_v, abs=allowed_v)


def test_iron_phosphate_is_flat_where_nickel_is_steep() -> None:
    iron, nickel = curve_named("lfp_graphite"), curve_named("nca_graphite")
    assert slope_v_per_percent(iron, 50.0) < 0.0005
    assert slope_v_per_percent(nickel, 50.0) > 0.008


def test_arrays_keep_their_shape() -> None:
    assert soc_percent(ALL[0], np.full((2, 3), 3.7)).shape == (2, 3)


def test_blends_are_trusted_less_and_only_iron_phosphate_rests_on_two_branches() -> None:
    trusts = {curve.chemistry: curve.trust_v for curve in ALL}
    assert trusts == {"nmc": 0.030, "nca": 0.030, "lfp": 0.030, "lmo_blend": 0.060}
    assert {curve.chemistry for curve in ALL if curve.hysteresis_v > 0.0} == {"lfp"}


def test_an_unknown_curve_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(CalculationRefused, match="nmc532_graphite") as refused:
        curve_named("lead")
    assert refused.value.path == "curve"


def test_a_curve_is_read_once_and_nobody_writes_into_it() -> None:
    assert curves.curve_named("lfp_graphite") is curve_named("lfp_graphite")
    with pytest.raises(ValueError, match="read-only"):
        curve_named("lfp_graphite").ocv_v[0] = 0.0
