import dataclasses
import json
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packs.calculations import answer
from packs.physics.instrument import Message
from packs.physics.match import MatchCase, MatchLimits, MatchResult, SpareModule, Wanted, match

STRING = Wanted(
    chemistry="nmc",
    part="CB-6",
    cells=6,
    capacity_ah=(60.0, 61.0, 62.0),
    resistance_mohm=(6.0, 6.2, 5.9),
    cell_v=3.700,
    temperature_c=25.0,
)


def a_spare(serial: str = "S1", **others: Any) -> SpareModule:
    fields = {
        "chemistry": "nmc",
        "part": "CB-6",
        "cells": 6,
        "capacity_ah": 60.0,
        "resistance_mohm": 6.0,
        "cell_v": 3.700,
        "temperature_c": 25.0,
        "days_since_test": 0.0,
        **others,
    }
    return SpareModule(serial=serial, **fields)


def matched(*spares: SpareModule, wanted: Wanted = STRING, **limits: float) -> MatchResult:
    return match(MatchCase(wanted=wanted, limits=MatchLimits(**limits), spares=spares))


def codes(messages: tuple[Message, ...]) -> set[str]:
    return {message.code for message in messages}


def text_of(messages: tuple[Message, ...], code: str) -> str:
    return next(message.text for message in messages if message.code == code)


def test_a_spare_like_the_string_keeps_all_its_points() -> None:
    result = matched(a_spare())
    assert result.ranked[0].score == 100.0
    assert result.excluded == ()
    assert codes(result.advice) == {"same_temperature"}


@pytest.mark.parametrize(
    ("others", "code"),
    [
        ({"chemistry": "lfp"}, "other_chemistry"),
        ({"part": "CB-7"}, "other_part"),
        ({"cells": 8}, "other_cells"),
        ({"quarantined": True}, "quarantined"),
        ({"cell_v": 2.4}, "cell_below_minimum"),
        ({"cell_v": 4.3}, "cell_above_maximum"),
        ({"capacity_ah": 56.9}, "capacity_low"),
        ({"capacity_ah": None}, "capacity_unmeasured"),
        ({"capacity_ah": 60_000.0}, "capacity_not_credible"),
        ({"resistance_mohm": 7.3}, "resistance_off"),
        ({"resistance_mohm": 4.7}, "resistance_off"),
        ({"days_since_test": 181.0}, "test_too_old"),
        ({"days_since_test": None}, "test_age_unknown"),
    ],
)
def test_each_hard_rule_excludes_by_itself(others: dict[str, Any], code: str) -> None:
    result = matched(a_spare(**others))
    assert result.ranked == ()
    assert codes(result.excluded[0].reasons) == {code}


@pytest.mark.parametrize(
    "others",
    [
        {"capacity_ah": 57.0},
        {"resistance_mohm": 7.2},
        {"resistance_mohm": 4.8},
        {"days_since_test": 180.0},
        {"part": " cb-6 "},
        {"chemistry": "NMC"},
    ],
)
def test_what_just_fits_is_ranked(others: dict[str, Any]) -> None:
    assert matched(a_spare(**others)).excluded == ()


def test_every_reason_against_a_spare_is_told() -> None:
    worst = a_spare(quarantined=True, part="X", capacity_ah=40.0, days_since_test=900.0)
    assert codes(matched(worst).excluded[0].reasons) == {
        "quarantined",
        "other_part",
        "capacity_low",
        "test_too_old",
    }


def test_a_weaker_spare_limits_the_string_and_a_stronger_is_worth_the_weakest() -> None:
    result = matched(a_spare("weak", capacity_ah=58.0), a_spare("strong", capacity_ah=66.0))
    assert [entry.serial for entry in result.ranked] == ["strong", "weak"]
    strong, weak = (entry.reasons for entry in result.ranked)
    assert "limits the whole string, here to 58 Ah" in text_of(weak, "weaker")
    assert "only worth that: the string keeps 60 Ah, 6 Ah" in text_of(strong, "stronger")


def test_an_unmeasured_resistance_is_ranked_low_and_says_so() -> None:
    result = matched(a_spare("none", resistance_mohm=None), a_spare("far", resistance_mohm=6.9))
    assert [entry.serial for entry in result.ranked] == ["far", "none"]
    assert "resistance_unmeasured" in codes(result.ranked[1].reasons)


def test_resistances_count_only_at_like_temperatures() -> None:
    cold = a_spare(resistance_mohm=9.0, temperature_c=15.0)
    entry = matched(cold).ranked[0]
    assert "15 °C" in text_of(entry.reasons, "resistance_not_compared")
    assert matched(dataclasses.replace(cold, temperature_c=22.0)).ranked == ()
    unknown = matched(a_spare(temperature_c=None)).ranked[0]
    assert "temperature_unknown" in codes(unknown.reasons)


def test_a_difference_in_voltage_costs_little_and_says_how_much_to_move() -> None:
    entry = matched(a_spare(cell_v=3.66)).ranked[0]
    text = text_of(entry.reasons, "voltage")
    assert "40 mV a cell below" in text
    assert re.search(r"roughly [\d.]+ to [\d.]+ Ah have to be charged", text)
    assert entry.score > 95.0


def test_on_a_flat_curve_the_voltage_tells_nothing() -> None:
    string = dataclasses.replace(STRING, chemistry="lfp", cell_v=3.295)
    entry = matched(a_spare(chemistry="lfp", cell_v=3.296), wanted=string).ranked[0]
    assert "knee" in text_of(entry.reasons, "voltage_flat")


def test_cells_that_some_curves_call_empty_are_ranked_low() -> None:
    entry = matched(a_spare(cell_v=2.7)).ranked[0]
    assert "nearly_empty" in codes(entry.reasons)
    assert entry.score < 75.0


def test_a_chemistry_without_a_curve_is_matched_without_its_voltage() -> None:
    string = dataclasses.replace(STRING, chemistry="other")
    entry = matched(a_spare(chemistry="other", cell_v=1.0), wanted=string).ranked[0]
    assert entry.score == 100.0


def test_with_nothing_known_of_the_string_spares_are_compared_with_one_another() -> None:
    string = Wanted(chemistry="nmc", part="CB-6", cells=6)
    weak, strong = a_spare("weak", capacity_ah=40.0), a_spare("strong", resistance_mohm=30.0)
    bare = a_spare("bare", capacity_ah=None, resistance_mohm=None)
    result = matched(weak, strong, bare, wanted=string)
    assert {entry.serial for entry in result.ranked} == {"weak", "strong", "bare"}
    assert "string_unknown" in codes(result.advice)
    assert "compared with one another" in text_of(result.advice, "string_unknown")
    assert matched(bare, wanted=string).ranked[0].score < 75.0


def test_when_nothing_suits_the_advice_says_what_to_look_for_and_what_to_test() -> None:
    result = matched(a_spare("old", days_since_test=400.0), a_spare("weak", capacity_ah=30.0))
    text = text_of(result.advice, "none_suits")
    for words in ('part "CB-6"', "at least 57 Ah", "4.8 to 7.2 mohm", "180 days"):
        assert words in text
    assert "old" in text_of(result.advice, "test_first")
    assert "weak" not in text_of(result.advice, "test_first")
    assert codes(matched().advice) == {"none_suits", "same_temperature"}


def test_a_string_with_one_weak_module_is_pointed_out() -> None:
    string = dataclasses.replace(STRING, capacity_ah=(50.0, 60.0, 61.0))
    assert "50 Ah" in text_of(matched(a_spare(), wanted=string).advice, "weak_string")


def test_two_plates_with_one_serial_are_both_kept_and_pointed_out() -> None:
    result = matched(a_spare("S1"), a_spare("S1", capacity_ah=59.0))
    assert len(result.ranked) == 2
    assert "S1" in text_of(result.advice, "serial_twice")


def test_a_unit_that_was_mistaken_is_pointed_out() -> None:
    string = dataclasses.replace(STRING, capacity_ah=(60_000.0,), resistance_mohm=(0.006,))
    result = matched(a_spare(resistance_mohm=0.006), wanted=string)
    assert codes(result.warnings) == {"unit_suspect"}
    paths = {warning.text.split(" is ")[0] for warning in result.warnings}
    assert {"wanted.capacity_ah.0", "wanted.resistance_mohm.0", "spares.0.capacity_ah"} <= paths
    own = matched(a_spare(resistance_mohm=0.006)).warnings
    assert [warning.text.split(": ")[1] for warning in own] == ["were ohms meant? Enter mohm"]


def serial_of(spare: SpareModule) -> str:
    return spare.serial


figures = st.none() | st.floats(min_value=0.01, max_value=1e5)
spares = st.lists(
    st.builds(
        SpareModule,
        serial=st.text(alphabet="AB12", min_size=1, max_size=4),
        chemistry=st.sampled_from(["nmc", "lfp"]),
        part=st.sampled_from(["CB-6", "CB-7"]),
        cells=st.sampled_from([6, 8]),
        capacity_ah=st.none() | st.floats(min_value=50.0, max_value=70.0) | figures,
        resistance_mohm=st.none() | st.floats(min_value=5.0, max_value=7.0) | figures,
        cell_v=st.none() | st.floats(min_value=0.1, max_value=10.0),
        temperature_c=st.none() | st.floats(min_value=-60.0, max_value=150.0),
        days_since_test=st.none() | st.floats(min_value=0.0, max_value=400.0),
        quarantined=st.booleans(),
    ),
    max_size=8,
    unique_by=serial_of,
)
strings = st.builds(
    Wanted,
    chemistry=st.just("nmc"),
    part=st.just("CB-6"),
    cells=st.just(6),
    capacity_ah=st.lists(st.floats(min_value=55.0, max_value=65.0), max_size=3),
    resistance_mohm=st.lists(st.floats(min_value=5.0, max_value=7.0), max_size=3),
    cell_v=st.none() | st.floats(min_value=0.1, max_value=10.0),
    temperature_c=st.none() | st.floats(min_value=-60.0, max_value=150.0),
)


@given(wanted=strings, given_spares=spares)
def test_every_spare_is_ranked_or_excluded_with_reasons_that_add_up(
    wanted: Wanted, given_spares: list[SpareModule]
) -> None:
    result = matched(*given_spares, wanted=wanted)
    entries = [entry.serial for entry in result.ranked]
    entries += [excluded.serial for excluded in result.excluded]
    assert sorted(entries) == sorted(spare.serial for spare in given_spares)
    scores = [entry.score for entry in result.ranked]
    assert scores == sorted(scores, reverse=True)
    for entry in result.ranked:
        prices = [re.findall(r"Costs ([\d.]+) points", each.text) for each in entry.reasons]
        lost = sum(float(price[0]) for price in prices if price)
        assert entry.score == pytest.approx(max(0.0, 100.0 - lost), abs=0.051)
    assert all(excluded.reasons for excluded in result.excluded)
    assert "nan" not in str(result)


@given(wanted=strings, given_spares=spares, data=st.data())
@settings(max_examples=50)
def test_the_order_in_which_spares_are_given_does_not_matter(
    wanted: Wanted, given_spares: list[SpareModule], data: st.DataObject
) -> None:
    shuffled = data.draw(st.permutations(given_spares))
    assert matched(*shuffled, wanted=wanted).ranked == matched(*given_spares, wanted=wanted).ranked


def test_without_a_measured_resistance_anywhere_there_is_nothing_to_compare() -> None:
    string = dataclasses.replace(STRING, resistance_mohm=())
    assert matched(a_spare(resistance_mohm=None), wanted=string).ranked[0].score == 100.0


def test_a_spare_without_a_voltage_is_to_be_read_and_one_without_capacity_says_percent() -> None:
    assert "voltage_unknown" in codes(matched(a_spare(cell_v=None)).ranked[0].reasons)
    string = dataclasses.replace(STRING, capacity_ah=())
    entry = matched(a_spare(capacity_ah=None, cell_v=3.66), wanted=string).ranked[0]
    assert "% have to be charged" in text_of(entry.reasons, "voltage")


@given(weaker=st.floats(min_value=57.0, max_value=59.9), more=st.floats(0.1, 0.5))
def test_more_capacity_up_to_the_weakest_never_costs_points(weaker: float, more: float) -> None:
    stronger = min(60.0, weaker + more)
    result = matched(a_spare("a", capacity_ah=weaker), a_spare("b", capacity_ah=stronger))
    points = {entry.serial: entry.score for entry in result.ranked}
    assert points["b"] >= points["a"]


def test_the_door_answers_with_reasons_for_people() -> None:
    fields = {
        "wanted": {"chemistry": "nmc", "part": "CB-6", "cells": 6, "capacity_ah": [60]},
        "spares": [
            {"serial": "S1", "chemistry": "nmc", "part": "CB-6", "cells": 6, "quarantined": True}
        ],
    }
    found = json.loads(answer("match", json.dumps(fields).encode()).text)
    assert found["excluded"][0]["reasons"][0]["code"] == "quarantined"
    assert {message["code"] for message in found["advice"]} >= {"none_suits"}
