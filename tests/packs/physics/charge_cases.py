"""Cases of charge that several test files build on."""

from typing import Any

from hypothesis import strategies as st

from packs.physics.charge import ChargeCase, ChargeMethod, ChargeResult, charge
from packs.physics.ocv import CHEMISTRY_OF, curve_named, ocv_v

SUPPLY = ChargeMethod(kind="supply", current_a=5.0)
RESISTOR = ChargeMethod(kind="resistor", ohm=10.0)
SLOPED = ("nmc532_graphite", "nmc811_graphite_siox", "nca_graphite", "nco_graphite_kokam")


def a_case(spare_cell_v: float, target_cell_v: float, **others: Any) -> ChargeCase:
    fields = {
        "curve": "nmc532_graphite",
        "cells": 12,
        "capacity_ah": 60.0,
        "method": SUPPLY,
        **others,
    }
    return ChargeCase(spare_cell_v=spare_cell_v, target_cell_v=target_cell_v, **fields)


def charged(spare_cell_v: float, target_cell_v: float, **others: Any) -> ChargeResult:
    return charge(a_case(spare_cell_v, target_cell_v, **others))


def codes(result: ChargeResult) -> set[str]:
    return {message.code for message in (*result.advice, *result.warnings)}


@st.composite
def cases(draw: st.DrawFn, names: tuple[str, ...] = tuple(CHEMISTRY_OF)) -> ChargeCase:
    """Any spare and string on a curve, moved by a supply."""
    name = draw(st.sampled_from(names))
    percents = st.floats(min_value=0.0, max_value=100.0)
    volts = ocv_v(curve_named(name), [draw(percents), draw(percents)]).tolist()
    return a_case(
        *volts,
        curve=name,
        cells=draw(st.integers(min_value=1, max_value=200)),
        capacity_ah=draw(st.floats(min_value=0.5, max_value=500.0)),
        voltage_u_v=draw(st.floats(min_value=0.0, max_value=0.02)),
        module_resistance_ohm=draw(st.floats(min_value=0.0, max_value=0.1)),
        accept_mv_per_cell=draw(st.floats(min_value=0.1, max_value=50.0)),
        temperature_c=draw(st.floats(min_value=-20.0, max_value=60.0)),
        method=ChargeMethod(
            kind="supply", current_a=draw(st.floats(min_value=0.1, max_value=100.0))
        ),
    )
