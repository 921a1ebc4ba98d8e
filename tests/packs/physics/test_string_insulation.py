"""Insulation of one section by the best method its readings allow."""

from hypothesis import given
from hypothesis import strategies as st

from packs.physics.circuit import PathToEnclosure, load_resistance, section_reading
from packs.physics.instrument import Meter
from packs.physics.string_insulation import PoleVolts, SectionReadings, section_insulation

METER = Meter(input_ohm=1.0e7, accuracy_percent=0.2)
CELL_V, SHUNT_OHM = 3.6, 5.0e5


def pole(cells: int, leaks: list[PathToEnclosure], *, shunt: bool = True) -> PoleVolts:
    """Read a pole of a section that starts at pack negative."""
    node_v = cells * CELL_V
    plain = section_reading(node_v, leaks, load_resistance(METER.input_ohm))
    shunted = section_reading(node_v, leaks, load_resistance(METER.input_ohm, SHUNT_OHM))
    return PoleVolts(cells=cells, volts=plain, shunted_v=shunted if shunt else None)


def readings(*poles: PoleVolts, whole_cells: int | None = None) -> SectionReadings:
    return SectionReadings(
        poles=poles, meter=METER, shunt_ohm=SHUNT_OHM, cell_v=CELL_V, whole_cells=whole_cells
    )


LEAKS = st.tuples(st.floats(4.0, 5.2), st.floats(0.0, 90.0)).map(
    lambda pair: [PathToEnclosure(potential_v=pair[1], resistance_ohm=10.0 ** pair[0])]
)


@given(LEAKS)
def test_one_pole_with_and_without_shunt_holds_the_true_resistance(
    leaks: list[PathToEnclosure],
) -> None:
    found = section_insulation(readings(pole(42, leaks)))
    assert found.method == "shunt"
    assert found.insulation is not None
    high = found.insulation.total_ohm_high
    assert found.insulation.total_ohm_low <= leaks[0].resistance_ohm
    assert high is None or leaks[0].resistance_ohm <= high


@given(LEAKS)
def test_two_figures_of_the_same_leak_do_not_differ(leaks: list[PathToEnclosure]) -> None:
    found = section_insulation(readings(pole(42, leaks), pole(0, leaks)))
    assert not found.differ
    assert found.insulation is not None
    assert not found.insulation.contradictory


def test_a_whole_string_is_read_by_the_voltmeter_method() -> None:
    leaks = [PathToEnclosure(potential_v=100.0, resistance_ohm=8.0e4)]
    found = section_insulation(readings(pole(0, leaks), pole(84, leaks), whole_cells=84))
    assert found.method == "voltmeter"
    assert found.standard_ohm is not None
    assert found.standard_ohm > 8.0e4


def test_a_whole_string_may_be_shunted_at_its_negative_end() -> None:
    leaks = [PathToEnclosure(potential_v=200.0, resistance_ohm=8.0e4)]
    ends = (pole(0, leaks), pole(84, leaks, shunt=False))
    found = section_insulation(readings(*ends, whole_cells=84))
    assert found.method == "voltmeter"
    assert found.insulation is not None
    assert found.insulation.total_ohm_low < 8.0e4
    assert not found.insulation.contradictory


def test_a_whole_string_read_in_its_middle_falls_back_to_the_shunt() -> None:
    leaks = [PathToEnclosure(potential_v=200.0, resistance_ohm=8.0e4)]
    found = section_insulation(readings(pole(0, leaks), pole(42, leaks), whole_cells=84))
    assert found.method == "shunt"


def test_a_whole_string_without_a_shunted_reading_is_read_by_its_poles() -> None:
    leaks = [PathToEnclosure(potential_v=200.0, resistance_ohm=8.0e4)]
    ends = (pole(0, leaks, shunt=False), pole(84, leaks, shunt=False))
    assert section_insulation(readings(*ends, whole_cells=84)).method == "two_poles"


def test_zero_at_the_only_pole_excludes_nothing() -> None:
    found = section_insulation(readings(PoleVolts(cells=42, volts=0.01)))
    assert found.method == "near_zero"
    assert found.insulation is not None
    assert found.insulation.near_zero


def test_one_reading_without_the_shunt_says_nothing() -> None:
    found = section_insulation(readings(PoleVolts(cells=42, volts=50.0)))
    assert (found.method, found.insulation) == ("none", None)


def test_nothing_read_says_nothing() -> None:
    assert section_insulation(readings()).insulation is None


def test_readings_of_the_wrong_sign_contradict() -> None:
    poles = (PoleVolts(cells=0, volts=60.0), PoleVolts(cells=84, volts=-60.0, shunted_v=-20.0))
    found = section_insulation(readings(*poles, whole_cells=84))
    assert found.insulation is not None
    assert found.insulation.contradictory


def test_a_shunted_reading_above_the_plain_one_contradicts() -> None:
    found = section_insulation(readings(PoleVolts(cells=42, volts=50.0, shunted_v=60.0)))
    assert found.method == "shunt"
    assert found.insulation is not None
    assert found.insulation.contradictory


def test_poles_further_apart_than_the_cells_allow_contradict() -> None:
    poles = (PoleVolts(cells=0, volts=-200.0), PoleVolts(cells=42, volts=200.0))
    found = section_insulation(readings(*poles))
    assert found.method == "two_poles"
    assert found.insulation is not None
    assert found.insulation.contradictory


def test_figures_further_apart_than_allowed_differ() -> None:
    leaks = [PathToEnclosure(potential_v=50.0, resistance_ohm=6.0e4)]
    poles = (pole(42, leaks), PoleVolts(cells=0, volts=-20.0))
    assert section_insulation(readings(*poles)).differ
    assert not section_insulation(readings(*poles), differ_percent=1e6).differ
