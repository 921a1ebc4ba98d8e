"""Wrong readings: found, accused and said what they probably were."""

from dataclasses import replace
from random import Random
from typing import Literal

import numpy as np
import pytest

from packs.physics.instrument import Meter
from packs.physics.localise import LocaliseCase, Module, Reading, localise
from packs.physics.localise_mistakes import slips_of
from packs.physics.posterior import MOST_READINGS
from packs.physics.simulate import (
    PackUnderTest,
    Probe,
    SimulatedLeak,
    SimulatedModule,
    meter_in_hand,
    meter_reading_v,
)
from packs.physics.string_frame import frame_of

NAMES = tuple(f"M{number}" for number in range(1, 11))
METER = Meter(input_ohm=1.0e7, accuracy_percent=0.3)
PACK = PackUnderTest(
    modules=tuple(SimulatedModule(name=name, cells_v=(3.7,) * 8) for name in NAMES),
    leaks=(SimulatedLeak(module="M3", position_cells=3.0, leak_ohm=4.0e5),),
    sound_ohm=6.0e7,
)
Pole = Literal["pos", "neg"]
SPOTS: tuple[tuple[str, Pole, tuple[str, ...], float | None], ...] = (
    ("M5", "pos", ("M5",), None),
    ("M5", "pos", ("M5",), 1.0e6),
    ("M6", "neg", ("M5",), None),
    ("M6", "neg", ("M5",), 1.0e6),
    ("M2", "pos", ("M2", "M5"), None),
    ("M3", "neg", ("M2", "M5"), None),
    ("M3", "pos", ("M2", "M3", "M5"), None),
    ("M1", "neg", ("M5",), 1.0e6),
)


def taken(spots: tuple[tuple[str, Pole, tuple[str, ...], float | None], ...]) -> list[Reading]:
    chance = Random(5)  # noqa: S311  (repeatable readings, not a secret)
    in_hand = meter_in_hand(METER, chance)
    readings = []
    for module, pole, open_after, shunt_ohm in spots:
        probe = Probe(module=module, pole=pole, open_after=open_after, shunt_ohm=shunt_ohm)
        volts = meter_reading_v(PACK, in_hand, probe, chance)
        readings.append(
            Reading(
                module=module, pole=pole, open_after=open_after, shunt_ohm=shunt_ohm, volts=volts
            )
        )
    return readings


def case_of(readings: list[Reading], *, propose: bool = False) -> LocaliseCase:
    return LocaliseCase(
        modules=tuple(Module(name=name, cells=8) for name in NAMES),
        cell_v=3.7,
        meter=METER,
        readings=tuple(readings),
        propose=propose,
    )


def spoiled(at: int, volts: float) -> LocaliseCase:
    readings = taken(SPOTS)
    readings[at] = replace(readings[at], volts=volts)
    return case_of(readings, propose=True)


def volts_at(
    module: str, pole: Pole, open_after: tuple[str, ...], shunt_ohm: float | None
) -> float:
    return taken(((module, pole, open_after, shunt_ohm),))[0].volts


def test_right_readings_are_not_accused() -> None:
    result = localise(case_of(taken(SPOTS)))
    assert not result.inconsistent
    assert result.suspect_reading is None
    assert result.suspect_because is None
    assert result.modules[0].name == "M3"


@pytest.mark.parametrize(
    ("at", "volts", "code"),
    [
        (0, -taken(SPOTS)[0].volts, "sign"),
        (5, -taken(SPOTS)[5].volts, "sign"),
        (1, round(taken(SPOTS)[1].volts / 10.0, 2), "decimal"),
        (7, round(taken(SPOTS)[7].volts * 10.0, 2), "decimal"),
        (0, round(taken(SPOTS)[0].volts + 20.0, 2), "digits"),
        (0, volts_at("M5", "pos", ("M5",), 1.0e6), "shunt"),
        (7, volts_at("M1", "neg", ("M5",), None), "shunt"),
        (0, volts_at("M5", "neg", ("M5",), None), "pole"),
        (6, volts_at("M4", "neg", ("M2", "M3", "M5"), None), "pole"),
        (7, 61.73, "unexplained"),
    ],
)
def test_a_wrong_reading_is_accused_and_said_what_it_was(at: int, volts: float, code: str) -> None:
    result = localise(spoiled(at, volts))
    assert result.inconsistent
    assert result.suspect_reading == at
    assert result.suspect_because is not None
    assert result.suspect_because.code == code
    assert result.suspects[0].reading == at
    assert result.verdict == "undecided"
    assert not result.confirmed
    assert result.modules[0].name == "M3"
    assert "inconsistent_readings" in [each.code for each in result.warnings]


def test_the_accused_reading_is_to_be_taken_again_before_all_else() -> None:
    case = spoiled(0, -60.0)
    again = localise(case).next_readings[0]
    wrong = case.readings[0]
    assert (again.module, again.pole, again.open_after) == ("M5", "pos", ("M5",))
    assert again.shunt_ohm == wrong.shunt_ohm
    assert "again" in again.why


def test_a_repeat_cannot_be_asked_for_where_no_lead_reaches() -> None:
    case = replace(spoiled(0, -60.0), reachable=(), openable=())
    assert all("again" not in each.why for each in localise(case).next_readings)


def test_where_two_readings_contradict_each_other_both_are_suspects() -> None:
    readings = taken(SPOTS[:4])
    readings[1] = replace(readings[1], volts=readings[0].volts * 1.2)
    result = localise(case_of(readings))
    assert result.inconsistent
    assert {each.reading for each in result.suspects[:2]} == {0, 1}


def test_the_repeat_clears_the_matter() -> None:
    readings = taken(SPOTS[:4])
    wrong = replace(readings[1], volts=round(readings[0].volts * 1.2, 2))
    result = localise(case_of([readings[0], wrong, *readings[2:], readings[0], readings[1]]))
    assert result.inconsistent
    assert result.suspect_reading == 1
    assert result.modules[0].name == "M3"


def test_two_wrong_readings_do_not_name_a_module() -> None:
    readings = taken(SPOTS)
    readings[0] = replace(readings[0], volts=-readings[0].volts)
    readings[5] = replace(readings[5], volts=-readings[5].volts)
    result = localise(case_of(readings))
    assert result.inconsistent
    assert result.verdict == "undecided"


def test_slips_share_one_probability() -> None:
    case = case_of(taken(SPOTS))
    frame = frame_of(case)
    for index in range(len(case.readings)):
        slips = slips_of(case, frame, index)
        plain = [each.share for each in slips if each.because.code != "decimal"]
        assert sum(plain) == pytest.approx(0.85)
        assert all(each.share > 0.0 for each in slips)


def test_digits_are_those_of_the_display() -> None:
    readings = taken(SPOTS[:1])
    readings[0] = replace(readings[0], volts=-20.7)
    case = replace(case_of(readings), meter=replace(METER, resolution_v=0.1))
    shown = {
        each.shown_v
        for each in slips_of(case, frame_of(case), 0)
        if each.because.code == "digits" and each.shown_v is not None
    }
    assert {-27.0, -2.7, -20.1, -90.7} <= shown
    assert -20.7 not in shown
    assert len(shown) == 29


def test_of_very_many_readings_the_rest_are_checked_against_the_answer() -> None:
    many = taken(SPOTS * 10)
    clean = localise(case_of(many))
    assert not clean.inconsistent
    assert clean.modules[0].name == "M3"
    assert "many_readings" in [each.code for each in clean.warnings]
    for at in (0, 40, 79):
        readings = list(many)
        readings[at] = replace(readings[at], volts=-readings[at].volts)
        result = localise(case_of(readings))
        assert len(readings) > MOST_READINGS
        assert result.inconsistent
        assert result.suspect_reading == at
        assert np.isfinite([each.probability for each in result.suspects]).all()
